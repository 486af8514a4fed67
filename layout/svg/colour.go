package svg

import (
	"fmt"
	"math"
	"strings"

	"golang.org/x/image/colornames" // those of SVG 1.1 §4.4
)

// Colour is red, green and blue.
type Colour [3]byte

func (c Colour) String() string { return fmt.Sprintf("#%02x%02x%02x", c[0], c[1], c[2]) }

// ParseColour reads a colour as drawings have them: a name, #rgb, #rrggbb or rgb(…). How opaque it is (#rgba, #rrggbbaa,
// rgba(…)) does not count.
func ParseColour(text string) (Colour, error) {
	c, _, err := parseColour(text)
	return c, err
}

// parseColour also says whether the colour is clear: whether its alpha is 0.
func parseColour(text string) (c Colour, clear bool, err error) {
	s := strings.ToLower(strings.TrimSpace(text))
	if c, clear, ok := hexColour(s); ok {
		return c, clear, nil
	}
	if c, ok := colornames.Map[s]; ok {
		return Colour{c.R, c.G, c.B}, false, nil
	}
	if c, clear, ok := rgbColour(s); ok {
		return c, clear, nil
	}
	return Colour{}, false, fmt.Errorf("%.40q is no colour: one is a name such as lime, #0f0, #00ff00 or rgb(0, 255, 0)", text)
}

func hexColour(s string) (c Colour, clear, ok bool) {
	if !strings.HasPrefix(s, "#") {
		return c, false, false
	}
	var digits []byte
	for _, r := range s[1:] {
		v := strings.IndexRune("0123456789abcdef", r)
		if v < 0 || len(digits) == 8 {
			return c, false, false
		}
		digits = append(digits, byte(v))
	}
	switch len(digits) {
	case 3, 4:
		return Colour{17 * digits[0], 17 * digits[1], 17 * digits[2]}, len(digits) == 4 && digits[3] == 0, true
	case 6, 8:
		return Colour{digits[0]<<4 | digits[1], digits[2]<<4 | digits[3], digits[4]<<4 | digits[5]}, len(digits) == 8 && digits[6]|digits[7] == 0, true
	}
	return c, false, false
}

// rgbColour reads rgb(r, g, b) with whole numbers or percentages, with or without commas, and with or without an alpha
// behind a comma or a stroke.
func rgbColour(s string) (c Colour, clear, ok bool) {
	inner, found := strings.CutPrefix(s, "rgba(")
	if !found {
		if inner, found = strings.CutPrefix(s, "rgb("); !found {
			return c, false, false
		}
	}
	inner, found = strings.CutSuffix(inner, ")")
	if !found {
		return c, false, false
	}
	sc := &scanner{s: inner}
	sc.space()
	for i := range c {
		if i > 0 {
			sc.separator()
		}
		v, err := sc.number()
		if err != nil {
			return c, false, false
		}
		if !sc.done() && sc.s[sc.at] == '%' {
			sc.at++
			v *= 255.0 / 100
		}
		c[i] = byte(math.Round(min(max(v, 0), 255)))
	}
	if sc.space(); sc.done() {
		return c, false, true
	}
	alpha, ok := strings.CutPrefix(inner[sc.at:], "/")
	if !ok {
		alpha, ok = strings.CutPrefix(inner[sc.at:], ",")
	}
	return c, zero(alpha), ok
}

// paint is a value of fill or stroke.
type paint struct {
	none   bool
	clear  bool // its alpha is 0
	known  bool // colour holds it; otherwise a gradient or a pattern
	colour Colour
}

// parsePaint reads a paint. A gradient or pattern may name a colour to take where it fails; that one counts here.
func parsePaint(text string, current paint) (paint, error) {
	s := strings.TrimSpace(text)
	switch low := strings.ToLower(s); {
	case low == "none":
		return paint{none: true}, nil
	case low == "transparent":
		return paint{clear: true}, nil
	case low == "currentcolor":
		return current, nil
	case strings.HasPrefix(low, "url("):
		rest := ""
		if end := strings.IndexByte(s, ')'); end >= 0 {
			rest = strings.TrimSpace(s[end+1:])
		}
		if rest == "" {
			return paint{}, nil
		}
		p, err := parsePaint(rest, current)
		if p.none || p.clear {
			return paint{}, nil
		}
		return p, err
	case low == "context-fill" || low == "context-stroke":
		return paint{}, nil
	}
	c, clear, err := parseColour(s)
	return paint{clear: clear, known: true, colour: c}, err
}

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
	s := strings.ToLower(strings.TrimSpace(text))
	if c, ok := hexColour(s); ok {
		return c, nil
	}
	if c, ok := colornames.Map[s]; ok {
		return Colour{c.R, c.G, c.B}, nil
	}
	if c, ok := rgbColour(s); ok {
		return c, nil
	}
	return Colour{}, fmt.Errorf("%.40q is no colour: one is a name such as lime, #0f0, #00ff00 or rgb(0, 255, 0)", text)
}

func hexColour(s string) (c Colour, ok bool) {
	if !strings.HasPrefix(s, "#") {
		return c, false
	}
	var digits []byte
	for _, r := range s[1:] {
		v := strings.IndexRune("0123456789abcdef", r)
		if v < 0 || len(digits) == 8 {
			return c, false
		}
		digits = append(digits, byte(v))
	}
	switch len(digits) {
	case 3, 4:
		return Colour{17 * digits[0], 17 * digits[1], 17 * digits[2]}, true
	case 6, 8:
		return Colour{digits[0]<<4 | digits[1], digits[2]<<4 | digits[3], digits[4]<<4 | digits[5]}, true
	}
	return c, false
}

// rgbColour reads rgb(r, g, b) with whole numbers or percentages, with or without commas.
func rgbColour(s string) (c Colour, ok bool) {
	inner, found := strings.CutPrefix(s, "rgba(")
	if !found {
		if inner, found = strings.CutPrefix(s, "rgb("); !found {
			return c, false
		}
	}
	inner, found = strings.CutSuffix(inner, ")")
	if !found {
		return c, false
	}
	sc := &scanner{s: inner}
	sc.space()
	for i := range c {
		if i > 0 {
			sc.separator()
		}
		v, err := sc.number()
		if err != nil {
			return c, false
		}
		if !sc.done() && sc.s[sc.at] == '%' {
			sc.at++
			v *= 255.0 / 100
		}
		c[i] = byte(math.Round(min(max(v, 0), 255)))
	}
	sc.space()
	return c, sc.done() || strings.ContainsAny(sc.s[sc.at:sc.at+1], ",/") // how opaque it is
}

// paint is a value of fill or stroke.
type paint struct {
	none   bool
	known  bool // colour holds it; otherwise a gradient or a pattern
	colour Colour
}

// parsePaint reads a paint. A gradient or pattern may name a colour to take where it fails; that one counts here.
func parsePaint(text string, current Colour) (paint, error) {
	s := strings.TrimSpace(text)
	switch low := strings.ToLower(s); {
	case low == "none" || low == "transparent":
		return paint{none: true}, nil
	case low == "currentcolor":
		return paint{known: true, colour: current}, nil
	case strings.HasPrefix(low, "url("):
		rest := ""
		if end := strings.IndexByte(s, ')'); end >= 0 {
			rest = strings.TrimSpace(s[end+1:])
		}
		if rest == "" || strings.EqualFold(rest, "none") {
			return paint{}, nil
		}
		return parsePaint(rest, current)
	case low == "context-fill" || low == "context-stroke":
		return paint{}, nil
	}
	c, err := ParseColour(s)
	return paint{known: true, colour: c}, err
}

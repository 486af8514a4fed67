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

// ParseColour reads a colour as drawings have them: a name, #rgb, #rrggbb, rgb(…) or hsl(…). How opaque it is (#rgba,
// #rrggbbaa, rgba(…)) does not count.
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
	if c, clear, ok := functionColour(s); ok {
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

// functionColour reads rgb(r, g, b) with whole numbers or percentages, and hsl(h, s, l), with or without commas, and with or
// without an alpha behind a comma or a stroke.
func functionColour(s string) (c Colour, clear, ok bool) {
	name, inner, _ := strings.Cut(s, "(")
	inner, closed := strings.CutSuffix(inner, ")")
	name = strings.TrimSuffix(name, "a")
	if !closed || name != "rgb" && name != "hsl" {
		return c, false, false
	}
	sc := &scanner{s: inner}
	sc.space()
	var v [3]float64
	for i := range v {
		if i > 0 {
			sc.separator()
		}
		var err error
		if v[i], err = sc.number(); err != nil {
			return c, false, false
		}
		switch unit := sc.unit(); {
		case unit == "%" && name == "rgb":
			v[i] *= 255.0 / 100
		case unit == "%" && i > 0, unit == "":
		case degrees[unit] > 0 && name == "hsl" && i == 0:
			v[i] *= degrees[unit]
		default:
			return c, false, false
		}
	}
	if name == "hsl" {
		v = fromHSL(v)
	}
	for i := range c {
		c[i] = byte(math.Round(min(max(v[i], 0), 255)))
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

// degrees are the units of angles (CSS Values 4, 6.1; from memory).
var degrees = map[string]float64{"deg": 1, "grad": 0.9, "rad": 180 / math.Pi, "turn": 360}

// unit passes over a unit behind a number.
func (s *scanner) unit() string {
	from := s.at
	for !s.done() && (s.s[s.at] == '%' || s.s[s.at] >= 'a' && s.s[s.at] <= 'z') {
		s.at++
	}
	return s.s[from:s.at]
}

// fromHSL turns a hue in degrees, saturation and lightness in percent to red, green and blue of 255 (CSS Color 4, 7.1; from
// memory).
func fromHSL(v [3]float64) (rgb [3]float64) {
	sat, light := min(max(v[1], 0), 100)/100, min(max(v[2], 0), 100)/100
	for i, n := range [3]float64{0, 8, 4} {
		k := math.Mod(math.Mod(n+v[0]/30, 12)+12, 12)
		rgb[i] = 255 * (light - float64(sat*min(light, 1-light)*max(-1, min(k-3, 9-k, 1))))
	}
	return rgb
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

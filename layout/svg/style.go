package svg

import (
	"math"
	"strings"
)

// style is what is inherited.
type style struct {
	fill, stroke paint
	colour       Colour // currentColor
	width        float64
	evenOdd      bool
	hidden       bool // visibility
	cap, join    string
	limit        float64
	dashed       bool
	clear        bool // a fill that is not seen at all
	clearStroke  bool
}

// initialStyle are the initial values (SVG 1.1, property index; from memory).
var initialStyle = style{fill: paint{known: true}, stroke: paint{none: true}, width: 1, cap: "butt", join: "miter", limit: 4}

// local is what is not inherited.
type local struct {
	gone    bool // display: none, or so transparent that nothing is seen
	unseen  bool // opacity: 0
	clipped bool
}

// styleOf returns what counts for n, inside of what counts around it.
func (w *walker) styleOf(n *node, s style) (style, local) {
	var here local
	each := func(f func(name, value string)) {
		for _, d := range n.attributes {
			f(d.name, d.value)
		}
		for i := range w.doc.rules {
			if r := &w.doc.rules[i]; r.matches(n) {
				for _, d := range r.declarations {
					f(d.name, d.value)
				}
			}
		}
		for _, d := range n.style {
			f(d.name, d.value)
		}
	}
	each(func(name, value string) {
		if name == "color" {
			if c, err := ParseColour(value); err == nil {
				s.colour = c
			}
		}
	})
	each(func(name, value string) {
		if low := strings.ToLower(value); low != "inherit" && low != "unset" {
			w.property(n, &s, &here, name, low)
		}
	})
	here.gone = here.gone || here.unseen
	return s, here
}

func (w *walker) property(n *node, s *style, here *local, name, value string) {
	number := func(whole float64, to *float64) {
		if v, err := parseLength(value, whole); err == nil && v >= 0 {
			*to = v
		} else {
			w.notes.add("values of "+name+" that are not understood, left out", n)
		}
	}
	switch name {
	case "fill":
		s.fill = w.paint(n, value, s.colour)
	case "stroke":
		s.stroke = w.paint(n, value, s.colour)
	case "stroke-width":
		number(math.Hypot(w.doc.View.Width, w.doc.View.Height)/math.Sqrt2, &s.width)
	case "stroke-miterlimit":
		number(0, &s.limit)
	case "stroke-linecap":
		s.cap = value
	case "stroke-linejoin":
		s.join = value
	case "stroke-dasharray":
		s.dashed = value != "none" && strings.Trim(value, "0 ,") != ""
	case "fill-rule":
		s.evenOdd = value == "evenodd"
	case "visibility":
		s.hidden = value != "visible"
	case "display":
		here.gone = value == "none"
	case "opacity":
		here.unseen = zero(value)
	case "fill-opacity":
		s.clear = zero(value)
	case "stroke-opacity":
		s.clearStroke = zero(value)
	case "vector-effect":
		if value != "none" {
			w.notes.add("strokes that do not grow with the drawing (vector-effect), which are taken to grow", n)
		}
	case "marker", "marker-start", "marker-mid", "marker-end":
		if value != "none" {
			w.notes.add("markers, left out", n)
		}
	case "clip-path", "mask", "filter":
		here.clipped = here.clipped || value != "none"
	case "width", "height":
		if n.name != "rect" && n.name != "image" && n.name != "use" { // of others it says how text breaks, or how large a browser shows the drawing
			return
		}
		fallthrough
	default:
		w.notes.add("places that a style says ("+name+"), which are not understood, left out", n)
	}
}

// zero reports whether an opacity is 0.
func zero(value string) bool {
	v, err := parseLength(value, 1)
	return err == nil && v <= 0
}

func (w *walker) paint(n *node, value string, current Colour) paint {
	p, err := parsePaint(value, current)
	if err != nil {
		w.notes.add("colours that are not understood: they map to no layer by colour", n)
		return paint{}
	}
	return p
}

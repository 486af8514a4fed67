package svg

import (
	"math"
	"strings"
)

// style is what is inherited.
type style struct {
	fill, stroke paint
	colour       paint // currentColor
	width        float64
	evenOdd      bool
	hidden       bool // visibility
	cap, join    string
	limit        float64
	dashed       bool
	clear        bool // fill-opacity: 0
	clearStroke  bool // stroke-opacity: 0
}

// filled reports whether a fill is seen.
func (s *style) filled() bool { return !s.fill.none && !s.fill.clear && !s.clear }

// stroked reports whether a stroke is seen.
func (s *style) stroked() bool {
	return !s.stroke.none && !s.stroke.clear && !s.clearStroke && s.width > 0
}

// initialStyle are the initial values (SVG 1.1, property index; from memory).
var initialStyle = style{fill: paint{known: true}, stroke: paint{none: true}, colour: paint{known: true}, width: 1, cap: "butt", join: "miter", limit: 4}

// local is what is not inherited.
type local struct {
	gone    bool // display: none
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
			if p, err := parsePaint(value, s.colour); err == nil && !p.none {
				s.colour = p
			}
		}
	})
	each(func(name, value string) {
		if low := strings.ToLower(value); low != "inherit" && low != "unset" {
			w.property(n, &s, &here, name, low)
		}
	})
	return s, here
}

// leftOut reports whether nothing of n and of what is in it is seen, and notes it.
func (w *walker) leftOut(n *node, here local) bool {
	switch {
	case here.gone:
		w.notes.add("hidden elements, left out", n)
	case here.unseen:
		count, ok := w.unseenIn[n]
		if !ok { // use may lead here again and again
			if w.unseenIn == nil {
				w.unseenIn = map[*node]int{}
			}
			count = n.drawing()
			w.unseenIn[n] = count
		}
		w.notes.count(transparent, count, n)
	}
	return here.gone || here.unseen
}

// unseen notes why c, of which neither fill nor stroke is seen, draws nothing.
func (w *walker) unseen(c *context) {
	s := &c.style
	if !s.fill.none && c.node.name != "line" || !s.stroke.none && s.width > 0 {
		w.notes.add(transparent, c.node)
	} else {
		w.notes.add("elements without fill and stroke, left out", c.node)
	}
}

// transparent is the note of what draws nothing since an alpha or an opacity is 0.
const transparent = "transparent elements (alpha or opacity 0), left out"

// drawing counts the elements that draw: n, or those in it.
func (n *node) drawing() (count int) {
	if n.outline != nil || n.name == "text" || n.name == "tspan" || n.name == "use" {
		return 1
	}
	for _, child := range n.children {
		if child.name != "defs" && child.name != "symbol" {
			count += child.drawing()
		}
	}
	return count
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
	case "color": // already known
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

func (w *walker) paint(n *node, value string, current paint) paint {
	p, err := parsePaint(value, current)
	if err != nil {
		w.notes.add("colours that are not understood: they map to no layer by colour", n)
		return paint{}
	}
	return p
}

package svg

import (
	"encoding/xml"
	"fmt"
	"math"
	"strings"

	"undermetal/layout/geom"
)

// take reads the attributes of an element.
func (p *parser) take(n *node, attributes []xml.Attr) error {
	e := &elementParser{parser: p, node: n, plain: map[string]string{}}
	if len(p.open) > 0 {
		n.preserve = p.open[len(p.open)-1].preserve
	}
	for _, a := range attributes {
		name := a.Name.Local
		switch {
		case a.Name.Space == "xml" || strings.HasSuffix(a.Name.Space, "/XML/1998/namespace"):
			if name == "space" {
				n.preserve = a.Value == "preserve"
			}
		case name == "label":
			n.label = strings.Clone(a.Value)
		case name == "href":
			n.href = hrefOf(a.Value)
		case a.Name.Space != "":
		case name == "id":
			n.id = a.Value
		case name == "class":
			n.classes = strings.Fields(a.Value)
		case name == "style":
			n.style = parseDeclarations(a.Value)
		case name == "transform":
			m, err := parseTransform(a.Value)
			if err != nil {
				return e.wrong("transform", err)
			}
			n.matrix = m
		case properties[name]:
			n.attributes = append(n.attributes, declaration{name, strings.TrimSpace(a.Value)})
		case strings.HasPrefix(name, "data-"):
			if n.data == nil {
				n.data = map[string]string{}
			}
			n.data[name[5:]] = a.Value
		default:
			e.plain[name] = a.Value
		}
	}
	return e.geometry()
}

// hrefOf shortens a picture that lies in the drawing itself to nothing.
func hrefOf(value string) string {
	if strings.HasPrefix(value, "data:") {
		return ""
	}
	return strings.TrimSpace(value)
}

// elementParser reads the attributes that say where an element lies.
type elementParser struct {
	*parser
	node  *node
	plain map[string]string
	err   error
}

func (e *elementParser) wrong(attribute string, err error) error {
	return e.doc.fail(e.node, correct, "attribute %s, %v", attribute, err)
}

func (e *elementParser) geometry() error {
	n := e.node
	switch n.name {
	case "path":
		outline, err := parsePath(e.plain["d"])
		if err != nil {
			return e.wrong("d", err)
		}
		n.outline = outline
	case "polygon", "polyline":
		return e.points(n.name == "polygon")
	case "line":
		n.outline = &path{}
		n.outline.add('M', geom.Vec{X: e.x("x1"), Y: e.y("y1")})
		n.outline.add('L', geom.Vec{X: e.x("x2"), Y: e.y("y2")})
	case "rect":
		e.rect()
	case "circle":
		r := e.length("r", math.Hypot(e.doc.View.Width, e.doc.View.Height)/math.Sqrt2)
		e.ellipse(r, r)
	case "ellipse":
		e.ellipse(e.x("rx"), e.y("ry"))
	case "svg", "symbol", "use", "image":
		e.viewport()
	case "text", "tspan":
		e.anchor()
	}
	return e.err
}

// length reads a length, 0 where there is none.
func (e *elementParser) length(name string, whole float64) float64 {
	text, ok := e.plain[name]
	if !ok || strings.TrimSpace(text) == "auto" {
		return 0
	}
	v, err := parseLength(text, whole)
	if err != nil && e.err == nil {
		e.err = e.wrong(name, err)
	}
	return v
}

func (e *elementParser) x(name string) float64 { return e.length(name, e.doc.View.Width) }
func (e *elementParser) y(name string) float64 { return e.length(name, e.doc.View.Height) }

func (e *elementParser) points(closed bool) error {
	s := &scanner{s: e.plain["points"]}
	v, err := s.list()
	if err == nil && len(v)%2 != 0 {
		err = s.fail("an odd number of coordinates")
	}
	if err != nil {
		return e.wrong("points", err)
	}
	o := &path{}
	for i := 0; i < len(v); i += 2 {
		step := byte('L')
		if i == 0 {
			step = 'M'
		}
		o.add(step, geom.Vec{X: v[i], Y: v[i+1]})
	}
	if closed && len(v) > 0 {
		o.add('Z')
	}
	e.node.outline = o
	return nil
}

func (e *elementParser) negative(name string, v float64) bool {
	if v < 0 && e.err == nil {
		e.err = e.wrong(name, fmt.Errorf("%g: there are no negative lengths", v))
	}
	return v < 0
}

func (e *elementParser) rect() {
	x, y, w, h := e.x("x"), e.y("y"), e.x("width"), e.y("height")
	o := &path{}
	e.node.outline = o
	if e.negative("width", w) || e.negative("height", h) || w == 0 || h == 0 {
		return
	}
	rx, ry := e.x("rx"), e.y("ry")
	if _, ok := e.plain["rx"]; !ok {
		rx = ry
	}
	if _, ok := e.plain["ry"]; !ok {
		ry = rx
	}
	rx, ry = min(max(rx, 0), w/2), min(max(ry, 0), h/2)
	if rx == 0 || ry == 0 {
		rx, ry = 0, 0
	}
	at := geom.Vec{X: x + rx, Y: y}
	o.add('M', at)
	to := func(tx, ty float64, corner bool) {
		p := geom.Vec{X: tx, Y: ty}
		if corner {
			if rx > 0 {
				o.arcTo(at, rx, ry, 0, false, true, p)
			}
		} else if p != at {
			o.add('L', p)
		}
		at = p
	}
	to(x+w-rx, y, false)
	to(x+w, y+ry, true)
	to(x+w, y+h-ry, false)
	to(x+w-rx, y+h, true)
	to(x+rx, y+h, false)
	to(x, y+h-ry, true)
	to(x, y+ry, false)
	to(x+rx, y, true)
	o.add('Z')
}

func (e *elementParser) ellipse(rx, ry float64) {
	c := geom.Vec{X: e.x("cx"), Y: e.y("cy")}
	o := &path{}
	e.node.outline = o
	if e.negative("radius", min(rx, ry)) || rx == 0 || ry == 0 {
		return
	}
	begin := geom.Vec{X: c.X + rx, Y: c.Y}
	o.add('M', begin)
	o.add('A', c, geom.Vec{X: rx}, geom.Vec{Y: ry}, geom.Vec{Y: 2 * math.Pi}, begin)
	o.add('Z')
}

func (e *elementParser) viewport() {
	v := &viewport{x: e.x("x"), y: e.y("y"), width: e.x("width"), height: e.y("height"), aspect: e.plain["preserveAspectRatio"]}
	e.node.box = v
	if e.err != nil || e.negative("width", v.width) || e.negative("height", v.height) {
		return
	}
	set := func(name string) bool { s := strings.TrimSpace(e.plain[name]); return s != "" && s != "auto" }
	v.hasWidth, v.hasHeight = set("width"), set("height")
	if text, ok := e.plain["viewBox"]; ok {
		var err error
		if v.view, v.hasView, err = parseViewBox(text); err != nil {
			e.err = e.wrong("viewBox", err)
		}
	}
	if len(e.open) > 0 { // not the outermost
		return
	}
	e.doc.View = Box{Width: v.width, Height: v.height}
	if v.hasView {
		e.doc.View = v.view
	}
	if text, ok := e.node.data["um-per-unit"]; ok {
		um, err := parseLength(text, 0)
		if err == nil && !(um >= 1e-9 && um <= 1e9) {
			err = fmt.Errorf("%.20q: a unit has a size in µm", text)
		}
		if err != nil && e.err == nil {
			e.err = e.wrong("data-um-per-unit", err)
		}
		e.doc.UmPerUnit = um
	}
}

func (e *elementParser) anchor() {
	first := func(name string, whole float64) (v float64, ok bool) {
		text := strings.TrimSpace(e.plain[name])
		if text == "" {
			return 0, false
		}
		if end := strings.IndexAny(text, " ,\t\r\n"); end > 0 {
			text = text[:end]
		}
		v, err := parseLength(text, whole)
		if err != nil { // such as 1em, of a font that nobody knows here
			e.doc.notes.add("places of text that are not understood ("+name+"), left out", e.node)
			return 0, false
		}
		return v, true
	}
	a := &anchor{}
	a.x, a.hasX = first("x", e.doc.View.Width)
	a.y, a.hasY = first("y", e.doc.View.Height)
	a.dx, _ = first("dx", e.doc.View.Width)
	a.dy, _ = first("dy", e.doc.View.Height)
	e.node.at = a
}

// inner returns the map from the units inside an svg or symbol to those around it. whole is the size of what is not said.
func (n *node) inner(whole Box) matrix {
	b := n.box
	to := Box{b.x, b.y, b.width, b.height}
	if !b.hasWidth {
		to.Width = whole.Width
	}
	if !b.hasHeight {
		to.Height = whole.Height
	}
	if !b.hasView || to.Width <= 0 || to.Height <= 0 {
		return translate(b.x, b.y)
	}
	return fit(b.view, to, b.aspect)
}

// Pixels returns the map from the drawing's units to the pixels of a picture of so many: (0, 0) is the outer corner of
// its top left pixel, y points downward.
func (im *Image) Pixels(width, height int) (func(geom.Vec) geom.Vec, error) {
	to, w, h := im.Box, float64(width), float64(height)
	switch { // what is not said follows from the picture
	case to.Width == 0 && to.Height == 0:
		to.Width, to.Height = w, h
	case to.Width == 0:
		to.Width = to.Height * w / h
	case to.Height == 0:
		to.Height = to.Width * h / w
	}
	m, ok := fit(Box{Width: w, Height: h}, to, im.aspect).then(im.matrix).inverse()
	if !ok {
		return nil, fmt.Errorf("line %d: the picture in the drawing has no size", im.Line)
	}
	return m.apply, nil
}

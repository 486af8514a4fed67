package svg

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// maxMembers bounds the members of an array: each is an element.
const maxMembers = 1 << 20

// palette is the colour-blind-safe set of Okabe and Ito (2008; from memory), black last.
var palette = [8]string{"#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#f0e442", "#000000"}

// Write writes a library. top is the cell that is shown; nil: the first one that no other places. colour gives the colour
// of a layer as #rrggbb; nil, or an empty answer: one of a colour-blind-safe set.
//
// Units are µm, written to the nanometre, so that every place comes back as it was; the matrices of placements are written
// to the last bit. y is flipped coordinate by coordinate, not by a transform, so that text stands upright and an editor
// shows the places that undermetal shows, but for the sign of y.
//
// stated says of a shape how uncertain its edges are and which photograph it was traced over, which is written as
// data-sigma-nm and data-shot; nil: nothing is.
//
// Errors are of type *Error, or come from out.
func Write(out io.Writer, lib *layout.Library, top *layout.Cell, colour func(layout.Layer) string, stated func(*layout.Shape) layout.Stated) error {
	w := &writer{out: bufio.NewWriterSize(out, 1<<16), lib: lib, top: top, colour: colour, stated: stated, ids: map[*layout.Cell]string{}}
	if err := w.check(); err != nil {
		return err
	}
	w.begin()
	w.traced()
	if w.top != nil {
		w.drawn(w.top)
	}
	w.text("<defs>\n")
	for _, c := range lib.Cells {
		if c != w.top {
			w.drawn(c)
		}
	}
	w.text("</defs>\n</svg>\n")
	return w.out.Flush()
}

// writer writes elements; an error of the stream below stays in out until it is flushed.
type writer struct {
	out    *bufio.Writer
	lib    *layout.Library
	top    *layout.Cell
	colour func(layout.Layer) string
	stated func(*layout.Shape) layout.Stated
	ids    map[*layout.Cell]string
	box    geom.Rect // of all that is drawn
	size   int       // how high letters are in nm, where there is room
	buf    []byte
}

func (w *writer) text(s string) { w.out.WriteString(s) }

func (w *writer) printf(format string, args ...any) { fmt.Fprintf(w.out, format, args...) }

// escaped is s as it may stand in text and in attributes.
func escaped(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s))
	return b.String()
}

func (w *writer) begin() {
	view := w.box
	if view.Empty() {
		view = geom.Box(0, 0, 1000, 1000)
	}
	margin := max(view.Width(), view.Height())/50 + 1
	x, y := w.um(view.Min.X-margin), w.um(-view.Max.Y-margin)
	width, height := w.um(view.Width()+2*margin), w.um(view.Height()+2*margin)
	w.text(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	w.printf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="%s %s %s %s" data-um-per-unit="1" data-name="%s" stroke="none" font-family="sans-serif" font-size="16">`+"\n",
		x, y, width, height, escaped(w.lib.Name))
	w.size = max(view.Width(), view.Height()) / 40
}

func (w *writer) um(nm int) string { return string(geom.AppendUm(nil, nm)) }

func (w *writer) layerColour(l layout.Layer) string {
	if w.colour != nil {
		if c := w.colour(l); c != "" {
			return escaped(c)
		}
	}
	return palette[int(l)%len(palette)]
}

// drawn writes a cell: a group for each layer, then what it places, then its labels, so that nothing lies over them. That of
// the cell that is shown has a group for every layer, in the library's order, and their names for ids.
func (w *writer) drawn(c *layout.Cell) {
	w.printf("<g id=\"%s\" data-cell=\"%s\">\n", w.ids[c], escaped(c.Name))
	shapes := make([][]int, len(w.lib.Layers))
	for i := range c.Shapes {
		shapes[c.Shapes[i].Layer] = append(shapes[c.Shapes[i].Layer], i)
	}
	for l, name := range w.lib.Layers {
		if len(shapes[l]) == 0 && c != w.top {
			continue
		}
		colour := w.layerColour(layout.Layer(l))
		id := ""
		if c == w.top && isName(name) && !strings.HasPrefix(name, "cell-") && name != "traced-areas" && slices.Index(w.lib.Layers, name) == l {
			id = ` id="` + name + `"`
		}
		w.printf("<g%s data-layer=\"%s\" fill=\"%s\" fill-opacity=\"0.6\"><title>%[2]s</title>\n", id, escaped(name), colour)
		for _, i := range shapes[l] {
			w.polygon(c.Shapes[i].Polygon, w.attributes(&c.Shapes[i]))
		}
		w.text("</g>\n")
	}
	for i := range c.Placements {
		w.placement(&c.Placements[i])
	}
	w.labels(c)
	w.text("</g>\n")
}

// isName reports whether s may be an id (a name of XML without a colon, of ASCII letters and digits).
func isName(s string) bool {
	for i, r := range s {
		letter := r == '_' || r|0x20 >= 'a' && r|0x20 <= 'z'
		if !letter && (i == 0 || !(r == '-' || r == '.' || r >= '0' && r <= '9')) {
			return false
		}
	}
	return s != ""
}

// attributes are what is said of a shape.
func (w *writer) attributes(s *layout.Shape) (text string) {
	if w.stated == nil {
		return ""
	}
	said := w.stated(s)
	if said.HasSigma {
		text += `data-sigma-nm="` + exact(said.SigmaNm) + `" `
	}
	if said.Shot != "" {
		text += `data-shot="` + escaped(said.Shot) + `" `
	}
	return text
}

// polygon writes a path. Rings of fewer than three points cover nothing and are left out.
func (w *writer) polygon(pg geom.Polygon, attributes string) {
	b := append(w.buf[:0], `<path `...)
	b = append(b, attributes...)
	b = append(b, `d="`...)
	empty := true
	for _, r := range pg {
		if len(r) < 3 {
			continue
		}
		empty = false
		for i, p := range r {
			switch i {
			case 0:
				b = append(b, 'M')
			case 1:
				b = append(b, 'L')
			default:
				b = append(b, ' ')
			}
			b = geom.AppendUm(b, p.X)
			b = append(b, ' ')
			b = geom.AppendUm(b, -p.Y)
		}
		b = append(b, 'Z')
	}
	b = append(b, "\"/>\n"...)
	if !empty {
		w.out.Write(b)
	}
	w.buf = b
}

func (w *writer) placement(p *layout.Placement) {
	name := ""
	if p.Name != "" {
		name = ` data-instance="` + escaped(p.Name) + `"`
	}
	columns, rows := p.Members()
	if columns == 1 && rows == 1 {
		w.use(p, 0, 0, name)
		return
	}
	w.printf("<g data-array=\"%d %d %s %s %s %s\"%s>\n", columns, rows, exact(p.ColumnExtent.X), exact(p.ColumnExtent.Y), exact(p.RowExtent.X), exact(p.RowExtent.Y), name)
	for r := range rows {
		for c := range columns {
			w.use(p, c, r, "")
		}
	}
	w.text("</g>\n")
}

func (w *writer) use(p *layout.Placement, column, row int, name string) {
	xx, xy, yx, yy, dx, dy := p.Member(column, row).Matrix()
	w.printf("<use href=\"#%s\" transform=\"matrix(%s %s %s %s %s %s)\"%s/>\n", w.ids[p.Cell],
		exact(xx), exact(-yx), exact(-xy), exact(yy), exactUm(dx), exactUm(-dy), name)
}

// exact writes a number so that it is read as the same.
func exact(v float64) string {
	if v == 0 {
		return "0" // not -0
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

// exactUm writes nm as µm.
func exactUm(nm float64) string {
	if nm == math.Trunc(nm) {
		return string(geom.AppendUm(nil, int(nm)))
	}
	return exact(nm / 1000)
}

// traced writes the traced areas, as outlines below all else. Each layer has a group, so that the order of layers is that of
// the library.
func (w *writer) traced() {
	if len(w.lib.Traced) == 0 {
		return
	}
	areas := make([][]int, len(w.lib.Layers))
	for i := range w.lib.Traced {
		areas[w.lib.Traced[i].Layer] = append(areas[w.lib.Traced[i].Layer], i)
	}
	w.printf("<g id=\"traced-areas\" data-traced=\"\" fill=\"none\" stroke=\"#666666\" stroke-width=\"%s\"><title>traced areas</title>\n", w.um(w.size/10+1))
	for l, name := range w.lib.Layers {
		w.printf("<g data-layer=\"%s\">\n", escaped(name))
		for _, i := range areas[l] {
			w.polygon(w.lib.Traced[i].Polygon, "")
		}
		w.text("</g>\n")
	}
	w.text("</g>\n")
}

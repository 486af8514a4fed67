package geojson

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"unicode/utf8"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// units is what a file says of its positions: RFC 7946, section 4, lets the parties agree.
const units = "micrometres on a die, x to the right, y up; not longitude and latitude (by prior arrangement, RFC 7946 section 4)"

// Write writes a cell with all that it places, flattened, and the library's traced areas. top nil: the first cell that no
// other places. more gives further properties of a drawn shape, such as where it comes from; nil: none. They come after
// our own and must not have their names.
//
// Errors are of type *Error, or come from out or more.
func Write(out io.Writer, lib *layout.Library, top *layout.Cell, more func(*layout.Shape) map[string]any) error {
	w := &writer{out: bufio.NewWriterSize(out, 1<<16), lib: lib, more: more}
	if top == nil {
		if tops := lib.Tops(); len(tops) > 0 {
			top = tops[0]
		} else {
			top = &layout.Cell{}
		}
	}
	flat, err := w.check(top)
	if err != nil {
		return err
	}
	if err := w.begin(top); err != nil {
		return err
	}
	flat.Shapes(func(s *layout.Shape, t geom.Transform) bool {
		err = w.shape(s, t.ApplyPolygon(s.Polygon), false)
		return err == nil
	})
	for i := range lib.Traced {
		if err == nil {
			err = w.shape(&lib.Traced[i], lib.Traced[i].Polygon, true)
		}
	}
	flat.Labels(func(l *layout.Label, at geom.Point, path string) {
		if err == nil {
			err = w.label(l, at, path)
		}
	})
	if err != nil {
		return err
	}
	w.out.WriteString("\n]}\n")
	return w.out.Flush()
}

// writer writes features; an error of the stream below stays in out until it is flushed.
type writer struct {
	out   *bufio.Writer
	lib   *layout.Library
	more  func(*layout.Shape) map[string]any
	names [][]byte // of the layers, quoted
	count int
	buf   []byte
}

func fault(remedy, format string, args ...any) error {
	return &Error{Offset: -1, Text: fmt.Sprintf(format, args...), Remedy: remedy}
}

func (w *writer) check(top *layout.Cell) (*layout.Flat, error) {
	if err := w.lib.CheckCycles(); err != nil {
		return nil, fault("remove one of these placements", "%v", err)
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, fault(moveNearer, "%v", err)
	}
	for i := range w.lib.Traced {
		if b := w.lib.Traced[i].Polygon.Bounds(); !b.Empty() && !(b.Min.InFrame() && b.Max.InFrame()) {
			return nil, fault(moveNearer, "a traced area reaches outside the frame of ±%.3f µm", geom.Limit/1e3)
		}
	}
	for _, name := range w.lib.Layers {
		if name == "" || !utf8.ValidString(name) {
			return nil, fault("rename it, in UTF-8", "a layer is called %q", name)
		}
		quoted, err := json.Marshal(name)
		if err != nil {
			return nil, err
		}
		w.names = append(w.names, quoted)
	}
	return flat, nil
}

func (w *writer) begin(top *layout.Cell) error {
	head := struct {
		Type   string   `json:"type"`
		Name   string   `json:"name"`
		Units  string   `json:"units"`
		Layers []string `json:"layers"`
	}{"FeatureCollection", top.Name, units, append([]string{}, w.lib.Layers...)}
	b, err := json.Marshal(head)
	if err != nil {
		return err
	}
	w.out.Write(b[:len(b)-1])
	w.out.WriteString(`,"features":[`)
	return nil
}

// layer returns the quoted name of a layer.
func (w *writer) layer(l layout.Layer) ([]byte, error) {
	if int(l) >= len(w.names) {
		return nil, fault("add the layer to the library", "layer %d of a library with %d", l, len(w.names))
	}
	return w.names[l], nil
}

// feature begins a feature with its layer.
func (w *writer) feature(l layout.Layer) error {
	name, err := w.layer(l)
	if err != nil {
		return err
	}
	if w.count++; w.count > 1 {
		w.out.WriteByte(',')
	}
	w.out.WriteString("\n{\"type\":\"Feature\",\"properties\":{\"layer\":")
	w.out.Write(name)
	return nil
}

// shape writes a polygon. One that covers nothing is left out.
func (w *writer) shape(s *layout.Shape, pg geom.Polygon, traced bool) error {
	var whole geom.Polygon
	for _, r := range pg {
		if len(r) >= 3 {
			whole = append(whole, r)
		}
	}
	var list []part
	if len(whole) > 0 {
		list = parts(whole)
	}
	if len(list) == 0 {
		return nil
	}
	if err := w.feature(s.Layer); err != nil {
		return err
	}
	if traced {
		w.out.WriteString(`,"traced":true`)
	} else if w.more != nil {
		if err := w.properties(w.more(s)); err != nil {
			return err
		}
	}
	b := append(w.buf[:0], `},"geometry":{"type":"Polygon","coordinates":`...)
	if len(list) > 1 {
		b = append(w.buf[:0], `},"geometry":{"type":"MultiPolygon","coordinates":[`...)
	}
	for i, p := range list {
		if i > 0 {
			b = append(b, ',')
		}
		b = appendPart(b, p)
	}
	if len(list) > 1 {
		b = append(b, ']')
	}
	b = append(b, "}}"...)
	w.out.Write(b)
	w.buf = b
	return nil
}

// properties writes further properties, in the order of their names.
func (w *writer) properties(more map[string]any) error {
	if len(more) == 0 {
		return nil
	}
	b, err := json.Marshal(more)
	if err != nil {
		return fmt.Errorf("properties of a shape: %w", err)
	}
	w.out.WriteByte(',')
	w.out.Write(b[1 : len(b)-1])
	return nil
}

func appendPart(b []byte, p part) []byte {
	b = append(b, '[')
	for i, r := range p {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(b, '[')
		for _, q := range r {
			b = append(appendPosition(b, q), ',')
		}
		b = append(appendPosition(b, r[0]), ']')
	}
	return append(b, ']')
}

func appendPosition(b []byte, p geom.Point) []byte {
	b = geom.AppendUm(append(b, '['), p.X)
	b = geom.AppendUm(append(b, ','), p.Y)
	return append(b, ']')
}

func (w *writer) label(l *layout.Label, at geom.Point, path string) error {
	if !at.InFrame() {
		return fault(moveNearer, "label %q is outside the frame of ±%.3f µm", l.Text, geom.Limit/1e3)
	}
	if l.Text == "" || !utf8.ValidString(l.Text) || !utf8.ValidString(path) {
		return fault("give it a text in UTF-8", "a label %q in instance %q", l.Text, path)
	}
	if err := w.feature(l.Layer); err != nil {
		return err
	}
	text, err := json.Marshal(l.Text)
	if err != nil {
		return err
	}
	w.out.WriteString(`,"label":`)
	w.out.Write(text)
	if path != "" {
		if text, err = json.Marshal(path); err != nil {
			return err
		}
		w.out.WriteString(`,"path":`)
		w.out.Write(text)
	}
	w.out.WriteString(`},"geometry":{"type":"Point","coordinates":`)
	w.buf = append(appendPosition(w.buf[:0], at), "}}"...)
	w.out.Write(w.buf)
	return nil
}

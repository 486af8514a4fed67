package svg

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"undermetal/layout"
	"undermetal/layout/geom"
)

func fault(c *layout.Cell, remedy, format string, args ...any) error {
	e := &Error{Text: fmt.Sprintf(format, args...), Remedy: remedy}
	if c != nil {
		e.Element = "cell " + c.Name
	}
	return e
}

// check makes sure that all can be written before anything is.
func (w *writer) check() error {
	if tops := w.lib.Tops(); w.top == nil && len(tops) > 0 {
		w.top = tops[0]
	}
	if err := checkText(nil, "library name", w.lib.Name); err != nil {
		return err
	}
	for _, name := range w.lib.Layers {
		if err := checkText(nil, "layer name", name); err != nil {
			return err
		}
	}
	names := map[string]bool{}
	for i, c := range w.lib.Cells {
		if err := checkText(c, "cell name", c.Name); err != nil {
			return err
		}
		if names[c.Name] {
			return fault(nil, "rename one of them", "two cells %q", c.Name)
		}
		names[c.Name] = true
		w.ids[c] = "cell-" + strconv.Itoa(i+1)
	}
	if w.top != nil && w.ids[w.top] == "" {
		return fault(nil, "add that cell to the library", "cell %q is to be shown, which the library does not contain", w.top.Name)
	}
	for _, c := range w.lib.Cells {
		if err := w.checkCell(c); err != nil {
			return err
		}
	}
	for i := range w.lib.Traced {
		if err := w.checkShape(nil, &w.lib.Traced[i]); err != nil {
			return err
		}
	}
	if err := w.lib.CheckCycles(); err != nil {
		return fault(nil, "remove one of these placements", "%v", err)
	}
	w.box = geom.EmptyRect()
	if w.top != nil {
		f, err := layout.Flatten(w.top)
		if err != nil {
			return fault(nil, "move the drawing nearer to the origin", "%v", err)
		}
		w.box = f.Bounds()
	}
	for i := range w.lib.Traced {
		w.box = w.box.Union(w.lib.Traced[i].Polygon.Bounds())
	}
	return nil
}

func (w *writer) checkCell(c *layout.Cell) error {
	for i := range c.Shapes {
		if err := w.checkShape(c, &c.Shapes[i]); err != nil {
			return err
		}
	}
	for i := range c.Labels {
		l := &c.Labels[i]
		if int(l.Layer) >= len(w.lib.Layers) {
			return fault(c, "add the layer to the library", "layer %d of a library with %d", l.Layer, len(w.lib.Layers))
		}
		if err := checkText(c, "label", l.Text); err != nil {
			return err
		}
		if !l.At.InFrame() {
			return fault(c, "move the drawing nearer to the origin", "label %q is outside the frame of ±%.3f µm", l.Text, geom.Limit/1e3)
		}
	}
	for i := range c.Placements {
		p := &c.Placements[i]
		columns, rows := p.Members()
		_, _, _, _, dx, dy := p.Transform.Matrix()
		switch {
		case p.Cell == nil:
			return fault(c, "name the cell that is placed, or remove the placement", "a placement without a cell")
		case w.ids[p.Cell] == "":
			return fault(c, "add that cell to the library", "a placement of cell %q, which the library does not contain", p.Cell.Name)
		case columns > maxMembers || rows > maxMembers || columns*rows > maxMembers:
			return fault(c, "split the array, or export another format", "an array of %d × %d placements of cell %q: each would be an element; at most %d", columns, rows, p.Cell.Name, maxMembers)
		case !(math.Abs(dx) <= geom.Limit && math.Abs(dy) <= geom.Limit):
			return fault(c, "move the drawing nearer to the origin", "a placement of cell %q is outside the frame of ±%.3f µm", p.Cell.Name, geom.Limit/1e3)
		}
		if err := checkText(c, "name of a placement", p.Name); p.Name != "" && err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) checkShape(c *layout.Cell, s *layout.Shape) error {
	if int(s.Layer) >= len(w.lib.Layers) {
		return fault(c, "add the layer to the library", "layer %d of a library with %d", s.Layer, len(w.lib.Layers))
	}
	if b := s.Polygon.Bounds(); !b.Empty() && !(b.Min.InFrame() && b.Max.InFrame()) {
		return fault(c, "move the drawing nearer to the origin", "layer %s: a shape reaches outside the frame of ±%.3f µm", w.lib.Layers[s.Layer], geom.Limit/1e3)
	}
	return nil
}

func checkText(c *layout.Cell, what, s string) error {
	bad := !utf8.ValidString(s) || strings.ContainsFunc(s, func(r rune) bool { return !unicode.IsPrint(r) && !unicode.IsSpace(r) || r == '\v' || r == '\f' })
	if bad {
		return fault(c, "use printable characters in UTF-8", "%s %q has characters that cannot be printed", what, s)
	}
	return nil
}

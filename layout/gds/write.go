package gds

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Limits of the format.
const (
	maxText   = maxRecord - 1 - headSize   // bytes of a string, even
	maxPoints = (maxRecord - headSize) / 8 // of an XY record
	maxCorner = maxPoints - 1              // of a boundary, which repeats its first point
	maxCounts = math.MaxInt16              // columns, rows
	maxSingle = 1 << 20                    // members of an array that are written one by one
	exactNm   = 1e-6                       // an extent this near to the steps of an AREF is that of the AREF
)

// Write writes a library as a stream with a database unit of 1 nm. pairs and labelPairs say what the stream calls a
// layer, for shapes and for labels. Equal libraries give equal bytes: the dates are all 1 January 1970.
//
// A polygon of several rings becomes as many boundaries as it needs, holes joined to their surroundings by slits of
// no width. Rings of fewer than three points cover nothing and are left out. An array whose steps an AREF can give
// exactly is written as one, any other as single placements, each where it is. Traced areas and the names of
// placements have no place in the format.
//
// Errors are of type *Error, or come from w.
func Write(w io.Writer, lib *layout.Library, pairs, labelPairs func(layout.Layer) Pair) error {
	wr := &writer{out: bufio.NewWriterSize(w, 1<<16), lib: lib, pairs: pairs, labelPairs: labelPairs,
		known: map[*layout.Cell]bool{}}
	if err := wr.checkCells(); err != nil {
		return err
	}
	wr.int16s(recHeader, 600) // release 6.0
	wr.int16s(recBgnLib, someDay[:]...)
	wr.string(recLibName, lib.Name)
	wr.reals(recUnits, 1e-3, 1e-9)
	for _, c := range lib.Cells {
		if err := wr.writeCell(c); err != nil {
			return err
		}
	}
	wr.record(recEndLib, nil)
	return wr.out.Flush()
}

// someDay is the date of the last change and of the last access, fixed so that output is repeatable.
var someDay = [12]int{1970, 1, 1, 0, 0, 0, 1970, 1, 1, 0, 0, 0}

// writer writes records; an error of the stream below stays in out until it is flushed.
type writer struct {
	out               *bufio.Writer
	head              [headSize]byte
	buf               []byte // data of the record that is being written
	lib               *layout.Library
	pairs, labelPairs func(layout.Layer) Pair
	known             map[*layout.Cell]bool
	cell              *layout.Cell
}

func (w *writer) fail(remedy, format string, args ...any) error {
	e := &Error{Offset: -1, Text: fmt.Sprintf(format, args...), Remedy: remedy}
	if w.cell != nil {
		e.Cell = w.cell.Name
	}
	return e
}

func (w *writer) checkCells() error {
	if err := w.checkText("library name", w.lib.Name); err != nil {
		return err
	}
	names := map[string]bool{}
	for _, c := range w.lib.Cells {
		if c.Name == "" {
			return w.fail("give every cell a name", "a cell without a name")
		}
		if err := w.checkText("cell name", c.Name); err != nil {
			return err
		}
		if names[c.Name] {
			return w.fail("rename one of them", "two cells %q", c.Name)
		}
		names[c.Name], w.known[c] = true, true
	}
	for _, c := range w.lib.Cells {
		for i := range c.Placements {
			if err := w.checkPlacement(c, &c.Placements[i]); err != nil {
				return err
			}
		}
	}
	if err := w.lib.CheckCycles(); err != nil {
		return w.fail("remove one of these placements", "%v", err)
	}
	return nil
}

func (w *writer) checkText(what, s string) error {
	switch {
	case len(s) > maxText:
		return w.fail("shorten it", "%s of %d bytes; a record holds %d", what, len(s), maxText)
	case !printable([]byte(s)):
		return w.fail("use printable characters in UTF-8", "%s %q has characters that cannot be printed", what, s)
	}
	return nil
}

func (w *writer) writeCell(c *layout.Cell) error {
	w.cell = c
	w.int16s(recBgnStr, someDay[:]...)
	w.string(recStrName, c.Name)
	for i := range c.Shapes {
		if err := w.shape(&c.Shapes[i]); err != nil {
			return err
		}
	}
	for i := range c.Labels {
		if err := w.label(&c.Labels[i]); err != nil {
			return err
		}
	}
	for i := range c.Placements {
		if err := w.placement(&c.Placements[i]); err != nil {
			return err
		}
	}
	w.record(recEndStr, nil)
	return nil
}

// layerName names a layer in errors.
func (w *writer) layerName(l layout.Layer) (string, error) {
	if int(l) >= len(w.lib.Layers) {
		return "", w.fail("add the layer to the library", "layer %d of a library with %d", l, len(w.lib.Layers))
	}
	return w.lib.Layers[l], nil
}

func (w *writer) shape(s *layout.Shape) error {
	name, err := w.layerName(s.Layer)
	if err != nil {
		return err
	}
	pair := w.pairs(s.Layer)
	if !inFrame(s.Polygon) {
		return w.fail("move the drawing nearer to the origin", "layer %s: a shape reaches outside the frame of ±%.3f µm",
			name, geom.Limit/1e3)
	}
	polygon := s.Polygon
	if slices.ContainsFunc(polygon, tooShort) {
		polygon = slices.DeleteFunc(slices.Clone(polygon), tooShort)
	}
	outlines, most := boundaries(polygon)
	if most > maxCorner {
		at := polygon[0][0]
		return w.fail("cut the shape into smaller ones", "layer %s: an outline of %d points at (%.3f, %.3f) µm; a boundary holds %d",
			name, most, float64(at.X)/1e3, float64(at.Y)/1e3, maxCorner)
	}
	for _, ring := range outlines {
		w.record(recBoundary, nil)
		w.int16s(recLayer, int(pair.Layer))
		w.int16s(recDatatype, int(pair.Datatype))
		w.points(ring, ring[0])
		w.record(recEndEl, nil)
	}
	return nil
}

func tooShort(r geom.Ring) bool { return len(r) < 3 }

func inFrame(pg geom.Polygon) bool {
	for _, r := range pg {
		for _, p := range r {
			if !p.InFrame() {
				return false
			}
		}
	}
	return true
}

func (w *writer) label(l *layout.Label) error {
	name, err := w.layerName(l.Layer)
	if err != nil {
		return err
	}
	if err := w.checkText("label", l.Text); err != nil {
		return err
	}
	if !l.At.InFrame() {
		return w.fail("move the drawing nearer to the origin", "layer %s: label %q is outside the frame of ±%.3f µm",
			name, l.Text, geom.Limit/1e3)
	}
	pair := w.labelPairs(l.Layer)
	w.record(recText, nil)
	w.int16s(recLayer, int(pair.Layer))
	w.int16s(recTextType, int(pair.Datatype))
	w.points(nil, l.At)
	w.string(recString, l.Text)
	w.record(recEndEl, nil)
	return nil
}

func (w *writer) checkPlacement(in *layout.Cell, p *layout.Placement) error {
	if w.known[p.Cell] {
		return nil
	}
	w.cell = in
	if p.Cell == nil {
		return w.fail("name the cell that is placed, or remove the placement", "a placement without a cell")
	}
	return w.fail("add that cell to the library", "a placement of cell %q, which the library does not contain", p.Cell.Name)
}

func (w *writer) placement(p *layout.Placement) error {
	_, mag, _, _ := p.Transform.Parts()
	if !(tidy(mag) >= minMag && tidy(mag) <= maxMag) {
		return w.fail("correct the magnification of this placement", "cell %q placed with magnification %g; allowed are %g to %g",
			p.Cell.Name, mag, minMag, maxMag)
	}
	columns, rows := p.Members()
	if columns == 1 && rows == 1 {
		return w.single(p, 0, 0)
	}
	if toColumns, toRows, ok := arraySteps(p); ok {
		return w.array(p, toColumns, toRows)
	}
	if columns > maxSingle || rows > maxSingle || columns*rows > maxSingle {
		return w.fail("split the array, or give it a pitch of whole nanometres",
			"an array of %d × %d placements of cell %q has steps that the format cannot give, and is too large to be written one by one (at most %d)",
			columns, rows, p.Cell.Name, maxSingle)
	}
	for r := range rows {
		for c := range columns {
			if err := w.single(p, c, r); err != nil {
				return err
			}
		}
	}
	return nil
}

// arraySteps returns where an AREF has the second and third of its points; ok is false if an AREF cannot give this
// array: too many columns or rows, or the point one step beyond the last member is off the grid or outside the frame.
func arraySteps(p *layout.Placement) (toColumns, toRows geom.Point, ok bool) {
	columns, rows := p.Members()
	if columns > maxCounts || rows > maxCounts {
		return toColumns, toRows, false
	}
	_, _, _, at := p.Transform.Parts()
	toColumns, okColumns := beyond(at, p.ColumnExtent, columns)
	toRows, okRows := beyond(at, p.RowExtent, rows)
	return toColumns, toRows, okColumns && okRows
}

// beyond returns the place one step after the last of n members. It is the reverse of extent.
func beyond(at geom.Point, e geom.Vec, n int) (geom.Point, bool) {
	if n == 1 {
		return at, true
	}
	far := e.Scale(float64(n) / float64(n-1))
	if !(math.Abs(far.X) <= 2*geom.Limit && math.Abs(far.Y) <= 2*geom.Limit) {
		return at, false
	}
	to := at.Add(far.Round())
	back := extent(at, to, n)
	return to, to.InFrame() && math.Abs(back.X-e.X) <= exactNm && math.Abs(back.Y-e.Y) <= exactNm
}

func (w *writer) single(p *layout.Placement, column, row int) error {
	t := p.Member(column, row)
	at, err := w.origin(p, t)
	if err != nil {
		return err
	}
	w.record(recSref, nil)
	w.string(recSname, p.Cell.Name)
	w.transform(t)
	w.points(nil, at)
	w.record(recEndEl, nil)
	return nil
}

func (w *writer) array(p *layout.Placement, toColumns, toRows geom.Point) error {
	at, err := w.origin(p, p.Transform)
	if err != nil {
		return err
	}
	columns, rows := p.Members()
	w.record(recAref, nil)
	w.string(recSname, p.Cell.Name)
	w.transform(p.Transform)
	w.int16s(recColRow, columns, rows)
	w.points([]geom.Point{at, toColumns}, toRows)
	w.record(recEndEl, nil)
	return nil
}

func (w *writer) origin(p *layout.Placement, t geom.Transform) (geom.Point, error) {
	_, _, _, at := t.Parts()
	if !at.InFrame() {
		return at, w.fail("move the drawing nearer to the origin", "a placement of cell %q is outside the frame of ±%.3f µm",
			p.Cell.Name, geom.Limit/1e3)
	}
	return at, nil
}

// transform writes STRANS, MAG and ANGLE as far as they are needed.
func (w *writer) transform(t geom.Transform) {
	mirror, mag, angle, _ := t.Parts()
	mag, angle = tidy(mag), math.Mod(tidy(angle), 360)
	if !mirror && mag == 1 && angle == 0 {
		return
	}
	flags := uint16(0)
	if mirror {
		flags = 0x8000
	}
	w.record(recStrans, binary.BigEndian.AppendUint16(nil, flags))
	if mag != 1 {
		w.reals(recMag, mag)
	}
	if angle != 0 {
		w.reals(recAngle, angle)
	}
}

// tidy takes away what rounding left of sine and cosine: the nearest multiple of 1e-6, if it differs by less than
// 1e-12 of x, otherwise x. Over the whole frame such a difference moves nothing by more than 0.002 nm.
func tidy(x float64) float64 {
	if r := math.Round(x*1e6) / 1e6; math.Abs(r-x) <= 1e-12*math.Abs(x) {
		return r
	}
	return x
}

// record writes a record; data of odd length is filled up with a NUL byte.
func (w *writer) record(t recordType, data []byte) {
	size := headSize + len(data) + len(data)%2
	w.head = [headSize]byte{byte(size >> 8), byte(size), byte(t), byte(records[t].data)}
	w.out.Write(w.head[:])
	w.out.Write(data)
	if len(data)%2 != 0 {
		w.out.WriteByte(0)
	}
}

func (w *writer) string(t recordType, s string) {
	w.buf = append(w.buf[:0], s...)
	w.record(t, w.buf)
}

func (w *writer) int16s(t recordType, values ...int) {
	w.buf = w.buf[:0]
	for _, v := range values {
		w.buf = binary.BigEndian.AppendUint16(w.buf, uint16(v))
	}
	w.record(t, w.buf)
}

func (w *writer) reals(t recordType, values ...float64) {
	w.buf = w.buf[:0]
	for _, v := range values {
		w.buf = appendReal8(w.buf, v)
	}
	w.record(t, w.buf)
}

// points writes an XY record of the points and one more.
func (w *writer) points(points []geom.Point, last geom.Point) {
	w.buf = w.buf[:0]
	for _, p := range points {
		w.buf = appendPoint(w.buf, p)
	}
	w.buf = appendPoint(w.buf, last)
	w.record(recXY, w.buf)
}

func appendPoint(b []byte, p geom.Point) []byte {
	b = binary.BigEndian.AppendUint32(b, uint32(int32(p.X)))
	return binary.BigEndian.AppendUint32(b, uint32(int32(p.Y)))
}

package gds

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// Read reads a stream. name stands for it in errors.
//
// m says which pair is which layer; elements of other pairs are left out and counted in the report, without a look
// at their coordinates. With m nil every pair that occurs becomes a layer with a name such as "22/0".
//
// Errors are of type *Error, except for a Map that contradicts itself.
func Read(name string, in io.Reader, m *Map) (*layout.Library, *Report, error) {
	if err := m.check(); err != nil {
		return nil, nil, err
	}
	r := &reader{scanner: newScanner(name, in), lib: &layout.Library{}, layers: newLayers(m),
		cells: map[string]*cellEntry{}, skipped: map[Pair]*Skipped{}}
	if err := r.readLibrary(); err != nil {
		return nil, nil, err
	}
	r.lib.Layers = r.layers.names
	return r.lib, r.report(), nil
}

func (m *Map) check() error {
	if m == nil {
		return nil
	}
	if len(m.Layers) > layout.MaxLayers {
		return fmt.Errorf("a map with %d layers; a library has at most %d", len(m.Layers), layout.MaxLayers)
	}
	for _, pairs := range []map[Pair]layout.Layer{m.Shapes, m.Labels} {
		for p, l := range pairs {
			if int(l) >= len(m.Layers) {
				return fmt.Errorf("a map that sends %v to layer %d of %d", p, l, len(m.Layers))
			}
		}
	}
	return nil
}

// reader builds a library from the records that its scanner hands out.
type reader struct {
	scanner
	grid    grid
	lib     *layout.Library
	layers  layers
	cells   map[string]*cellEntry // defined or only referred to so far
	current *cellEntry
	element element
	stroker pen.Stroker
	slab    slab
	skipped map[Pair]*Skipped
	notes   [noteKinds]Note
}

// cellEntry is a cell that was met by name. Its *layout.Cell is there from the first mention on, so that a placement
// can point to a cell that comes later in the stream.
type cellEntry struct {
	cell       *layout.Cell
	at         int64 // offset of its STRNAME, once defined
	defined    bool
	state      visit
	refs       []reference // one for each run of placements of the same cell
	firstRef   int64       // where, and in which cell, it is first placed
	firstRefIn string
}

type reference struct {
	to *cellEntry
	at int64
}

func (r *reader) readLibrary() error {
	if err := r.sniff(); err != nil {
		return err
	}
	for _, t := range []recordType{recHeader, recBgnLib, recLibName, recUnits} {
		if err := r.expect(t); err != nil {
			return err
		}
		if t == recLibName {
			r.lib.Name = string(r.text())
		}
	}
	if err := r.units(); err != nil {
		return err
	}
	for {
		if err := r.next(); err != nil {
			return err
		}
		switch r.typ {
		case recBgnStr:
			if err := r.readCell(); err != nil {
				return err
			}
		case recEndLib:
			if err := r.padding(); err != nil {
				return err
			}
			return r.checkReferences()
		default:
			return r.misplaced("BGNSTR or ENDLIB")
		}
	}
}

// sniff looks at the first bytes, to tell a user who took the wrong file what it is.
func (r *reader) sniff() error {
	head, err := r.in.Peek(headSize)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return r.failed(len(head), err)
	case len(head) == 0:
		return r.fail(0, getCopy, "the file is empty")
	case len(head) >= 2 && head[0] == 0x1F && head[1] == 0x8B:
		return r.fail(0, "decompress it first", "the file is compressed (gzip)")
	case len(head) < headSize || recordType(head[2]) != recHeader || dataType(head[3]) != dataInt16:
		return r.fail(0, "take a GDSII stream file (mostly called .gds)",
			"this is no GDSII stream, which begins with a HEADER record; found bytes % X", head)
	}
	return nil
}

func (r *reader) expect(t recordType) error {
	if err := r.next(); err != nil {
		return err
	}
	if r.typ != t {
		return r.misplaced(t.String())
	}
	return nil
}

func (r *reader) misplaced(wanted string) error {
	return r.fail(r.at, wrongWriter, "%v record where %s belongs", r.typ, wanted)
}

func (r *reader) units() error {
	metres := real8(r.data[8:])
	g, ok := newGrid(metres * 1e9)
	if !ok {
		return r.fail(r.at, "write the file with a database unit of 1 nm (UNITS 0.001 and 1e-9)",
			"the database unit is %g m; it must be a whole multiple or a simple fraction of 1 nm, from 1e-13 to 1e-4 m",
			metres)
	}
	r.grid = g
	return nil
}

// padding reads to the end of the file: tapes were written in blocks, so NUL bytes may follow ENDLIB.
func (r *reader) padding() error {
	at := r.at + int64(r.size)
	r.in.Discard(r.size)
	r.size = 0
	for {
		c, err := r.in.ReadByte()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			r.at = at
			return r.failed(0, err)
		case c != 0:
			return r.fail(at, "remove what follows ENDLIB; a file holds one library", "byte %02X after ENDLIB; only NUL bytes may follow", c)
		}
		at++
	}
}

func (r *reader) readCell() error {
	if err := r.expect(recStrName); err != nil {
		return err
	}
	name := r.text()
	if len(name) == 0 {
		return r.fail(r.at, "give every cell a name", "a cell without a name")
	}
	e := r.entry(name)
	if e.defined {
		return r.fail(r.at, "rename one of them", "a second cell %q; the first is at byte %d", e.cell.Name, e.at)
	}
	e.defined, e.at = true, r.at
	r.lib.Cells = append(r.lib.Cells, e.cell)
	r.current, r.cell = e, e.cell.Name
	for {
		if err := r.next(); err != nil {
			return err
		}
		if r.typ == recEndStr {
			r.current, r.cell = nil, ""
			return nil
		}
		rule := elementRules[r.typ]
		if rule == nil {
			return r.misplaced("an element or ENDSTR")
		}
		if err := r.readElement(rule); err != nil {
			return err
		}
	}
}

// entry returns the cell of that name, a new one at its first mention.
func (r *reader) entry(name []byte) *cellEntry {
	e := r.cells[string(name)]
	if e == nil {
		s := string(name)
		e = &cellEntry{cell: &layout.Cell{Name: s}}
		r.cells[s] = e
	}
	return e
}

// refer notes that the current cell places another one, at an offset of the stream.
func (r *reader) refer(to *cellEntry, at int64) {
	if !to.defined && to.firstRef == 0 {
		to.firstRef, to.firstRefIn = at, r.cell
	}
	c := r.current
	if n := len(c.refs); n == 0 || c.refs[n-1].to != to {
		c.refs = append(c.refs, reference{to, at})
	}
}

// text returns the current record's string without the NUL bytes at its end, unprintable bytes replaced. The bytes
// are valid until the next record.
func (r *reader) text() []byte {
	b := r.data
	for len(b) > 0 && b[len(b)-1] == 0 {
		b = b[:len(b)-1]
	}
	if clean := printable(b); !clean {
		r.note(noteReplaced, r.at)
		return replaceUnprintable(b)
	}
	return b
}

func printable(b []byte) bool {
	for len(b) > 0 {
		c, n := utf8.DecodeRune(b)
		if c == utf8.RuneError && n == 1 || !unicode.IsPrint(c) {
			return false
		}
		b = b[n:]
	}
	return true
}

// replaceUnprintable puts '?' for every byte that is no part of a printable character.
func replaceUnprintable(b []byte) []byte {
	var clean []byte
	for len(b) > 0 {
		_, n := utf8.DecodeRune(b)
		if printable(b[:n]) {
			clean = append(clean, b[:n]...)
		} else {
			clean = append(clean, strings.Repeat("?", n)...)
		}
		b = b[n:]
	}
	return clean
}

// layers knows which pair is which layer.
type layers struct {
	m     *Map
	names []string
	seen  map[Pair]layout.Layer // with m nil: the pairs met so far

	last      Pair // the pair asked for last, with the answer; neighbours are mostly of one layer
	lastLabel bool
	met       map[Pair]bool
	lastLayer layout.Layer
	lastFound bool
	hasLast   bool
}

func newLayers(m *Map) layers {
	if m == nil {
		return layers{seen: map[Pair]layout.Layer{}, met: map[Pair]bool{}}
	}
	return layers{m: m, met: map[Pair]bool{}, names: append([]string(nil), m.Layers...)}
}

// layerOf returns the layer of a pair, and whether it has one.
func (r *reader) layerOf(p Pair, label bool) (layout.Layer, bool, error) {
	l := &r.layers
	if l.hasLast && l.last == p && l.lastLabel == label {
		return l.lastLayer, l.lastFound, nil
	}
	layer, found := layout.Layer(0), false
	switch {
	case l.m == nil:
		if layer, found = l.seen[p]; !found {
			if len(l.names) == layout.MaxLayers {
				return 0, false, r.fail(r.element.at, "name a stack, which says which of them are needed",
					"layer %v is one more than the %d layers that a library can have", p, layout.MaxLayers)
			}
			layer, found = layout.Layer(len(l.names)), true
			l.seen[p] = layer
			l.names = append(l.names, p.String())
		}
	case label:
		layer, found = l.m.Labels[p]
	default:
		layer, found = l.m.Shapes[p]
	}
	l.met[p] = true
	l.last, l.lastLabel, l.lastLayer, l.lastFound, l.hasLast = p, label, layer, found, true
	return layer, found, nil
}

// slab cuts rings and polygons of exact size out of larger pieces, which saves an allocation for each of them. The
// pieces grow with what has been kept, so that a small stream takes little.
type slab struct {
	points   []geom.Point
	rings    []geom.Ring
	kept     int
	keptRing int
}

const (
	minPiece = 64
	maxPiece = 8192
)

// polygon returns a polygon of one ring with a copy of the points.
func (s *slab) polygon(points []geom.Point) geom.Polygon {
	n := len(points)
	if n > len(s.points) {
		s.points = make([]geom.Point, max(n, min(max(s.kept, minPiece), maxPiece)))
	}
	if len(s.rings) == 0 {
		s.rings = make([]geom.Ring, min(max(s.keptRing, minPiece/4), maxPiece))
	}
	s.kept += n
	s.keptRing++
	ring := s.points[:n:n]
	copy(ring, points)
	s.points = s.points[n:]
	polygon := s.rings[:1:1]
	s.rings = s.rings[1:]
	polygon[0] = ring
	return polygon
}

package gds

import (
	"math"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// element is what the records between the head of an element and its ENDEL have said so far. It is one buffer for
// all elements.
type element struct {
	rule *elementRule
	at   int64
	seen uint64 // the record types met

	pair  Pair
	layer layout.Layer
	found bool // the pair has a layer
	asked bool // layer and found are known

	points     []geom.Point
	text       []byte
	to         *cellEntry
	width      int // nm
	absolute   bool
	ends       pen.Ends
	begin, end int // nm, beyond the first and last point
	columns    int
	rows       int
	mirror     bool
	mag, angle float64
}

// elementRule says which records an element may have, must have, and may have more than once, and what becomes of it.
type elementRule struct {
	head     recordType
	allowed  uint64
	required uint64
	repeated uint64
	ignored  uint64 // allowed, but without meaning for the drawing
	pairs    uint64 // the two records that make the pair
	label    bool
	finish   func(r *reader) error
}

// elementRules is indexed by record type; nil for those that begin no element.
var elementRules [lastRecord + 1]*elementRule

func init() {
	properties := set(recPropAttr, recPropValue)
	placed := set(recStrans, recMag, recAngle)
	for _, rule := range []elementRule{
		{head: recBoundary, pairs: set(recLayer, recDatatype), repeated: set(recXY), finish: (*reader).addBoundary},
		{head: recBox, pairs: set(recLayer, recBoxType), finish: (*reader).addBoundary},
		{head: recPath, pairs: set(recLayer, recDatatype), repeated: set(recXY), finish: (*reader).addPath,
			allowed: set(recPathType, recWidth, recBgnExtn, recEndExtn)},
		{head: recText, pairs: set(recLayer, recTextType), required: set(recString), finish: (*reader).addLabel, label: true,
			ignored: set(recPresentation, recPathType, recWidth) | placed},
		{head: recSref, required: set(recSname), finish: (*reader).addPlacement, allowed: placed},
		{head: recAref, required: set(recSname, recColRow), finish: (*reader).addPlacement, allowed: placed},
		{head: recNode, ignored: set(recLayer, recNodeType, recXY), finish: func(*reader) error { return nil }},
	} {
		if rule.head != recNode {
			rule.required |= set(recXY) | rule.pairs
		}
		rule.repeated |= properties
		rule.ignored |= properties | set(recElFlags, recPlex)
		rule.allowed |= rule.required | rule.ignored
		elementRules[rule.head] = &rule
	}
}

// readElement reads the records of an element up to its ENDEL.
func (r *reader) readElement(rule *elementRule) error {
	e := &r.element
	*e = element{rule: rule, at: r.at, points: e.points[:0], text: e.text[:0], mag: 1}
	for {
		if err := r.next(); err != nil {
			return err
		}
		bit := uint64(1) << r.typ
		switch {
		case r.typ == recEndEl:
			return r.finish()
		case rule.allowed&bit == 0:
			return r.fail(r.at, wrongWriter, "%v record in a %v element", r.typ, rule.head)
		case e.seen&bit != 0 && rule.repeated&bit == 0:
			return r.fail(r.at, wrongWriter, "a second %v record in a %v element", r.typ, rule.head)
		}
		e.seen |= bit
		if rule.ignored&bit != 0 {
			continue
		}
		if err := r.take(); err != nil {
			return err
		}
	}
}

// take keeps what the current record says about the element. As soon as it is known that the element will be left
// out, nothing more is looked at.
func (r *reader) take() error {
	e := &r.element
	switch r.typ {
	case recLayer:
		e.pair.Layer = int16(r.int16At(0))
		return nil
	case recDatatype, recTextType, recBoxType:
		e.pair.Datatype = int16(r.int16At(0))
		return nil
	}
	if e.seen&e.rule.pairs == e.rule.pairs {
		if err := r.askLayer(); err != nil || !e.found {
			return err
		}
	}
	switch r.typ {
	case recXY:
		return r.takePoints()
	case recSname:
		name := r.text()
		if len(name) == 0 {
			return r.fail(r.at, "name the cell that is placed", "a reference to a cell without a name")
		}
		e.to = r.entry(name)
	case recString:
		e.text = append(e.text, r.text()...)
	case recWidth:
		e.absolute = r.int32At(0) < 0
		return r.length(&e.width, max(r.int32At(0), -r.int32At(0)))
	case recBgnExtn:
		return r.length(&e.begin, r.int32At(0))
	case recEndExtn:
		return r.length(&e.end, r.int32At(0))
	case recPathType:
		return r.takePathType()
	case recColRow, recStrans, recMag, recAngle:
		return r.takePlacement()
	}
	return nil
}

func (r *reader) takePathType() error {
	e := &r.element
	e.ends = pen.Ends(r.int16At(0))
	switch e.ends {
	case pen.Flush, pen.Round, pen.Half, pen.Given:
		return nil
	}
	return r.fail(r.at, "write the path with one of these, or as a BOUNDARY",
		"path type %d; allowed are 0 (flush), 1 (round), 2 (half a width beyond) and 4 (given extension)", e.ends)
}

// Magnifications that make sense: a nanometre to a millimetre, and back.
const minMag, maxMag = 1e-6, 1e6

func (r *reader) takePlacement() error {
	e := &r.element
	switch r.typ {
	case recColRow:
		e.columns, e.rows = r.int16At(0), r.int16At(2)
		if e.columns < 1 || e.rows < 1 {
			return r.fail(r.at, "give the array at least one column and one row",
				"an array of %d columns and %d rows; allowed are 1 to 32767", e.columns, e.rows)
		}
	case recStrans:
		const reflect, absoluteMag, absoluteAngle = 0x8000, 0x0004, 0x0002
		bits := uint16(r.int16At(0))
		e.mirror, e.absolute = bits&reflect != 0, bits&(absoluteMag|absoluteAngle) != 0
	case recMag:
		e.mag = real8(r.data)
		if !(e.mag >= minMag && e.mag <= maxMag) {
			return r.fail(r.at, "correct the magnification of this element",
				"magnification %g; allowed are %g to %g", e.mag, minMag, maxMag)
		}
	case recAngle:
		e.angle = math.Mod(real8(r.data), 360)
	}
	return nil
}

// takePoints adds the points of an XY record.
func (r *reader) takePoints() error {
	e := &r.element
	if len(r.data) == 0 || len(r.data)%8 != 0 {
		return r.fail(r.at, damaged, "XY record with %d data bytes; a multiple of 8 belongs there", len(r.data))
	}
	plain := r.grid == grid{1, 1}
	for i := 0; i < len(r.data); i += 8 {
		p := geom.Point{X: r.int32At(i), Y: r.int32At(i + 4)}
		if !plain || !p.InFrame() {
			if err := r.toFrame(&p, i); err != nil {
				return err
			}
		}
		e.points = append(e.points, p)
	}
	return nil
}

// toFrame converts the coordinates at byte i of the record.
func (r *reader) toFrame(p *geom.Point, i int) error {
	at := r.at + headSize + int64(i)
	for axis, v := range []*int{&p.X, &p.Y} {
		units := *v
		nm, whole := r.grid.nm(units)
		if !whole {
			return r.fail(at+int64(4*axis), "snap the drawing to whole nanometres, or write it with a database unit of 1 nm",
				"%c = %g nm is off the nanometre grid (%d database units of %g nm)",
				'x'+axis, float64(units)*r.grid.unitNm(), units, r.grid.unitNm())
		}
		if nm < -geom.Limit || nm > geom.Limit {
			return r.fail(at+int64(4*axis), "move the drawing nearer to the origin, or check the database unit",
				"%c = %.3f µm is outside the frame of ±%.3f µm", 'x'+axis, float64(nm)/1e3, geom.Limit/1e3)
		}
		*v = nm
	}
	return nil
}

// length converts the current record's database units to nm.
func (r *reader) length(nm *int, units int) error {
	v, whole := r.grid.nm(units)
	if !whole {
		return r.fail(r.at, "snap the drawing to whole nanometres, or write it with a database unit of 1 nm",
			"%v of %g nm is off the nanometre grid", r.typ, float64(units)*r.grid.unitNm())
	}
	if v < -2*geom.Limit || v > 2*geom.Limit {
		return r.fail(r.at, "check the database unit", "%v of %.3f µm is more than the frame is wide (%.3f µm)",
			r.typ, float64(v)/1e3, 2*geom.Limit/1e3)
	}
	*nm = v
	return nil
}

// askLayer finds out which layer the element belongs to. Placements belong to none, and are never left out.
func (r *reader) askLayer() (err error) {
	e := &r.element
	if e.rule.pairs == 0 {
		e.found = true
	} else if !e.asked {
		e.layer, e.found, err = r.layerOf(e.pair, e.rule.label)
		e.asked = err == nil
	}
	return err
}

// finish turns the element into a shape, a label or a placement of the current cell.
func (r *reader) finish() error {
	e := &r.element
	if missing := e.rule.required &^ e.seen; missing != 0 {
		for t := recordType(0); ; t++ {
			if missing>>t&1 != 0 {
				return r.fail(e.at, wrongWriter, "%v element without %v", e.rule.head, t)
			}
		}
	}
	if err := r.askLayer(); err != nil {
		return err
	}
	if !e.found {
		r.skip(e.pair, e.rule.label)
		return nil
	}
	return e.rule.finish(r)
}

func (r *reader) addBoundary() error {
	e := &r.element
	points := pen.ClosedOutline(e.points)
	if !pen.Covers(points) {
		r.note(noteEmpty, e.at)
		return nil
	}
	r.addShape(r.slab.polygon(points))
	return nil
}

func (r *reader) addShape(pg geom.Polygon) {
	c := r.current.cell
	c.Shapes = append(c.Shapes, layout.Shape{Layer: r.element.layer, Polygon: pg})
}

func (r *reader) addPath() error {
	e := &r.element
	if e.width == 0 {
		r.note(noteNoWidth, e.at)
		return nil
	}
	if e.absolute {
		r.note(noteAbsoluteWidth, e.at)
	}
	line := pen.Stroke{Line: pen.DistinctNeighbours(e.points), Width: e.width, Ends: e.ends, Begin: e.begin, End: e.end}
	pg, inFrame := r.stroker.Outline(line, r.slab.polygon)
	switch {
	case !inFrame:
		return r.fail(e.at, "move the drawing nearer to the origin",
			"a path of width %.3f µm reaches outside the frame of ±%.3f µm", float64(e.width)/1e3, geom.Limit/1e3)
	case pg == nil:
		r.note(noteEmpty, e.at)
		return nil
	}
	r.addShape(pg)
	return nil
}

func (r *reader) addLabel() error {
	e := &r.element
	if err := r.needPoints(1, "its place"); err != nil {
		return err
	}
	if len(e.text) == 0 {
		r.note(noteNoText, e.at)
		return nil
	}
	c := r.current.cell
	c.Labels = append(c.Labels, layout.Label{Layer: e.layer, At: e.points[0], Text: string(e.text)})
	return nil
}

func (r *reader) addPlacement() error {
	e := &r.element
	p := layout.Placement{Cell: e.to.cell, Columns: 1, Rows: 1}
	if e.rule.head == recSref {
		if err := r.needPoints(1, "its origin"); err != nil {
			return err
		}
	} else {
		if err := r.needPoints(3, "its origin and the ends of its columns and rows"); err != nil {
			return err
		}
		p.Columns, p.Rows = e.columns, e.rows
		p.ColumnExtent = extent(e.points[0], e.points[1], e.columns)
		p.RowExtent = extent(e.points[0], e.points[2], e.rows)
	}
	p.Transform = geom.NewTransform(e.mirror, e.mag, e.angle, e.points[0])
	if e.absolute {
		r.note(noteAbsoluteTransform, e.at)
	}
	r.refer(e.to, e.at)
	c := r.current.cell
	c.Placements = append(c.Placements, p)
	return nil
}

func (r *reader) needPoints(n int, what string) error {
	e := &r.element
	if len(e.points) != n {
		return r.fail(e.at, wrongWriter, "%v element with %d points; it needs %d (%s)", e.rule.head, len(e.points), n, what)
	}
	return nil
}

// extent returns the vector from the first of n members to the last one. to is one step beyond the last.
func extent(from, to geom.Point, n int) geom.Vec {
	k, d := float64(n-1), to.Sub(from)
	return geom.Vec{X: float64(d.X) * k / float64(n), Y: float64(d.Y) * k / float64(n)}
}

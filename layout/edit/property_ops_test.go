package edit

import (
	"fmt"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// chance is where random operations take their numbers from: rapid, which makes a failure small, or a fixed seed.
type chance func(n int) int // from 0 to n-1

func (c chance) between(lo, hi int) int { return lo + c(hi-lo+1) }

// point is mostly near the origin, where things meet, and sometimes at the end of the frame.
func (c chance) point() geom.Point {
	p := at(c.between(-30, 30), c.between(-30, 30))
	if c(40) == 0 {
		p.X += geom.Limit - 25
	}
	return p
}

// polygon is a star by angle, which is valid as a rule, with a hole sometimes; or any points, which mostly is not.
func (c chance) polygon() geom.Polygon {
	m := c.point()
	star := func(least, most int) (r geom.Ring) {
		n := c.between(3, 7)
		for i := range n {
			sin, cos := math.Sincos(2 * math.Pi * (float64(i) + 0.2) / float64(n))
			d := float64(c.between(least, most))
			r = append(r, m.Add(geom.Vec{X: d * cos, Y: d * sin}.Round()))
		}
		return r
	}
	switch c(6) {
	case 0:
		var r geom.Ring
		for range c.between(0, 5) {
			r = append(r, c.point())
		}
		return geom.Polygon{r}
	case 1:
		return geom.Polygon{star(20, 40), star(2, 7)}
	case 2, 3:
		return box(m.X, m.Y, m.X+c.between(1, 20), m.Y+c.between(1, 20))
	}
	return geom.Polygon{star(5, 25)}
}

func (c chance) degrees() float64 {
	return []float64{90, 180, -90, 45, 30, 12.3}[c(6)]
}

// extent is whole, or in halves and thirds, or any.
func (c chance) extent(n int) geom.Vec {
	if c(3) == 0 {
		return geom.Vec{X: float64(c.between(-90, 90)) / 3, Y: float64(c.between(-90, 90)) / 2}
	}
	return Extent(geom.Vec{X: float64(c.between(-20, 20)), Y: float64(c.between(-20, 20))}, n)
}

// scene is what a random operation can be about.
type scene struct {
	chance
	tx         *dossier.Tx
	cell       int64 // that this one is about
	cells      []dossier.Cell
	shapes     []dossier.Shape
	labels     []dossier.Label
	placements []dossier.Placement
	areas      []dossier.Area
	shots      []dossier.Shot
	clip       *Clip // kept from one edit to the next, and over undo
}

func newScene(c chance, tx *dossier.Tx, clip *Clip) (*scene, error) {
	s := &scene{chance: c, tx: tx, clip: clip}
	var err error
	if s.cells, err = tx.Cells(); err != nil {
		return nil, err
	}
	s.cell = s.cells[max(c(len(s.cells)+2)-2, 0)].ID // mostly the die
	if s.shapes, err = tx.Shapes(s.cell); err != nil {
		return nil, err
	}
	if s.labels, err = tx.Labels(s.cell); err != nil {
		return nil, err
	}
	if s.placements, err = tx.Placements(s.cell); err != nil {
		return nil, err
	}
	if s.areas, err = tx.Areas(); err != nil {
		return nil, err
	}
	s.shots, err = tx.Shots()
	return s, err
}

func (s *scene) layer() string { return []string{"poly", "metal1", "contact"}[s.chance(3)] }

func (s *scene) on() On {
	o := Origin{Method: methods[s.chance(len(methods))], File: []string{"", "a.gds"}[s.chance(2)], SigmaNm: float64(s.chance(3))}
	if s.chance(2) == 0 {
		o.Shot = s.shots[s.chance(len(s.shots))].ID
	}
	return On{Cell: s.cell, Layer: s.layer(), Origin: o}
}

// id is that of something, or of nothing where there is none.
func id[T any](s *scene, all []T, of func(T) int64) int64 {
	if len(all) == 0 {
		return 99999
	}
	return of(all[s.chance(len(all))])
}

func (s *scene) shape() int64 { return id(s, s.shapes, func(v dossier.Shape) int64 { return v.ID }) }
func (s *scene) label() int64 { return id(s, s.labels, func(v dossier.Label) int64 { return v.ID }) }
func (s *scene) placement() int64 {
	return id(s, s.placements, func(v dossier.Placement) int64 { return v.ID })
}
func (s *scene) area() int64  { return id(s, s.areas, func(v dossier.Area) int64 { return v.ID }) }
func (s *scene) name() string { return fmt.Sprint("cell ", s.chance(1000)) }

// several are some shapes of one layer.
func (s *scene) several() (ids []int64) {
	layer := s.layer()
	for _, v := range s.shapes {
		if v.Layer == layer && s.chance(4) > 0 {
			ids = append(ids, v.ID)
		}
	}
	return ids
}

func (s *scene) selection() (sel Selection) {
	for _, v := range s.shapes {
		if s.chance(3) == 0 {
			sel.Shapes = append(sel.Shapes, v.ID)
		}
	}
	for _, v := range s.labels {
		if s.chance(3) == 0 {
			sel.Labels = append(sel.Labels, v.ID)
		}
	}
	for _, v := range s.placements {
		if s.chance(3) == 0 {
			sel.Placements = append(sel.Placements, v.ID)
		}
	}
	return sel
}

// operation is one of all there are, with random arguments.
type operation struct {
	name string
	run  func(s *scene) error
}

func only[T any](_ T, err error) error { return err }

var operations = []operation{
	{"Rectangle", func(s *scene) error { return only(Rectangle(s.tx, s.on(), s.point(), s.point())) }},
	{"Polygon", func(s *scene) error { return only(Polygon(s.tx, s.on(), s.polygon())) }},
	{"Wire", func(s *scene) error {
		var line []geom.Point
		for range s.between(1, 5) {
			line = append(line, s.point())
		}
		return only(Wire(s.tx, s.on(), line, s.between(1, 9), []pen.Ends{pen.Flush, pen.Half, pen.Round}[s.chance(3)]))
	}},
	{"Stamp", func(s *scene) error {
		return only(Stamp(s.tx, s.on(), at(s.between(0, 9), s.between(1, 9)), s.point(), s.point()))
	}},
	{"StampFill", func(s *scene) error {
		p := s.point()
		return only(StampFill(s.tx, s.on(), at(3, 4), geom.Vec{X: 7.5, Y: 9}, geom.Box(p.X, p.Y, p.X+s.between(1, 30), p.Y+20)))
	}},
	{"MoveVertex", func(s *scene) error { return MoveVertex(s.tx, s.shape(), Vertex{s.chance(2), s.chance(4)}, s.point()) }},
	{"MoveEdge", func(s *scene) error {
		return MoveEdge(s.tx, s.shape(), Vertex{0, s.chance(4)}, at(s.between(-5, 5), s.between(-5, 5)))
	}},
	{"InsertVertex", func(s *scene) error { return InsertVertex(s.tx, s.shape(), Vertex{0, s.chance(3)}, s.point()) }},
	{"RemoveVertex", func(s *scene) error { return RemoveVertex(s.tx, s.shape(), Vertex{s.chance(2), s.chance(4)}) }},
	{"Move", func(s *scene) error { return Move(s.tx, s.selection(), s.point()) }},
	{"Turn", func(s *scene) error { return Turn(s.tx, s.selection(), s.point(), s.degrees()) }},
	{"Mirror", func(s *scene) error { return Mirror(s.tx, s.selection(), s.point(), s.degrees()) }},
	{"Duplicate", func(s *scene) error { return only(Duplicate(s.tx, s.selection(), s.point())) }},
	{"Delete", func(s *scene) error { return Delete(s.tx, s.selection()) }},
	{"Merge", func(s *scene) error { return only(Merge(s.tx, s.several())) }},
	{"Split", func(s *scene) error {
		_, _, err := Split(s.tx, s.several(), s.point(), s.point())
		return err
	}},
	{"Subtract", func(s *scene) error { return only(Subtract(s.tx, s.several(), s.polygon())) }},
	{"Resolve", func(s *scene) error { return only(Resolve(s.tx, s.several())) }},
	{"MakeCell", func(s *scene) error {
		_, _, err := MakeCell(s.tx, s.name(), s.selection(), s.point())
		return err
	}},
	{"RenameCell", func(s *scene) error { return RenameCell(s.tx, s.cell, s.name()) }},
	{"Place", func(s *scene) error {
		p := dossier.Placement{Parent: s.cell, Child: s.cells[s.chance(len(s.cells))].ID, Name: []string{"", "p"}[s.chance(2)], At: s.point(), Columns: s.between(1, 4), Rows: s.between(1, 3),
			Mirror: s.chance(2) == 0, Degrees: []float64{0, 90, 180, 30}[s.chance(4)], Magnification: []float64{1, 1, 1.5}[s.chance(3)]}
		p.ColumnExtent, p.RowExtent = s.extent(p.Columns), s.extent(p.Rows)
		return Place(s.tx, &p)
	}},
	{"Array", func(s *scene) error {
		columns, rows := s.between(0, 4), s.between(1, 4)
		return Array(s.tx, s.placement(), columns, rows, s.extent(columns), s.extent(rows))
	}},
	{"Explode", func(s *scene) error { return only(Explode(s.tx, s.placement())) }},
	{"SingleOut", func(s *scene) error {
		return only(SingleOut(s.tx, s.placement(), s.chance(3), s.chance(2), s.name()))
	}},
	{"Copy", func(s *scene) (err error) {
		c, err := Copy(s.tx, s.selection(), s.point())
		if err == nil {
			*s.clip = c
		}
		return err
	}},
	{"Cut", func(s *scene) (err error) {
		c, err := Cut(s.tx, s.selection(), s.point())
		if err == nil {
			*s.clip = c
		}
		return err
	}},
	{"Paste", func(s *scene) error { return only(Paste(s.tx, s.cell, *s.clip, s.point())) }},
	{"SetLabel", func(s *scene) error { return only(SetLabel(s.tx, s.cell, s.layer(), s.point(), s.name())) }},
	{"RenameLabel", func(s *scene) error { return RenameLabel(s.tx, s.label(), []string{"", "VDD"}[s.chance(2)]) }},
	{"MoveLabel", func(s *scene) error { return MoveLabel(s.tx, s.label(), s.point()) }},
	{"RemoveLabel", func(s *scene) error { return RemoveLabel(s.tx, s.label()) }},
	{"AddArea", func(s *scene) error { return only(AddArea(s.tx, s.layer(), s.polygon())) }},
	{"ReplaceArea", func(s *scene) error { return ReplaceArea(s.tx, s.area(), s.polygon()) }},
	{"SetAreas", func(s *scene) error { return only(SetAreas(s.tx, s.layer(), s.polygon(), s.polygon())) }},
	{"RemoveAreas", func(s *scene) error { return RemoveAreas(s.tx, s.area(), s.area()) }},
}

package edit

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// Merged is what Merge made.
type Merged struct {
	Shapes []int64 // those that were merged
	Apart  []int64 // those that nothing touches, and that stay as they are
	Mixed  []int64 // of the merged ones, those whose parts did not say the same of where they come from
}

// Merge makes one shape of those that overlap or share a stretch of edge; shapes that only meet in a corner, which is no
// connection, stay apart, and so does what nothing touches. The first of those that become one keeps its id. That nothing
// touches is an error. One region that touches itself in a corner becomes two shapes, as one would not be valid.
//
// A merged shape keeps what all its parts say; else its method is "hand", since a person put them together, it has no
// shot, its file names all of them, and its uncertainty is the largest.
func Merge(tx *dossier.Tx, ids []int64) (m Merged, err error) {
	t, err := loadShapes(tx, ids)
	if err != nil {
		return m, err
	}
	var pgs []geom.Polygon
	for _, s := range t.shapes {
		pgs = append(pgs, s.Polygon)
	}
	groups := grouped(region.Union(pgs...), len(pgs))
	for _, g := range groups {
		if len(g.sources) < 2 {
			continue
		}
		first, mixed := origins(t.shapes, g.sources)
		made, err := replace(tx, first, g.polygons)
		if err != nil {
			return m, err
		}
		for _, i := range g.sources { // afterwards: what is new gets other ids than what has just gone
			if t.shapes[i].ID != first.ID {
				if err := tx.RemoveShape(t.shapes[i].ID); err != nil {
					return m, err
				}
			}
		}
		m.Shapes = append(m.Shapes, made...)
		if mixed {
			m.Mixed = append(m.Mixed, made...)
		}
	}
	if len(m.Shapes) == 0 {
		return m, fmt.Errorf("%s: of %d shapes at %s no two overlap or share an edge: move them together first", t.shapes[0].Layer, len(pgs), place(pgs[0].Bounds().Min))
	}
	for _, g := range groups {
		if len(g.sources) == 1 {
			m.Apart = append(m.Apart, t.shapes[g.sources[0]].ID)
		}
	}
	return m, nil
}

// group is a set of shapes that hang together, and what they cover.
type group struct {
	sources  []int
	polygons []geom.Polygon
}

// grouped sorts pieces by the shapes that they come from. A shape that covers nothing is a group of its own.
func grouped(pieces []region.Piece, n int) (groups []group) {
	of := make([]int, n) // the group of each shape, by its first one
	for i := range of {
		of[i] = i
	}
	find := func(i int) int {
		for of[i] != i {
			of[i] = of[of[i]]
			i = of[i]
		}
		return i
	}
	for _, p := range pieces {
		for _, s := range p.Sources {
			a, b := find(s), find(p.Sources[0])
			of[max(a, b)] = min(a, b)
		}
	}
	at := make([]int, n)
	for i := range n {
		if find(i) == i {
			at[i] = len(groups)
			groups = append(groups, group{})
		}
		g := &groups[at[find(i)]]
		g.sources = append(g.sources, i)
	}
	for _, p := range pieces {
		g := &groups[at[find(p.Sources[0])]]
		g.polygons = append(g.polygons, p.Polygon)
	}
	return groups
}

// origins returns the first of some shapes with what is to be said of all of them, and whether they differ.
func origins(shapes []dossier.Shape, of []int) (first dossier.Shape, mixed bool) {
	first = shapes[of[0]]
	var files []string
	for _, i := range of {
		s := shapes[i]
		if s.Method != first.Method {
			first.Method, mixed = methods[0], true
		}
		if s.Shot != first.Shot {
			first.Shot, mixed = 0, true
		}
		if s.File != "" && !slices.Contains(files, s.File) {
			files = append(files, s.File)
		}
		mixed = mixed || s.File != first.File
	}
	first.File = ""
	for i, f := range files {
		if i > 0 {
			first.File += ", "
		}
		first.File += f
	}
	for _, i := range of {
		if s := shapes[i].SigmaNm; s != first.SigmaNm {
			first.SigmaNm, mixed = max(s, first.SigmaNm), true
		}
	}
	return first, mixed
}

// Split cuts shapes along the line through two points and returns what lies left of the way from a to b, and right of it.
// A shape that the line crosses becomes two or more, with all that it says of where it comes from; the first of its parts
// on the left keeps its id. That the line crosses none is an error.
func Split(tx *dossier.Tx, ids []int64, a, b geom.Point) (left, right []int64, err error) {
	t, err := load(tx, Selection{Shapes: ids})
	if err != nil {
		return nil, nil, err
	}
	cut := false
	for _, s := range t.shapes {
		l, r, err := region.Split(s.Polygon, a, b)
		switch {
		case err != nil:
			return nil, nil, err
		case len(r) == 0:
			left = append(left, s.ID)
			continue
		case len(l) == 0:
			right = append(right, s.ID)
			continue
		}
		cut = true
		made, err := replace(tx, s, append(slices.Clone(l), r...))
		if err != nil {
			return nil, nil, err
		}
		left, right = append(left, made[:len(l)]...), append(right, made[len(l):]...)
	}
	if !cut {
		return nil, nil, fmt.Errorf("%s: the line from %s to %s crosses none of %d shapes: lead it across one", t.shapes[0].Layer, place(a), place(b), len(t.shapes))
	}
	return left, right, nil
}

// Subtract takes what a polygon covers away from shapes and returns what is left of them. A shape that it does not reach
// stays as it is; one that falls into several keeps its id in the first, and all of them say of themselves what it did. That
// it reaches none is an error.
func Subtract(tx *dossier.Tx, ids []int64, pg geom.Polygon) (rest []int64, err error) {
	t, err := load(tx, Selection{Shapes: ids})
	if err != nil {
		return nil, err
	}
	pg = oriented(pg)
	if err := valid("the part to be cut out", pg); err != nil {
		return nil, err
	}
	cut := false
	for _, s := range t.shapes {
		var out, in []geom.Polygon
		if s.Polygon.Bounds().Overlaps(pg.Bounds()) {
			out, in = region.Cut(s.Polygon, pg)
		}
		if len(in) == 0 {
			rest = append(rest, s.ID)
			continue
		}
		cut = true
		made, err := replace(tx, s, out)
		if err != nil {
			return nil, err
		}
		rest = append(rest, made...)
	}
	if !cut {
		return nil, fmt.Errorf("%s: what is to be cut out at %s overlaps none of %d shapes: move it onto one", t.shapes[0].Layer, place(pg.Bounds().Min), len(t.shapes))
	}
	return rest, nil
}

// Resolve replaces shapes that are not valid, as those of a drawing from elsewhere may be, by valid ones that cover the
// same, and returns these. Valid ones stay as they are. One that covers nothing goes.
func Resolve(tx *dossier.Tx, ids []int64) (made []int64, err error) {
	t, err := load(tx, Selection{Shapes: ids})
	if err != nil {
		return nil, err
	}
	for _, s := range t.shapes {
		if _, bad := s.Polygon.Fault(); !bad {
			continue
		}
		now, err := replace(tx, s, region.Clean(s.Polygon))
		if err != nil {
			return nil, err
		}
		made = append(made, now...)
	}
	return made, nil
}

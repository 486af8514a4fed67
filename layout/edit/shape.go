package edit

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

// Origin says where a new shape comes from.
type Origin struct {
	Method  string  // "hand", which "" stands for, "file", "automatic" or "heal"
	Shot    int64   // that it was traced over; 0: none
	File    string  // that it was read from
	SigmaNm float64 // standard uncertainty of where its edges lie
}

var methods = []string{"hand", "file", "automatic", "heal"}

// On is where something is drawn: a layer of a cell, and what is to be known of where it comes from.
type On struct {
	Cell   int64 // dossier.Frame: the die itself
	Layer  string
	Origin Origin
}

// shape returns a shape without polygon.
func (on On) shape() dossier.Shape {
	o := on.Origin
	if o.Method == "" {
		o.Method = methods[0]
	}
	return dossier.Shape{Cell: on.Cell, Layer: on.Layer, Method: o.Method, Shot: o.Shot, File: o.File, SigmaNm: o.SigmaNm}
}

// check returns an error where nothing can be drawn.
func (on On) check(tx *dossier.Tx) error {
	s := on.shape()
	if !slices.Contains(methods, s.Method) {
		return fmt.Errorf("%q is no way to draw a shape: say %s", s.Method, list(methods))
	}
	if !(s.SigmaNm >= 0 && s.SigmaNm <= geom.Limit) {
		return fmt.Errorf("an uncertainty of %g nm: give a standard deviation, 0 or more", s.SigmaNm)
	}
	if err := checkCell(tx, on.Cell); err != nil {
		return err
	}
	if s.Shot != 0 {
		shots, err := tx.Shots()
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(shots, func(shot dossier.Shot) bool { return shot.ID == s.Shot }) {
			return fmt.Errorf("there is no shot %d to have traced over: take one of the dossier's, or none", s.Shot)
		}
	}
	return checkLayers(tx, on.Layer)
}

// checkLayers returns an error where the stack does not have a layer.
func checkLayers(tx *dossier.Tx, layers ...string) error {
	if len(layers) == 0 {
		return nil
	}
	st, err := tx.Stack()
	if err != nil {
		return err
	}
	names := st.LayerNames()
	for _, l := range layers {
		if !slices.Contains(names, l) {
			return fmt.Errorf("layer %q is not in the stack, which has %s: take one of these, or add it to the stack", l, list(names))
		}
	}
	return nil
}

func list(names []string) string { return strings.Join(names, ", ") }

// place says a point in µm.
func place(p geom.Point) string { return fmt.Sprintf("(%g, %g) µm", um(p.X), um(p.Y)) }

func um(nm int) float64 { return float64(nm) / 1000 }

// remedies say what to do about a fault.
var remedies = map[geom.FaultKind]string{
	geom.NoRing:       "give a ring of three points or more",
	geom.FewPoints:    "give three points or more, or delete it",
	geom.BeyondFrame:  "keep nearer to the origin",
	geom.TwicePoint:   "leave one of the two out",
	geom.Crosses:      "move a corner, or draw two shapes",
	geom.Touches:      "leave a gap of 1 nm or more there, or draw two shapes",
	geom.Overlaps:     "leave the spike out",
	geom.OutsideOuter: "draw it as a shape of its own",
	geom.InsideHole:   "draw it as a shape of its own",
	geom.SameSense:    "leave it out",
}

// valid returns an error where a polygon is not a valid one.
func valid(layer string, pg geom.Polygon) error {
	if f, bad := pg.Fault(); bad {
		return fmt.Errorf("%s: %s: %s", layer, f, remedies[f.Kind])
	}
	return nil
}

// oriented returns a polygon without repeated points, its largest ring counterclockwise and first, the others clockwise.
func oriented(pg geom.Polygon) geom.Polygon {
	out := geom.Polygon{}
	for _, r := range pg {
		out = append(out, geom.Ring(pen.ClosedOutline(slices.Clone(r))))
	}
	outer := 0
	for i, r := range out {
		if a, b := r.Bounds(), out[outer].Bounds(); len(r) > 0 && a.Union(b) == a {
			outer = i
		}
	}
	if len(out) > 0 {
		out = slices.Concat(out[outer:outer+1], out[:outer], out[outer+1:])
	}
	for i, r := range out {
		if i == 0 && r.Sense() < 0 || i > 0 && r.Sense() > 0 {
			slices.Reverse(r)
		}
	}
	return out
}

// put writes a shape with a valid polygon, a new one where it has no id.
func put(tx *dossier.Tx, s *dossier.Shape) error {
	if err := valid(s.Layer, s.Polygon); err != nil {
		return err
	}
	return keep(tx, s)
}

// keep writes a shape as it is, if it stays within the frame wherever its cell is placed.
func keep(tx *dossier.Tx, s *dossier.Shape) error {
	if err := fits(tx, s.Cell, s.Polygon.Bounds()); err != nil {
		return fmt.Errorf("%s: %w", s.Layer, err)
	}
	if s.ID == 0 {
		return tx.AddShape(s)
	}
	return tx.SetShape(s)
}

// addAll adds shapes that differ in their polygons only, all of them valid, and returns their ids.
func addAll(tx *dossier.Tx, like dossier.Shape, pgs []geom.Polygon) (ids []int64, err error) {
	box := geom.EmptyRect()
	for _, pg := range pgs {
		if err := valid(like.Layer, pg); err != nil {
			return nil, err
		}
		box = box.Union(pg.Bounds())
	}
	if err := fits(tx, like.Cell, box); err != nil {
		return nil, fmt.Errorf("%s: %w", like.Layer, err)
	}
	for _, pg := range pgs {
		like.Polygon = pg
		if err := tx.AddShape(&like); err != nil {
			return nil, err
		}
		ids = append(ids, like.ID)
	}
	return ids, nil
}

// replace gives a shape the polygons that it has become: the first keeps its id, others are new, and none is the end of it.
func replace(tx *dossier.Tx, s dossier.Shape, pgs []geom.Polygon) ([]int64, error) {
	if len(pgs) == 0 {
		return nil, tx.RemoveShape(s.ID)
	}
	first := s
	first.Polygon = pgs[0]
	if err := put(tx, &first); err != nil {
		return nil, err
	}
	more, err := addAll(tx, s, pgs[1:])
	return append([]int64{s.ID}, more...), err
}

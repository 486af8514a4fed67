package edit

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// Vertex is a corner of a shape, or the edge from that corner to the next one: a ring of its polygon and a point of the
// ring, both counted from 0.
type Vertex struct{ Ring, Index int }

// MoveVertex moves a corner of a shape.
func MoveVertex(tx *dossier.Tx, shape int64, v Vertex, to geom.Point) error {
	return reshape(tx, shape, v, func(r geom.Ring) geom.Ring {
		r[v.Index] = to
		return r
	})
}

// MoveEdge moves both ends of an edge of a shape.
func MoveEdge(tx *dossier.Tx, shape int64, v Vertex, by geom.Point) error {
	return reshape(tx, shape, v, func(r geom.Ring) geom.Ring {
		next := (v.Index + 1) % len(r)
		r[v.Index], r[next] = r[v.Index].Add(by), r[next].Add(by)
		return r
	})
}

// InsertVertex adds a corner in an edge of a shape.
func InsertVertex(tx *dossier.Tx, shape int64, edge Vertex, at geom.Point) error {
	return reshape(tx, shape, edge, func(r geom.Ring) geom.Ring { return slices.Insert(r, edge.Index+1, at) })
}

// RemoveVertex removes a corner of a shape. A hole of three corners goes with its corner; the outer ring keeps three.
func RemoveVertex(tx *dossier.Tx, shape int64, v Vertex) error {
	return reshape(tx, shape, v, func(r geom.Ring) geom.Ring {
		if len(r) == 3 && v.Ring > 0 {
			return nil
		}
		return slices.Delete(r, v.Index, v.Index+1)
	})
}

// reshape changes one ring of a shape; nil: the ring goes.
func reshape(tx *dossier.Tx, shape int64, v Vertex, change func(geom.Ring) geom.Ring) error {
	shapes, err := tx.ShapesWith(shape)
	if err != nil {
		return err
	}
	s := &shapes[0]
	if v.Ring < 0 || v.Ring >= len(s.Polygon) || v.Index < 0 || v.Index >= len(s.Polygon[v.Ring]) {
		return fmt.Errorf("%s: shape %d at %s has no point %d in a ring %d: count both from 0", s.Layer, s.ID, place(s.Polygon[0][0]), v.Index, v.Ring)
	}
	_, before := s.Polygon.Fault()
	r := change(s.Polygon[v.Ring])
	if r == nil {
		s.Polygon = slices.Delete(s.Polygon, v.Ring, v.Ring+1)
	} else {
		s.Polygon[v.Ring] = r
	}
	if err = put(tx, s); err != nil && before {
		err = fmt.Errorf("%w; the shape was not valid before, either: resolve it first", err)
	}
	return err
}

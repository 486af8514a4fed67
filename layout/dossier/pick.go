package dossier

import (
	"database/sql"
	"encoding/json"

	"undermetal/layout/geom"
)

// ShapesWith returns the shapes with these ids, in their order. One that is not there is an ErrMissing that says which.
func (r reads) ShapesWith(ids ...int64) ([]Shape, error) {
	return pick(r, ids, "shape", "SELECT "+shapeColumns+" FROM shape s WHERE id IN (SELECT value FROM json_each(?))", scanShape, func(s Shape) int64 { return s.ID })
}

// LabelsWith returns the labels with these ids, as ShapesWith does.
func (r reads) LabelsWith(ids ...int64) ([]Label, error) {
	return pick(r, ids, "label", "SELECT "+labelColumns+" FROM label WHERE id IN (SELECT value FROM json_each(?))", scanLabel, func(l Label) int64 { return l.ID })
}

// PlacementsWith returns the placements with these ids, as ShapesWith does.
func (r reads) PlacementsWith(ids ...int64) ([]Placement, error) {
	return pick(r, ids, "placement", "SELECT "+placementColumns+" FROM placement WHERE id IN (SELECT value FROM json_each(?))", scanPlacement, func(p Placement) int64 { return p.ID })
}

// pick reads rows by their ids and puts them in order.
func pick[T any](r reads, ids []int64, what, text string, row func(scan func(...any) error) (T, error), id func(T) int64) ([]T, error) {
	if len(ids) == 0 {
		return nil, nil
	}
	list, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	found, err := query(r, text, row, string(list))
	if err != nil {
		return nil, err
	}
	byID := make(map[int64]T, len(found))
	for _, v := range found {
		byID[id(v)] = v
	}
	all := make([]T, 0, len(ids))
	for _, i := range ids {
		v, ok := byID[i]
		if !ok {
			return nil, missing("%s %d", what, i)
		}
		all = append(all, v)
	}
	return all, nil
}

// PlacementsOf returns where a cell is placed.
func (r reads) PlacementsOf(child int64) ([]Placement, error) {
	return query(r, "SELECT "+placementColumns+" FROM placement WHERE child = ? ORDER BY id", scanPlacement, child)
}

// ShapesBox returns the box around a cell's own shapes, empty where it has none.
func (r reads) ShapesBox(cell int64) (geom.Rect, error) {
	return one(r, sql.ErrNoRows, "SELECT count(*), coalesce(min(x0), 0), coalesce(min(y0), 0), coalesce(max(x1), 0), coalesce(max(y1), 0) FROM shape WHERE cell = ?",
		func(scan func(...any) error) (b geom.Rect, err error) {
			var n int
			err = scan(&n, &b.Min.X, &b.Min.Y, &b.Max.X, &b.Max.Y)
			if n == 0 {
				b = geom.EmptyRect()
			}
			return b, err
		}, cell)
}

// ShapesFromFile returns the ids of the shapes that were read from a file of a name, by cell.
func (r reads) ShapesFromFile(name string) (map[int64][]int64, error) {
	type row struct{ id, cell int64 }
	rows, err := query(r, "SELECT id, cell FROM shape WHERE method = 'file' AND file = ? ORDER BY id", func(scan func(...any) error) (v row, err error) {
		return v, scan(&v.id, &v.cell)
	}, name)
	if err != nil || len(rows) == 0 {
		return nil, err
	}
	byCell := map[int64][]int64{}
	for _, v := range rows {
		byCell[v.cell] = append(byCell[v.cell], v.id)
	}
	return byCell, nil
}

// CountShapes returns how many shapes a cell has of its own.
func (r reads) CountShapes(cell int64) (int, error) {
	return r.count("SELECT count(*) FROM shape WHERE cell = ?", cell)
}

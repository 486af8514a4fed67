package dossier

import (
	"database/sql"
	"fmt"

	"undermetal/layout/geom"
)

// Shape is a polygon on a layer of a cell, with where it comes from.
type Shape struct {
	ID      int64
	Cell    int64
	Layer   string
	Polygon geom.Polygon
	Method  string  // "hand", "file", "automatic" or "heal"
	Shot    int64   // that it was traced over; 0: none
	File    string  // that it was read from
	SigmaNm float64 // standard uncertainty of where its edges lie
}

func (s *Shape) values() ([]any, error) {
	if err := checkPolygon(s.Polygon); err != nil {
		return nil, fmt.Errorf("shape on %s: %w", s.Layer, err)
	}
	if err := finite(s.SigmaNm); err != nil {
		return nil, fmt.Errorf("shape on %s: %w", s.Layer, err)
	}
	box := s.Polygon.Bounds()
	return []any{s.Cell, s.Layer, packPolygon(s.Polygon), box.Min.X, box.Min.Y, box.Max.X, box.Max.Y, s.Method, sql.NullInt64{Int64: s.Shot, Valid: s.Shot != 0}, s.File, s.SigmaNm}, nil
}

func scanShape(scan func(...any) error) (s Shape, err error) {
	var polygon []byte
	var shot sql.NullInt64
	if err := scan(&s.ID, &s.Cell, &s.Layer, &polygon, &s.Method, &shot, &s.File, &s.SigmaNm); err != nil {
		return s, err
	}
	s.Shot = shot.Int64
	s.Polygon, err = unpackPolygon(polygon)
	if err != nil {
		err = fmt.Errorf("shape %d on %s: %w", s.ID, s.Layer, err)
	}
	return s, err
}

const shapeColumns = "s.id, s.cell, s.layer, s.polygon, s.method, s.shot, s.file, s.sigma_nm"

// AddShape adds a shape and sets its ID.
func (tx *Tx) AddShape(s *Shape) error {
	values, err := s.values()
	if err == nil {
		s.ID, err = tx.insert("shape", values...)
	}
	return err
}

// SetShape changes a shape.
func (tx *Tx) SetShape(s *Shape) error {
	values, err := s.values()
	if err == nil {
		err = tx.update("shape", s.ID, values...)
	}
	return err
}

// RemoveShape removes a shape.
func (tx *Tx) RemoveShape(id int64) error { return tx.remove("shape", id) }

// Shapes returns the shapes of a cell in the order in which they were added.
func (r reads) Shapes(cell int64) ([]Shape, error) {
	return query(r, "SELECT "+shapeColumns+" FROM shape s WHERE cell = ? ORDER BY id", scanShape, cell)
}

// ShapesIn returns the shapes of a cell whose boxes meet a rectangle in the cell's coordinates.
func (r reads) ShapesIn(cell int64, box geom.Rect) ([]Shape, error) {
	return query(r, shapesIn, scanShape, box.Max.X, box.Min.X, box.Max.Y, box.Min.Y, cell)
}

// CROSS JOIN has SQLite ask the index of boxes first; it would take all shapes of the cell, one by one.
const shapesIn = "SELECT " + shapeColumns + " FROM shape_box b CROSS JOIN shape s ON s.id = b.id WHERE b.x0 <= ? AND b.x1 >= ? AND b.y0 <= ? AND b.y1 >= ? AND s.cell = ? ORDER BY s.id"

// Cell is a drawing that is used more than once. That with the id Frame is the die.
type Cell struct {
	ID   int64
	Name string
}

// Cells returns all cells; the die comes first.
func (r reads) Cells() ([]Cell, error) {
	return query(r, "SELECT id, name FROM cell ORDER BY id <> 1, id", func(scan func(...any) error) (c Cell, err error) { return c, scan(&c.ID, &c.Name) })
}

// AddCell adds an empty cell and sets its ID.
func (tx *Tx) AddCell(c *Cell) (err error) {
	if err = checkName(c.Name); err == nil {
		c.ID, err = tx.insert("cell", c.Name)
	}
	return err
}

// SetCell gives a cell another name.
func (tx *Tx) SetCell(c *Cell) error {
	if err := checkName(c.Name); err != nil {
		return err
	}
	return tx.update("cell", c.ID, c.Name)
}

func checkName(name string) error {
	if name == "" {
		return fmt.Errorf("a name is empty: give one")
	}
	return nil
}

// RemoveCell removes a cell with all that is in it and wherever it is placed. Verdicts stay, with its name.
func (tx *Tx) RemoveCell(id int64) error {
	if id == Frame {
		return fmt.Errorf("the die itself cannot be removed")
	}
	if _, err := tx.exec("UPDATE verdict SET lost = (SELECT name FROM cell WHERE id = ?1) WHERE cell = ?1", id); err != nil {
		return err
	}
	return tx.remove("cell", id)
}

// Placement puts a cell into another, as layout.Placement does.
type Placement struct {
	ID            int64
	Parent, Child int64
	Name          string
	Mirror        bool
	Magnification float64
	Degrees       float64
	At            geom.Point
	Columns, Rows int
	ColumnExtent  geom.Vec
	RowExtent     geom.Vec
}

// check returns an error that says what of a placement cannot be.
func (p *Placement) check() error {
	if err := finite(p.Magnification, p.Degrees, p.ColumnExtent.X, p.ColumnExtent.Y, p.RowExtent.X, p.RowExtent.Y); err != nil {
		return fmt.Errorf("placement %q: %w", p.Name, err)
	}
	if !(p.Magnification > 0) {
		return fmt.Errorf("placement %q: a magnification of %g: give one above 0", p.Name, p.Magnification)
	}
	if p.Columns < 1 || p.Rows < 1 || p.Columns > maxMembers || p.Rows > maxMembers {
		return fmt.Errorf("placement %q: %d × %d members: 1 to %d each way", p.Name, p.Columns, p.Rows, maxMembers)
	}
	return checkPoint(p.At)
}

// maxMembers is the most members that an array has in one direction: as many as GDSII can say.
const maxMembers = 1<<15 - 1

func (p *Placement) values() ([]any, error) {
	return []any{p.Parent, p.Child, p.Name, p.Mirror, p.Magnification, p.Degrees, p.At.X, p.At.Y, p.Columns, p.Rows, p.ColumnExtent.X, p.ColumnExtent.Y, p.RowExtent.X, p.RowExtent.Y}, p.check()
}

// AddPlacement adds a placement and sets its ID. A cell that contains itself at the end of the edit is an error then.
func (tx *Tx) AddPlacement(p *Placement) error {
	values, err := p.values()
	if err != nil {
		return err
	}
	tx.placed = true
	p.ID, err = tx.insert("placement", values...)
	return err
}

// SetPlacement changes a placement.
func (tx *Tx) SetPlacement(p *Placement) error {
	values, err := p.values()
	if err != nil {
		return err
	}
	tx.placed = true
	return tx.update("placement", p.ID, values...)
}

// checkCycles returns an error where a cell contains itself.
func (r reads) checkCycles() error {
	n, err := r.count("WITH RECURSIVE inside (top, cell) AS (SELECT parent, child FROM placement UNION SELECT inside.top, p.child FROM inside JOIN placement p ON p.parent = inside.cell) SELECT count(*) FROM inside WHERE top = cell")
	if err == nil && n > 0 {
		err = fmt.Errorf("a cell would contain itself, by what it places")
	}
	return err
}

// RemovePlacement removes a placement.
func (tx *Tx) RemovePlacement(id int64) error { return tx.remove("placement", id) }

// Placements returns what a cell places.
func (r reads) Placements(parent int64) ([]Placement, error) {
	return query(r, "SELECT "+placementColumns+" FROM placement WHERE parent = ? ORDER BY id", scanPlacement, parent)
}

const placementColumns = "id, parent, child, name, mirror, magnification, degrees, x, y, columns, rows, column_x, column_y, row_x, row_y"

func scanPlacement(scan func(...any) error) (p Placement, err error) {
	if err := scan(&p.ID, &p.Parent, &p.Child, &p.Name, &p.Mirror, &p.Magnification, &p.Degrees, &p.At.X, &p.At.Y, &p.Columns, &p.Rows, &p.ColumnExtent.X, &p.ColumnExtent.Y, &p.RowExtent.X, &p.RowExtent.Y); err != nil {
		return p, err
	}
	return p, p.check()
}

// Area is a traced area: a region of a layer that was really looked at, in the frame.
type Area struct {
	ID      int64
	Layer   string
	Polygon geom.Polygon
}

// AddArea adds a traced area and sets its ID.
func (tx *Tx) AddArea(a *Area) (err error) {
	if err = checkPolygon(a.Polygon); err == nil {
		a.ID, err = tx.insert("traced_area", a.Layer, packPolygon(a.Polygon))
	}
	return err
}

// SetArea changes a traced area.
func (tx *Tx) SetArea(a *Area) error {
	if err := checkPolygon(a.Polygon); err != nil {
		return err
	}
	return tx.update("traced_area", a.ID, a.Layer, packPolygon(a.Polygon))
}

// RemoveArea removes a traced area.
func (tx *Tx) RemoveArea(id int64) error { return tx.remove("traced_area", id) }

// Areas returns all traced areas.
func (r reads) Areas() ([]Area, error) {
	return query(r, "SELECT id, layer, polygon FROM traced_area ORDER BY id", func(scan func(...any) error) (a Area, err error) {
		var polygon []byte
		if err := scan(&a.ID, &a.Layer, &polygon); err != nil {
			return a, err
		}
		a.Polygon, err = unpackPolygon(polygon)
		return a, err
	})
}

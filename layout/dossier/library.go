package dossier

import (
	"errors"
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Library returns the drawing as the engine takes it, with the layers of the dossier's stack, as it is at one moment.
// The first cell is the die. A layer that the stack does not have is an error that names it.
func (d *Dossier) Library() (lib *layout.Library, err error) {
	err = d.Moment(func(m Moment) error { lib, err = m.readLibrary(); return err })
	return lib, err
}

// Library is Dossier.Library within a reading of several tables.
func (m Moment) Library() (*layout.Library, error) { return m.readLibrary() }

// Library is Dossier.Library within an edit, with what the edit has written.
func (tx *Tx) Library() (*layout.Library, error) { return tx.readLibrary() }

func (r reads) readLibrary() (*layout.Library, error) {
	st, err := r.Stack()
	if err != nil {
		return nil, err
	}
	lib := &layout.Library{Layers: st.LayerNames()}
	layer := func(name, what string) (layout.Layer, error) {
		l, ok := lib.LayerNamed(name)
		if !ok {
			return 0, fmt.Errorf("%s on layer %q, which the stack does not have: undermetal stack add-layer adds it", what, name)
		}
		return l, nil
	}
	cells, err := r.Cells()
	if err != nil {
		return nil, err
	}
	if len(cells) == 0 || cells[0].ID != Frame {
		return nil, errors.New("the die itself is missing: the file is damaged")
	}
	byID := map[int64]*layout.Cell{}
	for _, c := range cells {
		cell := &layout.Cell{Name: c.Name}
		byID[c.ID] = cell
		lib.Cells = append(lib.Cells, cell)
	}
	for _, c := range cells {
		if err := r.fill(byID[c.ID], c.ID, byID, layer); err != nil {
			return nil, fmt.Errorf("cell %q: %w", c.Name, err)
		}
	}
	areas, err := r.Areas()
	if err != nil {
		return nil, err
	}
	for _, a := range areas {
		l, err := layer(a.Layer, "a traced area")
		if err != nil {
			return nil, err
		}
		lib.Traced = append(lib.Traced, layout.Shape{Layer: l, Polygon: a.Polygon})
	}
	return lib, r.checkCycles()
}

// fill reads what is in a cell.
func (r reads) fill(cell *layout.Cell, id int64, byID map[int64]*layout.Cell, layer func(name, what string) (layout.Layer, error)) error {
	shapes, err := r.Shapes(id)
	if err != nil {
		return err
	}
	for _, s := range shapes {
		l, err := layer(s.Layer, "a shape")
		if err != nil {
			return err
		}
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: l, Polygon: s.Polygon})
	}
	labels, err := r.Labels(id)
	if err != nil {
		return err
	}
	for _, v := range labels {
		l, err := layer(v.Layer, "label "+v.Text)
		if err != nil {
			return err
		}
		cell.Labels = append(cell.Labels, layout.Label{Layer: l, At: v.At, Text: v.Text})
	}
	placements, err := r.Placements(id)
	for _, p := range placements {
		if byID[p.Child] == nil {
			return fmt.Errorf("placement %d is of a cell that is not there: the file is damaged", p.ID)
		}
		cell.Placements = append(cell.Placements, layout.Placement{Name: p.Name, Cell: byID[p.Child], Transform: geom.NewTransform(p.Mirror, p.Magnification, p.Degrees, p.At),
			Columns: p.Columns, Rows: p.Rows, ColumnExtent: p.ColumnExtent, RowExtent: p.RowExtent})
	}
	return err
}

// UsedLayers returns the names of all layers that something lies on, in the order of the alphabet.
func (r reads) UsedLayers() ([]string, error) {
	return query(r, "SELECT layer FROM shape UNION SELECT layer FROM traced_area UNION SELECT layer FROM label UNION SELECT layer FROM verdict WHERE layer <> '' ORDER BY 1", scanString)
}

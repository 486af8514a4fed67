package dossier

import (
	"errors"
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Library returns the drawing as the engine takes it, with the layers of the dossier's stack, as it is at one moment.
// The first cell is the die. A layer that the stack does not have is an error that names it.
func (d *Dossier) Library() (lib *layout.Library, err error) {
	err = d.Moment(func(m Moment) error { lib, err = (&drawing{reads: m.reads}).assemble(); return err })
	return lib, err
}

// Library is Dossier.Library within a reading of several tables.
func (m Moment) Library() (*layout.Library, error) { return (&drawing{reads: m.reads}).assemble() }

// Library is Dossier.Library within an edit, with what the edit has written.
func (tx *Tx) Library() (*layout.Library, error) { return (&drawing{reads: tx.reads}).assemble() }

// Origin is where shapes come from, as Shape says it.
type Origin struct {
	Method  string
	Shot    int64
	File    string
	SigmaNm float64
}

// Origins says where each shape of a library comes from.
type Origins map[*layout.Shape]*Origin

// Excerpt returns the drawing as Library does, but only what lies on some layers, with where the shapes come from.
func (d *Dossier) Excerpt(layers ...string) (lib *layout.Library, origins Origins, err error) {
	b := &drawing{only: layers, origins: Origins{}, same: map[Origin]*Origin{}}
	err = d.Moment(func(m Moment) error { b.reads = m.reads; lib, err = b.assemble(); return err })
	return lib, b.origins, err
}

// drawing reads a library.
type drawing struct {
	reads
	only    []string // the layers that are wanted; nil: all
	origins Origins  // nil: not wanted
	same    map[Origin]*Origin
	lib     *layout.Library
}

// layer returns a layer of the library; wanted is false of one that the stack has and nobody wants.
func (r *drawing) layer(name, what string, all []string) (l layout.Layer, wanted bool, err error) {
	if l, ok := r.lib.LayerNamed(name); ok {
		return l, true, nil
	}
	if slices.Contains(all, name) {
		return 0, false, nil
	}
	return 0, false, fmt.Errorf("%s on layer %q, which the stack does not have: undermetal stack add-layer adds it", what, name)
}

// assemble makes a library of what the dossier holds.
func (r *drawing) assemble() (*layout.Library, error) {
	st, err := r.Stack()
	if err != nil {
		return nil, err
	}
	all := st.LayerNames()
	lib := &layout.Library{Layers: all}
	if r.only != nil {
		lib.Layers = slices.DeleteFunc(slices.Clone(all), func(name string) bool { return !slices.Contains(r.only, name) })
	}
	r.lib = lib
	layer := func(name, what string) (layout.Layer, bool, error) { return r.layer(name, what, all) }
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
		l, wanted, err := layer(a.Layer, "a traced area")
		if err != nil {
			return nil, err
		}
		if !wanted {
			continue
		}
		lib.Traced = append(lib.Traced, layout.Shape{Layer: l, Polygon: a.Polygon})
	}
	if err := r.verdicts(byID, layer); err != nil {
		return nil, err
	}
	return lib, r.checkCycles()
}

// verdicts gives the verdicts to their cells; those of cells that are gone are listed.
func (r *drawing) verdicts(byID map[int64]*layout.Cell, layer func(name, what string) (layout.Layer, bool, error)) error {
	verdicts, err := r.Verdicts()
	if err != nil {
		return err
	}
	for _, v := range verdicts {
		w := layout.Verdict{At: v.At, Kind: v.Kind, Reading: v.Reading}
		cell, wanted := byID[v.Cell], true
		if v.Layer != "" {
			if w.Layer, wanted, err = layer(v.Layer, "verdict "+v.Kind); err != nil {
				return err
			}
		}
		switch {
		case !wanted:
		case cell == nil:
			r.lib.Lost = append(r.lib.Lost, layout.LostVerdict{Verdict: w, Cell: v.Lost})
		case v.Layer == "":
			r.lib.Lost = append(r.lib.Lost, layout.LostVerdict{Verdict: w, Cell: cell.Name})
		default:
			cell.Verdicts = append(cell.Verdicts, w)
		}
	}
	return nil
}

// fill reads what is in a cell.
func (r *drawing) fill(cell *layout.Cell, id int64, byID map[int64]*layout.Cell, layer func(name, what string) (layout.Layer, bool, error)) error {
	shapes, err := r.Shapes(id)
	if err != nil {
		return err
	}
	var from []*Origin
	for i := range shapes {
		s := &shapes[i]
		l, wanted, err := layer(s.Layer, "a shape")
		if err != nil {
			return err
		}
		if !wanted {
			continue
		}
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: l, Polygon: s.Polygon})
		from = append(from, r.origin(s))
	}
	if r.origins != nil { // only now do the shapes stay where they are
		for i := range cell.Shapes {
			r.origins[&cell.Shapes[i]] = from[i]
		}
	}
	labels, err := r.Labels(id)
	if err != nil {
		return err
	}
	for _, v := range labels {
		l, wanted, err := layer(v.Layer, "label "+v.Text)
		if err != nil {
			return err
		}
		if !wanted {
			continue
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

// origin returns where a shape comes from; one value for all shapes that come from the same.
func (r *drawing) origin(s *Shape) *Origin {
	if r.origins == nil {
		return nil
	}
	o := Origin{s.Method, s.Shot, s.File, s.SigmaNm}
	if r.same[o] == nil {
		r.same[o] = &o
	}
	return r.same[o]
}

// UsedLayers returns the names of all layers that something lies on, in the order of the alphabet.
func (r reads) UsedLayers() ([]string, error) {
	return query(r, "SELECT layer FROM shape UNION SELECT layer FROM traced_area UNION SELECT layer FROM label UNION SELECT layer FROM verdict WHERE layer <> '' ORDER BY 1", scanString)
}

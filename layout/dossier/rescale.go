package dossier

import (
	"errors"
	"fmt"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// Rescale makes all lengths of the frame longer by a factor, about its origin: shapes, traced areas, placements, labels,
// verdicts, notes, blocks, biases, and the frame's side of control points and registrations. It is for a calibration that was
// wrong. What would leave the frame is an error.
func (tx *Tx) Rescale(factor float64) error {
	if !(factor >= 1e-6 && factor <= 1e6) {
		return fmt.Errorf("a factor of %g: give one from 1e-6 to 1e6", factor)
	}
	scaled := func(p geom.Point) geom.Point { return geom.Vec{X: float64(p.X), Y: float64(p.Y)}.Scale(factor).Round() }
	return tx.mapDrawing(scaled, factor)
}

// mapDrawing replaces every place by what to says, and every extent by factor times it.
func (tx *Tx) mapDrawing(to func(geom.Point) geom.Point, factor float64) error {
	cells, err := tx.Cells()
	if err != nil {
		return err
	}
	for _, c := range cells {
		for _, f := range []func(int64, func(geom.Point) geom.Point, float64) error{tx.mapShapes, tx.mapPlacements, tx.mapLabels} {
			if err := f(c.ID, to, factor); err != nil {
				return err
			}
		}
	}
	for _, f := range []func(func(geom.Point) geom.Point, float64) error{tx.mapRegions, tx.mapMarks, tx.mapBiases, tx.mapControlPoints, tx.mapRegistrations} {
		if err := f(to, factor); err != nil {
			return err
		}
	}
	return nil
}

func mapPolygon(pg geom.Polygon, to func(geom.Point) geom.Point) {
	for _, r := range pg {
		for i := range r {
			r[i] = to(r[i])
		}
	}
}

func (tx *Tx) mapShapes(cell int64, to func(geom.Point) geom.Point, factor float64) error {
	all, err := tx.Shapes(cell)
	for i := 0; i < len(all) && err == nil; i++ {
		mapPolygon(all[i].Polygon, to)
		all[i].SigmaNm *= factor
		err = tx.SetShape(&all[i])
	}
	return err
}

func (tx *Tx) mapPlacements(cell int64, to func(geom.Point) geom.Point, factor float64) error {
	all, err := tx.Placements(cell)
	for i := 0; i < len(all) && err == nil; i++ {
		p := &all[i]
		p.At = to(p.At)
		p.ColumnExtent, p.RowExtent = p.ColumnExtent.Scale(factor), p.RowExtent.Scale(factor)
		err = tx.SetPlacement(p)
	}
	return err
}

func (tx *Tx) mapLabels(cell int64, to func(geom.Point) geom.Point, _ float64) error {
	all, err := tx.Labels(cell)
	for i := 0; i < len(all) && err == nil; i++ {
		all[i].At = to(all[i].At)
		err = tx.SetLabel(&all[i])
	}
	return err
}

// mapRegions is for traced areas and blocks.
func (tx *Tx) mapRegions(to func(geom.Point) geom.Point, _ float64) error {
	areas, err := tx.Areas()
	for i := 0; i < len(areas) && err == nil; i++ {
		mapPolygon(areas[i].Polygon, to)
		err = tx.SetArea(&areas[i])
	}
	if err != nil {
		return err
	}
	blocks, err := tx.Blocks()
	for i := 0; i < len(blocks) && err == nil; i++ {
		mapPolygon(blocks[i].Polygon, to)
		err = tx.SetBlock(&blocks[i])
	}
	return err
}

// mapMarks is for verdicts and notes.
func (tx *Tx) mapMarks(to func(geom.Point) geom.Point, _ float64) error {
	verdicts, err := tx.Verdicts()
	for i := 0; i < len(verdicts) && err == nil; i++ {
		verdicts[i].At = to(verdicts[i].At)
		err = tx.SetVerdict(&verdicts[i])
	}
	if err != nil {
		return err
	}
	notes, err := tx.Notes()
	for i := 0; i < len(notes) && err == nil; i++ {
		notes[i].At = to(notes[i].At)
		err = tx.SetNote(&notes[i])
	}
	return err
}

func (tx *Tx) mapBiases(_ func(geom.Point) geom.Point, factor float64) error {
	_, err := tx.exec("UPDATE bias SET out_nm = out_nm * ?, sigma_nm = sigma_nm * ?", factor, factor)
	return err
}

func (tx *Tx) mapControlPoints(_ func(geom.Point) geom.Point, factor float64) error {
	if n, err := tx.count("SELECT count(*) FROM control_point WHERE abs(x) * ?1 > ?2 OR abs(y) * ?1 > ?2", factor, geom.Limit); err != nil {
		return err
	} else if n > 0 {
		return fmt.Errorf("%d control points would leave the frame", n)
	}
	_, err := tx.exec("UPDATE control_point SET x = x * ?, y = y * ?", factor, factor)
	return err
}

// mapRegistrations scales the maps; residuals in pixels stay what they are.
func (tx *Tx) mapRegistrations(_ func(geom.Point) geom.Point, factor float64) error {
	shots, err := tx.Shots()
	if err != nil {
		return err
	}
	for _, s := range shots {
		g, err := tx.Registration(s.ID)
		if errors.Is(err, ErrMissing) {
			continue
		}
		if err != nil {
			return err
		}
		m, err := g.Map()
		if err != nil {
			return fmt.Errorf("the registration of shot %q: %w", s.Name, err)
		}
		m = register.Scaled(m, factor)
		g.Kind, g.Parameters, g.RmsNm = string(m.Kind()), m.Parameters(), g.RmsNm*factor
		if err := tx.SetRegistration(g); err != nil {
			return err
		}
	}
	return nil
}

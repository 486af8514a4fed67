package edit

import (
	"errors"
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// AddArea says that a region of the die was really looked at on a layer, and returns the area's id. Areas of one layer may
// overlap.
func AddArea(tx *dossier.Tx, layer string, pg geom.Polygon) (int64, error) {
	a, err := newArea(tx, layer, pg)
	if err == nil {
		err = tx.AddArea(&a)
	}
	return a.ID, err
}

func newArea(tx *dossier.Tx, layer string, pg geom.Polygon) (a dossier.Area, err error) {
	if err := checkLayers(tx, layer); err != nil {
		return a, err
	}
	a = dossier.Area{Layer: layer, Polygon: oriented(pg)}
	return a, valid("traced area on "+layer, a.Polygon)
}

// HasArea reports whether some areas have that very one on a layer, as AddArea would store it.
func HasArea(areas []dossier.Area, layer string, pg geom.Polygon) bool {
	pg = oriented(pg)
	return slices.ContainsFunc(areas, func(a dossier.Area) bool { return a.Layer == layer && slices.EqualFunc(a.Polygon, pg, slices.Equal) })
}

// ReplaceArea gives a traced area another outline.
func ReplaceArea(tx *dossier.Tx, area int64, pg geom.Polygon) error {
	areas, err := tx.Areas()
	if err != nil {
		return err
	}
	for _, old := range areas {
		if old.ID == area {
			a, err := newArea(tx, old.Layer, pg)
			a.ID = area
			if err == nil {
				err = tx.SetArea(&a)
			}
			return err
		}
	}
	return fmt.Errorf("%w: traced area %d", dossier.ErrMissing, area)
}

// SetAreas replaces all traced areas of a layer and returns the ids of the new ones. A layer without any counts as looked
// at everywhere.
func SetAreas(tx *dossier.Tx, layer string, pgs ...geom.Polygon) (ids []int64, err error) {
	if err := checkLayers(tx, layer); err != nil {
		return nil, err
	}
	areas, err := tx.Areas()
	if err != nil {
		return nil, err
	}
	for _, a := range areas {
		if a.Layer == layer {
			if err := tx.RemoveArea(a.ID); err != nil {
				return nil, err
			}
		}
	}
	for _, pg := range pgs {
		id, err := AddArea(tx, layer, pg)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, nil
}

// RemoveAreas removes traced areas.
func RemoveAreas(tx *dossier.Tx, ids ...int64) (err error) {
	for _, id := range once(ids) {
		if e := tx.RemoveArea(id); e != nil {
			err = errors.Join(err, fmt.Errorf("%w: traced area %d", dossier.ErrMissing, id))
		}
	}
	return err
}

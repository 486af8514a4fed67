package blocks

import (
	"fmt"
	"slices"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// Find returns the block of a name, or an error that wraps dossier.ErrMissing and lists those that there are.
func Find(all []dossier.Block, name string) (*dossier.Block, error) {
	if i := slices.IndexFunc(all, func(b dossier.Block) bool { return b.Name == name }); i >= 0 {
		return &all[i], nil
	}
	return nil, fmt.Errorf("%w: block %q", dossier.ErrMissing, name)
}

// Region makes the region of a block of what some polygons cover together. It is valid but for having as many outer rings as it
// has pieces; none overlaps another. An error says that nothing would be left.
func Region(pgs ...geom.Polygon) (geom.Polygon, error) {
	var all geom.Polygon
	for _, pg := range region.Polygons(region.Union(pgs...)) {
		all = append(all, pg...)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("a region without area")
	}
	return all, nil
}

// Put adds a block, or changes the one with its ID.
func Put(tx *dossier.Tx, b *dossier.Block) error {
	if b.ID != 0 {
		return tx.SetBlock(b)
	}
	return tx.AddBlock(b)
}

package recognise

import (
	"undermetal/layout"
	"undermetal/layout/geom"
)

// LookedAt returns for Options.Looked whether a place was traced on every layer: within one of a layer's areas, where it has any. Nil where
// no layer has, so that all was.
func LookedAt(traced []layout.Shape) func(geom.Point) bool {
	if len(traced) == 0 {
		return nil
	}
	areas := map[layout.Layer][]geom.Polygon{}
	for i := range traced {
		areas[traced[i].Layer] = append(areas[traced[i].Layer], traced[i].Polygon)
	}
	return func(p geom.Point) bool {
		for _, pgs := range areas {
			in := false
			for _, pg := range pgs {
				in = in || pg.Locate(p) != geom.Outside
			}
			if !in {
				return false
			}
		}
		return true
	}
}

package main

import (
	"fmt"
	"io"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// areaText says how large an area is, and where.
func areaText(pg geom.Polygon) string {
	b := pg.Bounds()
	return fmt.Sprintf("%.6g µm² from %s to %s", areaUm2(pg), microns(b.Min), microns(b.Max))
}

// areaUm2 is the area of a valid polygon, in µm².
func areaUm2(pg geom.Polygon) float64 {
	sum := 0.0
	for _, r := range pg {
		sum += r.Area()
	}
	return sum / 1e6
}

// areaJSON is an entry of trace area --json: {"version", "areas"}; places are µm of the frame, the outer ring first.
type areaJSON struct {
	Layer   string         `json:"layer"`
	AreaUm2 float64        `json:"area_um2"`
	Polygon [][][2]float64 `json:"polygon"`
}

func listAreas(w io.Writer, d *dossier.Dossier, asJSON bool) error {
	areas, err := d.Areas()
	if err != nil {
		return err
	}
	all := []areaJSON{}
	p := &printer{w: w}
	for _, a := range areas {
		if !asJSON {
			p.f("%-12s %s\n", a.Layer, areaText(a.Polygon))
			continue
		}
		j := areaJSON{Layer: a.Layer, AreaUm2: areaUm2(a.Polygon)}
		for _, r := range a.Polygon {
			ring := [][2]float64{}
			for _, pt := range r {
				ring = append(ring, place(pt.X, pt.Y))
			}
			j.Polygon = append(j.Polygon, ring)
		}
		all = append(all, j)
	}
	if asJSON {
		return writeList(w, "areas", all)
	}
	if len(areas) == 0 {
		p.f("no traced areas: every layer counts as looked at everywhere\n")
	}
	return p.err
}

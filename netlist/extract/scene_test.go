package extract_test

import (
	"math/rand/v2"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// Outlines in grid squares, all with their lower left corner at the origin.

func outlineBox(w, h int) geom.Ring { return geom.Box(0, 0, w, h).Ring() }

func outlineL(w, h, t int) geom.Ring {
	return geom.Ring{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: t}, {X: t, Y: t}, {X: t, Y: h}, {X: 0, Y: h}}
}

func outlineU(w, h, t int) geom.Ring {
	return geom.Ring{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: w - t, Y: h}, {X: w - t, Y: t}, {X: t, Y: t}, {X: t, Y: h}, {X: 0, Y: h}}
}

func outlineT(w, h, t int) geom.Ring {
	x := (w - t) / 2
	return geom.Ring{{X: x, Y: 0}, {X: x + t, Y: 0}, {X: x + t, Y: h - t}, {X: w, Y: h - t}, {X: w, Y: h}, {X: 0, Y: h}, {X: 0, Y: h - t}, {X: x, Y: h - t}}
}

// outlineComb has a back of height 1 and n teeth of width 1.
func outlineComb(n, h int) geom.Ring {
	r := geom.Ring{{X: 0, Y: 0}, {X: 2*n - 1, Y: 0}}
	for i := n - 1; i >= 0; i-- {
		r = append(r, geom.Point{X: 2*i + 1, Y: h}, geom.Point{X: 2 * i, Y: h})
		if i > 0 {
			r = append(r, geom.Point{X: 2 * i, Y: 1}, geom.Point{X: 2*i - 1, Y: 1})
		}
	}
	return r
}

// outlineSpiral winds inwards once and a half, one square wide.
func outlineSpiral() geom.Ring {
	return geom.Ring{{X: 0, Y: 0}, {X: 8, Y: 0}, {X: 8, Y: 7}, {X: 2, Y: 7}, {X: 2, Y: 2}, {X: 6, Y: 2}, {X: 6, Y: 5}, {X: 4, Y: 5}, {X: 4, Y: 4}, {X: 5, Y: 4},
		{X: 5, Y: 3}, {X: 3, Y: 3}, {X: 3, Y: 6}, {X: 7, Y: 6}, {X: 7, Y: 1}, {X: 0, Y: 1}}
}

// outlineSlit is a frame drawn in one line, out and back along a slit of no width.
func outlineSlit(w, h, t int) geom.Ring {
	return geom.Ring{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}, {X: 0, Y: t}, {X: t, Y: t}, {X: t, Y: h - t}, {X: w - t, Y: h - t}, {X: w - t, Y: t}, {X: 0, Y: t}}
}

// randomOutlines returns one thing in grid squares, as one polygon or several.
func randomOutlines(rnd *rand.Rand) []geom.Polygon {
	w, h, t := 3+rnd.IntN(7), 3+rnd.IntN(7), 1
	switch rnd.IntN(11) {
	case 0:
		return []geom.Polygon{{outlineL(w, h, t)}}
	case 1:
		return []geom.Polygon{{outlineU(w, h, t)}}
	case 2:
		return []geom.Polygon{{outlineT(w, h, t)}}
	case 3:
		return []geom.Polygon{{outlineComb(2+rnd.IntN(3), h)}}
	case 4:
		return []geom.Polygon{{outlineSpiral()}}
	case 5:
		return []geom.Polygon{{outlineSlit(w, h, t)}}
	case 6: // a frame with a hole, or of the other sense
		in := geom.Box(t, t, w-t, h-t).Ring()
		slices.Reverse(in)
		return []geom.Polygon{{outlineBox(w, h), in}}
	case 7: // a frame of four boxes that abut
		return []geom.Polygon{{geom.Box(0, 0, w, t).Ring()}, {geom.Box(0, h-t, w, h).Ring()}, {geom.Box(0, t, t, h-t).Ring()}, {geom.Box(w-t, t, w, h-t).Ring()}}
	case 8: // a bar
		return []geom.Polygon{{outlineBox(1, h)}}
	}
	return []geom.Polygon{{outlineBox(1+rnd.IntN(7), 1+rnd.IntN(7))}}
}

// turnOutline turns by quarters, mirrors by the sign of the last bit, and moves back to the origin.
func turnOutline(pg geom.Polygon, way int) geom.Polygon {
	out := geom.NewTransform(way&4 != 0, 1, float64(90*(way&3)), geom.Point{}).ApplyPolygon(pg)
	return out
}

// rasterScene draws on a grid: shapes of all kinds on all layers, some twice, some of the other sense, contacts of
// several parts, and now and then two wells that touch by an edge or a corner.
func rasterScene(rnd *rand.Rand, pitch int) []layout.Shape {
	var out []layout.Shape
	add := func(l int, x, y int, pg geom.Polygon) {
		m := slices.Clone(pg)
		for i, r := range m {
			m[i] = slices.Clone(r)
			for k, p := range r {
				m[i][k] = geom.Point{X: pitch * min(max(p.X+x, 0), rasterSide-1), Y: pitch * min(max(p.Y+y, 0), rasterSide-1)}
			}
			if rnd.IntN(3) == 0 && len(pg) == 1 {
				slices.Reverse(m[i])
			}
		}
		out = append(out, layout.Shape{Layer: layout.Layer(l), Polygon: m})
		if rnd.IntN(8) == 0 { // twice
			out = append(out, out[len(out)-1])
		}
	}
	place := func() (int, int) { return rnd.IntN(rasterSide - 9), rnd.IntN(rasterSide - 9) }
	weights := []int{diffusion, diffusion, diffusion, poly, poly, poly, metal1, metal1, metal2, nwell, pplus, photo}
	for range 8 + rnd.IntN(26) {
		x, y := place()
		way := rnd.IntN(8)
		l := weights[rnd.IntN(len(weights))]
		for _, pg := range randomOutlines(rnd) {
			pg = turnOutline(pg, way)
			add(l, x+9*((way>>1^way)&1), y+9*(way>>1&1), pg)
		}
	}
	for range rnd.IntN(16) {
		x, y := place()
		l := []int{contact, contact, via1}[rnd.IntN(3)]
		add(l, x, y, geom.Polygon{outlineBox(1+rnd.IntN(3), 1+rnd.IntN(2))})
		if rnd.IntN(3) == 0 {
			add(l, x, y+rnd.IntN(2), geom.Polygon{outlineBox(1, 3)})
		}
	}
	if rnd.IntN(3) == 0 { // wells that touch by an edge, by a corner, or overlap
		x, y := place()
		add(nwell, x, y, geom.Polygon{outlineBox(4, 4)})
		add(nwell, x+4, y+3+rnd.IntN(2), geom.Polygon{outlineBox(4, 4)})
		add(diffusion, x+1, y+1, geom.Polygon{outlineBox(2, 2)})
	}
	return out
}

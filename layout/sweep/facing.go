package sweep

import "math"

// Facing calls meet for each stretch of height in which the same pieces lie on both sides of a border between strips, from
// below. The lists are in order of height, no two pieces of one of them at the same height; ends gives those of a piece. A
// side that has none at a height, while the other one has, shows the zero value.
func Facing[P any](left, right []P, ends func(*P) (y0, y1 float64), meet func(l, r *P, y0, y1 float64)) {
	var none P
	at := func(side *[]P, y float64) (p *P, until float64) { // what lies from y on, and up to where
		for ; len(*side) > 0; *side = (*side)[1:] {
			first := &(*side)[0]
			switch y0, y1 := ends(first); {
			case y1 <= max(y0, y): // passed, or as high as nothing
			case y0 > y:
				return &none, y0
			default:
				return first, y1
			}
		}
		return &none, math.Inf(1)
	}
	for y := math.Inf(-1); len(left)+len(right) > 0; {
		l, l1 := at(&left, y)
		r, r1 := at(&right, y)
		to := min(l1, r1)
		if l != &none || r != &none {
			meet(l, r, y, to)
		}
		y = to
	}
}

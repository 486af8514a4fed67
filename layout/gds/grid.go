package gds

import "math"

// grid takes database units to nanometres: nm = units · num / den, where the quotient must be whole. Both are at
// most 1e9 in size, so that the product with a 32-bit coordinate fits 63 bits.
type grid struct{ num, den int }

const (
	maxUnitNm = 1e5 // 0.1 mm
	minUnitNm = 1e-4
	maxDen    = 10_000
	// unitTolerance forgives the rounding of UNITS, which cannot hold 1e-9 exactly. Over the whole frame of 2^30 nm
	// it is 0.1 nm.
	unitTolerance = 1e-10
)

// newGrid finds the fraction with the smallest denominator that the size of a database unit, in nm, stands for.
func newGrid(unitNm float64) (g grid, ok bool) {
	if !(unitNm >= minUnitNm*(1-unitTolerance) && unitNm <= maxUnitNm*(1+unitTolerance)) {
		return grid{}, false
	}
	for den := 1; den <= maxDen; den++ {
		num := math.Round(unitNm * float64(den))
		if num > 0 && math.Abs(num/float64(den)-unitNm) <= unitTolerance*unitNm {
			return grid{int(num), den}, true
		}
	}
	return grid{}, false
}

// unitNm returns the size of a database unit in nm.
func (g grid) unitNm() float64 { return float64(g.num) / float64(g.den) }

// nm returns v database units in nm; whole is false where they are no whole number.
func (g grid) nm(v int) (nm int, whole bool) {
	n := v * g.num
	return n / g.den, n%g.den == 0
}

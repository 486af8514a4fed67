package measure

import (
	"math"
	"testing"
)

// stepped draws a square of gate and diffusion whose four sides have the same steps, teeth of them, each side that of the next one turned by
// 90°. Source and drain lie at two sides, the others are insulated. Turned by 90° the current's lines and those of equal voltage change
// places, so that W/L is 1 whatever the steps (reciprocal relation of a sheet and its conjugate, textbook).
func (s *sheet) stepped(teeth int) {
	n := float64(teeth)
	side := 4*n + 4 // of the square; a tooth is two wide and one high, two apart
	var right, top, left, bottom []float64
	add := func(p *[]float64, x, y float64) { *p = append(*p, x, y) }
	step := func(p *[]float64, at func(t, z float64) (x, y float64)) {
		for i := range teeth {
			t := 3 + 4*float64(i)
			for _, q := range [][2]float64{{t, 0}, {t, 1}, {t + 2, 1}, {t + 2, 0}} {
				x, y := at(q[0], q[1])
				add(p, x, y)
			}
		}
	}
	step(&right, func(t, z float64) (float64, float64) { return side + z, t })
	step(&top, func(t, z float64) (float64, float64) { return side - t, side + z })
	step(&left, func(t, z float64) (float64, float64) { return -z, side - t })
	step(&bottom, func(t, z float64) (float64, float64) { return t, -z })
	far := side + 10
	gate := append([]float64{side, -10}, right...) // its right and left sides have the steps, and it goes on above and below
	gate = append(append(gate, side, far, 0, far), left...)
	s.add("poly", append(gate, 0, -10))
	diffusion := append([]float64{far, 0, far, side}, top...)
	diffusion = append(append(diffusion, -10, side, -10, 0), bottom...)
	s.add("diffusion", diffusion)
}

// TestManyCorners: an outline with many corners is solved to ManyTolerance, and the bound holds; one with few, and any where a tolerance
// is asked for, is solved to that.
func TestManyCorners(t *testing.T) {
	for _, x := range []struct {
		teeth     int // of a side: sixteen corners each on all four
		opt       SolveOptions
		tolerance float64
	}{{50, SolveOptions{}, ManyTolerance}, {7, SolveOptions{Gradient: true}, ManyTolerance}, {7, SolveOptions{}, ManyTolerance}, {3, SolveOptions{}, DefaultTolerance},
		{7, SolveOptions{Tolerance: 1e-5}, 1e-5}, {7, SolveOptions{Tolerance: 0.01}, 0.01}} {
		s := newSheet(t, 20)
		s.stepped(x.teeth)
		res := s.extract(s.cell, 1)
		sol := solveOf(t, res, x.opt)
		if len(res.Circuit.Devices) != 1 || sol.Solved != 1 || len(res.Outlines) != 1 || len(res.Outlines[0].Rings[0]) != 16*x.teeth+4 {
			t.Errorf("%d teeth: %d devices, %d solved, %v", x.teeth, len(res.Circuit.Devices), sol.Solved, res.Warnings)
			continue
		}
		e := sol.Errors[0]
		if !(e > 0 && e <= x.tolerance) || math.Abs(res.Circuit.Devices[0].Ratio-1) > e {
			t.Errorf("%d teeth: W/L %.8f, with a bound of %g; want 1 within %g", x.teeth, res.Circuit.Devices[0].Ratio, e, x.tolerance)
		}
		if x.tolerance == ManyTolerance && e < DefaultTolerance {
			t.Errorf("%d teeth: solved to %g, as if nobody minded the time", x.teeth, e)
		}
	}
}

// BenchmarkManyCorners times outlines of 804 corners.
func BenchmarkManyCorners(b *testing.B) {
	s := newSheet(b, 20)
	s.stepped(50)
	res := s.extract(s.cell, 1)
	for name, opt := range map[string]SolveOptions{"plain": {Workers: 1}, "gradient": {Workers: 1, Tolerance: 1e-4, Gradient: true}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				solveOf(b, res, opt)
			}
		})
	}
}

package align

import "gonum.org/v1/gonum/mat"

// shading is uneven light: a polynomial of the second degree in x and y.
type shading struct {
	c          [6]float64
	cx, cy, by float64
}

func (s *shading) terms(x, y float64) [6]float64 {
	x, y = (x-s.cx)/s.by, (y-s.cy)/s.by
	return [6]float64{1, x, y, x * x, x * y, y * y}
}

// at is how light it is at a pixel of a window.
func (s *shading) at(w *window, i int) float32 {
	x, y := (float64(w.x+i%w.w)-s.cx)/s.by, (float64(w.y+i/w.w)-s.cy)/s.by
	return float32(s.c[0] + x*(s.c[1]+s.c[3]*x+s.c[4]*y) + y*(s.c[2]+s.c[5]*y))
}

// across is where a window's columns are, for row.
func (s *shading) across(w *window) []float64 {
	x := make([]float64, w.w)
	for i := range x {
		x[i] = (float64(w.x+i) - s.cx) / s.by
	}
	return x
}

// row is at for all pixels of a row.
func (s *shading) row(w *window, y int, across []float64, light []float32) {
	v := (float64(w.y+y) - s.cy) / s.by
	level := v * (s.c[2] + s.c[5]*v)
	for i, x := range across {
		light[i] = float32(s.c[0] + x*(s.c[1]+s.c[3]*x+s.c[4]*v) + level)
	}
}

// newShading fits it to the mean tones of windows, by least squares.
func newShading(all []*window) *shading {
	s := &shading{by: 1}
	for _, w := range all {
		s.cx, s.cy = s.cx+float64(w.x)/float64(len(all)), s.cy+float64(w.y)/float64(len(all))
	}
	for _, w := range all {
		s.by = max(s.by, float64(w.x)-s.cx, s.cx-float64(w.x), float64(w.y)-s.cy, s.cy-float64(w.y))
	}
	normal, right := mat.NewSymDense(6, nil), mat.NewVecDense(6, nil)
	for i := range 6 {
		normal.SetSym(i, i, 1e-3) // where there are too few windows for it
	}
	for _, w := range all {
		mean := 0.0
		for _, t := range w.tone {
			mean += float64(t)
		}
		mean /= float64(len(w.tone))
		p := s.terms(float64(w.x)+float64(w.w)/2, float64(w.y)+float64(w.h)/2)
		row := mat.NewVecDense(6, p[:])
		normal.SymRankOne(normal, 1, row)
		right.AddScaledVec(right, mean, row)
	}
	var c mat.Cholesky
	var found mat.VecDense
	if c.Factorize(normal) && c.SolveVecTo(&found, right) == nil {
		for i := range s.c {
			s.c[i] = found.AtVec(i)
		}
	}
	return s
}

package align

import (
	"math"
	"runtime"
	"sync"
)

// level is b at a resolution, ready to be compared with.
type level struct {
	k float64 // px of the level for one of the full picture
	b *field
}

func newLevel(b halvings, k float64) *level {
	w, h := int(float64(b[0].Width)*k), int(float64(b[0].Height)*k)
	img, valid := b.sample(w, h, scaling(1/k))
	f := newField(img, valid)
	f.subtractMean(16)
	return &level{k, f}
}

// under is a as m puts it over b, at the level's resolution.
func (l *level) under(a halvings, m matrix) *field {
	img, valid := a.sample(l.b.width, l.b.height, scaling(1/l.k).then(m.inverse()))
	return newField(img, valid)
}

// surface says what a patch of b has in common with a at each small step from where a map puts it.
type surface struct {
	x, y  float64 // the patch's middle, px of the level
	reach int
	v     []float32 // (2·reach+1)², by rows; 0 in the mean
}

// surfaces compares all patches of b, side px wide, with a as m puts it over b, up to reach px away.
func (l *level) surfaces(a halvings, m matrix, side, reach int) []surface {
	fa := l.under(a, m)
	columns, rows := (l.b.width-2*reach)/side, (l.b.height-2*reach)/side
	if columns < 1 || rows < 1 {
		return nil
	}
	all := make([]*surface, columns*rows)
	parallel(len(all), func(i int) {
		all[i] = compare(fa, l.b, reach+i%columns*side, reach+i/columns*side, side, reach)
	})
	var kept []surface
	for _, s := range all {
		if s != nil {
			kept = append(kept, *s)
		}
	}
	return kept
}

// compare makes the surface of the patch of fb at (x, y); nil where a does not show its place, or it shows nothing.
func compare(fa, fb *field, x, y, side, reach int) *surface {
	w := fb.width
	valid, energy := 0, 0.0
	for py := y; py < y+side; py++ {
		for i := py*w + x; i < py*w+x+side; i++ {
			if fa.valid[i] && fb.valid[i] {
				valid++
				energy += square(fb.v[i])
			}
		}
	}
	if valid < side*side*8/10 || energy == 0 {
		return nil
	}
	n := 2*reach + 1
	s := &surface{x: float64(x) + float64(side)/2, y: float64(y) + float64(side)/2, reach: reach, v: make([]float32, n*n)}
	sum := float32(0)
	for k := range s.v {
		var dot float32
		step := (k/n-reach)*w + k%n - reach
		for py := y; py < y+side; py++ {
			b := fb.v[py*w+x : py*w+x+side]
			a := fa.v[py*w+x+step:]
			a = a[:len(b)]
			for i, vb := range b {
				dot += real(a[i])*real(vb) + imag(a[i])*imag(vb)
			}
		}
		s.v[k] = dot
		sum += dot
	}
	for k := range s.v {
		s.v[k] -= sum / float32(len(s.v))
	}
	return s
}

func square(c complex64) float64 { return float64(real(c)*real(c) + imag(c)*imag(c)) }

// parallel runs f for 0 to n-1 on all processors.
func parallel(n int, f func(i int)) {
	var wg sync.WaitGroup
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	wg.Wait()
}

// smooth is the surface between its places, by cubic interpolation (Catmull-Rom), with its first and second derivatives.
func (s *surface) smooth(dx, dy float64) (v, gx, gy, hxx, hxy, hyy float64) {
	fx, fy := math.Floor(dx), math.Floor(dy)
	r := float64(s.reach)
	if !(fx >= 1-r && fy >= 1-r && fx <= r-2 && fy <= r-2) {
		return
	}
	wx, wx1, wx2 := cubic(dx - fx)
	wy, wy1, wy2 := cubic(dy - fy)
	n := 2*s.reach + 1
	at := (int(fy)-1+s.reach)*n + int(fx) - 1 + s.reach
	for j := range 4 {
		row := s.v[at+j*n : at+j*n+4]
		var a, b, c float64
		for i, z := range row {
			a += wx[i] * float64(z)
			b += wx1[i] * float64(z)
			c += wx2[i] * float64(z)
		}
		v, gx, gy = v+wy[j]*a, gx+wy[j]*b, gy+wy1[j]*a
		hxx, hxy, hyy = hxx+wy[j]*c, hxy+wy1[j]*b, hyy+wy2[j]*a
	}
	return
}

// cubic returns the weights of four neighbours at t between the middle two, with their derivatives.
func cubic(t float64) (w, d, d2 [4]float64) {
	w = [4]float64{t * (-0.5 + t*(1-0.5*t)), 1 + t*t*(-2.5+1.5*t), t * (0.5 + t*(2-1.5*t)), t * t * (-0.5 + 0.5*t)}
	d = [4]float64{-0.5 + t*(2-1.5*t), t * (-5 + 4.5*t), 0.5 + t*(4-4.5*t), t * (-1 + 1.5*t)}
	d2 = [4]float64{2 - 3*t, -5 + 9*t, 4 - 9*t, -1 + 3*t}
	return
}

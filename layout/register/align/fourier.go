package align

import (
	"math"
	"math/cmplx"
)

// transform is a Fourier transform of n × n numbers. It does eight rows or columns at once, which is what makes it several
// times as fast as a library that does one after the other.
type transform struct {
	n      int
	stages []stage
	v, w   []complex128 // of a strip: the n numbers of a row or column, wide times each, side by side
}

// stage is a step of the transform, by one of the factors of n.
type stage struct {
	radix   int
	factors []complex128 // for each of the parts, radix-1 of them
}

// wide is how many rows or columns make a strip.
const wide = 8

// newTransform is for an n that length returns.
func newTransform(n int) *transform {
	t := &transform{n: n, v: make([]complex128, wide*n), w: make([]complex128, wide*n)}
	for rest := n; rest > 1; {
		st := stage{radix: 4}
		for _, p := range []int{4, 2, 3, 5} {
			if rest%p == 0 {
				st.radix = p
				break
			}
		}
		for q := range rest / st.radix {
			for j := 1; j < st.radix; j++ {
				st.factors = append(st.factors, cmplx.Rect(1, -2*math.Pi*float64(q*j)/float64(rest)))
			}
		}
		t.stages = append(t.stages, st)
		rest /= st.radix
	}
	return t
}

func (t *transform) forward(v []complex128) { t.each(v, 1) }

// back is n² times the inverse of forward.
func (t *transform) back(v []complex128) { t.each(v, -1) }

// each does all rows, then all columns; the imaginary parts of what goes in and of what comes out have the sign.
func (t *transform) each(v []complex128, sign float64) {
	for _, steps := range [2][2]int{{t.n, 1}, {1, t.n}} {
		across, along := steps[0], steps[1]
		for first := 0; first < t.n; first += wide {
			lines := min(wide, t.n-first)
			for i := range t.n {
				at := first*across + i*along
				for j := range t.v[i*wide:][:lines] {
					c := v[at+j*across]
					t.v[i*wide+j] = complex(real(c), sign*imag(c))
				}
			}
			t.strip()
			for i := range t.n {
				at := first*across + i*along
				for j, c := range t.v[i*wide:][:lines] {
					v[at+j*across] = complex(real(c), sign*imag(c))
				}
			}
		}
	}
}

// strip transforms a strip, by the way of T. G. Stockham, which leaves the numbers in order (High-speed convolution and
// correlation, 1966, from memory): a stage takes those that are a part of n apart, and puts their sums side by side.
func (t *transform) strip() {
	side := wide // numbers that take the same factors
	for _, st := range t.stages {
		part := len(t.v) / st.radix
		for q := 0; q*side < part; q++ {
			x, y := t.v[q*side:], t.w[q*side*st.radix:]
			w := st.factors[q*(st.radix-1):]
			switch st.radix {
			case 2:
				two(x, x[part:], y[:side], y[side:], w[0])
			case 3:
				three(x, x[part:], x[2*part:], y[:side], y[side:], y[2*side:], w[0], w[1])
			case 4:
				four(x, x[part:], x[2*part:], x[3*part:], y[:side], y[side:], y[2*side:], y[3*side:], w[0], w[1], w[2])
			case 5:
				five([5][]complex128{x, x[part:], x[2*part:], x[3*part:], x[4*part:]}, [5][]complex128{y[:side], y[side:], y[2*side:], y[3*side:], y[4*side:]}, w)
			}
		}
		side *= st.radix
		t.v, t.w = t.w, t.v
	}
}

// These are the transforms of two to five numbers, for as many as y0 has; all sums but the first take a factor.

func two(x0, x1, y0, y1 []complex128, w complex128) {
	x0, x1, y1 = x0[:len(y0)], x1[:len(y0)], y1[:len(y0)]
	for i := range y0 {
		a, b := x0[i], x1[i]
		y0[i], y1[i] = a+b, (a-b)*w
	}
}

func three(x0, x1, x2, y0, y1, y2 []complex128, w1, w2 complex128) {
	n := len(y0)
	x0, x1, x2, y1, y2 = x0[:n], x1[:n], x2[:n], y1[:n], y2[:n]
	for i := range y0 {
		a, sum, d := x0[i], x1[i]+x2[i], x1[i]-x2[i]
		m := complex(real(a)-real(sum)/2, imag(a)-imag(sum)/2)
		side := complex(sin3*imag(d), -sin3*real(d))
		y0[i], y1[i], y2[i] = a+sum, (m+side)*w1, (m-side)*w2
	}
}

func four(x0, x1, x2, x3, y0, y1, y2, y3 []complex128, w1, w2, w3 complex128) {
	n := len(y0)
	x0, x1, x2, x3, y1, y2, y3 = x0[:n], x1[:n], x2[:n], x3[:n], y1[:n], y2[:n], y3[:n]
	for i := range y0 {
		p, q := x0[i]+x2[i], x0[i]-x2[i]
		r, d := x1[i]+x3[i], x1[i]-x3[i]
		s := complex(imag(d), -real(d))
		y0[i], y1[i], y2[i], y3[i] = p+r, (q+s)*w1, (p-r)*w2, (q-s)*w3
	}
}

func five(x, y [5][]complex128, w []complex128) {
	n := len(y[0])
	x0, x1, x2, x3, x4 := x[0][:n], x[1][:n], x[2][:n], x[3][:n], x[4][:n]
	y0, y1, y2, y3, y4 := y[0][:n], y[1][:n], y[2][:n], y[3][:n], y[4][:n]
	w1, w2, w3, w4 := w[0], w[1], w[2], w[3]
	for i := range n {
		a := x0[i]
		p, d := x1[i]+x4[i], x1[i]-x4[i]
		q, e := x2[i]+x3[i], x2[i]-x3[i]
		m := complex(real(a)+cos5*real(p)+cos52*real(q), imag(a)+cos5*imag(p)+cos52*imag(q))
		o := complex(real(a)+cos52*real(p)+cos5*real(q), imag(a)+cos52*imag(p)+cos5*imag(q))
		s := complex(sin5*imag(d)+sin52*imag(e), -sin5*real(d)-sin52*real(e))
		u := complex(sin52*imag(d)-sin5*imag(e), -sin52*real(d)+sin5*real(e))
		y0[i], y1[i], y2[i], y3[i], y4[i] = a+p+q, (m+s)*w1, (o+u)*w2, (o-u)*w3, (m-s)*w4
	}
}

// Sines and cosines of a third, a fifth and two fifths of a turn.
var (
	sin3         = math.Sqrt(3) / 2
	sin5, cos5   = math.Sincos(2 * math.Pi / 5)
	sin52, cos52 = math.Sincos(4 * math.Pi / 5)
)

// length returns the next length that is quick to transform.
func length(n int) int {
	for ; ; n++ {
		r := n
		for _, p := range []int{2, 3, 5} {
			for r%p == 0 {
				r /= p
			}
		}
		if r == 1 {
			return n
		}
	}
}

// whiten makes spatial frequencies count more alike: rails and rows of equal cells are few and strong, what tells one place
// from another is many and weak. The sum of squares stays. v is the transform of n × n real numbers, so that opposite
// frequencies are conjugates.
func whiten(v []complex128, n int) {
	sizes := make([]float64, len(v))
	mean, before, after := 0.0, 0.0, 0.0
	for i, c := range v {
		square := real(c)*real(c) + imag(c)*imag(c)
		sizes[i] = math.Sqrt(square)
		mean, before = mean+sizes[i]/float64(len(v)), before+square
	}
	for i, c := range v {
		if opposite := (n-i/n)%n*n + (n-i%n)%n; opposite < i {
			v[i] = cmplx.Conj(v[opposite])
		} else {
			v[i] = c * complex(math.Exp(-0.7*math.Log(sizes[i]+0.1*mean+1e-30)), 0)
		}
		after += real(v[i])*real(v[i]) + imag(v[i])*imag(v[i])
	}
	k := complex(math.Sqrt(before/max(after, 1e-30)), 0)
	for i := range v {
		v[i] *= k
	}
}

package align

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// transform is a Fourier transform of n × n numbers.
type transform struct {
	n    int
	fft  *fourier.CmplxFFT
	line []complex128
}

func newTransform(n int) *transform {
	return &transform{n, fourier.NewCmplxFFT(n), make([]complex128, 8*n)}
}

func (t *transform) forward(v []complex128) {
	t.each(v, func(line []complex128) { t.fft.Coefficients(line, line) })
}
func (t *transform) back(v []complex128) {
	t.each(v, func(line []complex128) { t.fft.Sequence(line, line) })
}

// each does all rows, then all columns, eight at a time for the sake of the cache.
func (t *transform) each(v []complex128, do func(line []complex128)) {
	n := t.n
	for y := range n {
		do(v[y*n : (y+1)*n])
	}
	for x := 0; x < n; x += 8 {
		wide := min(8, n-x)
		for y := range n {
			for j := range wide {
				t.line[j*n+y] = v[y*n+x+j]
			}
		}
		for j := range wide {
			do(t.line[j*n : (j+1)*n])
		}
		for y := range n {
			for j := range wide {
				v[y*n+x+j] = t.line[j*n+y]
			}
		}
	}
}

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

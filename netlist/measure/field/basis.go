package field

import (
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

const (
	minDegree = 2
	maxDegree = 10
)

// basis holds the integrals of the polynomials of one degree on the triangle (0,0), (1,0), (0,1) with coordinates ξ, η.
//
// The functions are hierarchical: the three barycentric coordinates; for each edge products of its two with Gegenbauer
// polynomials of their difference, which are integrated Legendre polynomials on the edge (P. Solin, K. Segeth, I. Dolezel,
// Higher-Order Finite Element Methods, 2004, from memory); and bubbles, which vanish on the border.
type basis struct {
	degree int
	n      int // functions
	outer  int // of those, how many do not vanish on the border: they come first
	// n×n: ∫∂ξ∂ξ, ∫(∂ξ∂η + ∂η∂ξ), ∫∂η∂η, and ∫(∂ξ∂η - ∂η∂ξ), which is antisymmetric.
	xx, xy, yy, skew []float64
}

var bases [maxDegree + 1]struct {
	once sync.Once
	b    *basis
}

func basisOf(degree int) *basis {
	e := &bases[degree]
	e.once.Do(func() { e.b = newBasis(degree) })
	return e.b
}

func newBasis(p int) *basis {
	b := &basis{degree: p, n: (p + 1) * (p + 2) / 2, outer: 3 * p}
	size := b.n * b.n
	b.xx, b.xy, b.yy, b.skew = make([]float64, size), make([]float64, size), make([]float64, size), make([]float64, size)
	// Gauss-Legendre points on the unit square, drawn together to the triangle: exact to degree 2p in each direction.
	points := make([]float64, p+2)
	weights := make([]float64, p+2)
	quad.Legendre{}.FixedLocations(points, weights, 0, 1)
	gx, gy := make([]float64, b.n), make([]float64, b.n)
	for i, s := range points {
		for j, t := range points {
			b.gradients(s*(1-t), t, gx, gy)
			w := weights[i] * weights[j] * (1 - t)
			for k := range b.n {
				for l := range b.n {
					b.xx[k*b.n+l] += w * gx[k] * gx[l]
					b.xy[k*b.n+l] += w * (gx[k]*gy[l] + gy[k]*gx[l])
					b.yy[k*b.n+l] += w * gy[k] * gy[l]
					b.skew[k*b.n+l] += w * (gx[k]*gy[l] - gy[k]*gx[l])
				}
			}
		}
	}
	return b
}

// gradients puts the derivatives of all functions by ξ and η at a point into gx and gy.
func (b *basis) gradients(xi, eta float64, gx, gy []float64) {
	l := [3]float64{1 - xi - eta, xi, eta}
	dx, dy := [3]float64{-1, 1, 0}, [3]float64{-1, 0, 1}
	copy(gx, dx[:])
	copy(gy, dy[:])
	at := 3
	for e := range 3 {
		i, j := step(e), step(step(e))
		value, slope := gegenbauer(b.degree-2, l[j]-l[i])
		for k := range value {
			di, dj := l[j]*value[k]-l[i]*l[j]*slope[k], l[i]*value[k]+l[i]*l[j]*slope[k]
			gx[at], gy[at] = di*dx[i]+dj*dx[j], di*dy[i]+dj*dy[j]
			at++
		}
	}
	if b.degree < 3 {
		return
	}
	v, dv := gegenbauer(b.degree-3, l[1]-l[0])
	w, dw := gegenbauer(b.degree-3, 2*l[2]-1)
	product := l[0] * l[1] * l[2]
	for i := range v {
		for j := 0; i+j <= b.degree-3; j++ {
			d := [3]float64{
				l[1]*l[2]*v[i]*w[j] - product*dv[i]*w[j],
				l[0]*l[2]*v[i]*w[j] + product*dv[i]*w[j],
				l[0]*l[1]*v[i]*w[j] + 2*product*v[i]*dw[j],
			}
			gx[at], gy[at] = d[1]-d[0], d[2]-d[0]
			at++
		}
	}
}

// gegenbauer returns the Gegenbauer polynomials with parameter 3/2 up to degree n at x, divided by their values at 1, and
// their slopes, by k·C(k) = (2k+1)·x·C(k-1) - (k+1)·C(k-2) (Abramowitz, Stegun, 22.7.3, from memory). None for n < 0.
func gegenbauer(n int, x float64) (value, slope []float64) {
	for k := 0; k <= n; k++ {
		switch k {
		case 0:
			value, slope = append(value, 1), append(slope, 0)
		case 1:
			value, slope = append(value, 3*x), append(slope, 3)
		default:
			c, d := float64(2*k+1), float64(k+1)
			value = append(value, (c*x*value[k-1]-d*value[k-2])/float64(k))
			slope = append(slope, (c*(value[k-1]+x*slope[k-1])-d*slope[k-2])/float64(k))
		}
	}
	for k := range value {
		at1 := float64((k + 1) * (k + 2) / 2)
		value[k] /= at1
		slope[k] /= at1
	}
	return value, slope
}

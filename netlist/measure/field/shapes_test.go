package field

import (
	"math"
	"math/rand/v2"
	"slices"

	"undermetal/layout/geom"
)

// The shapes of the tests, in units of a length; scaled puts them into nm.

func ring(xy ...float64) []geom.Vec {
	var r []geom.Vec
	for i := 0; i < len(xy); i += 2 {
		r = append(r, geom.Vec{X: xy[i], Y: xy[i+1]})
	}
	return r
}

func boxRing(x0, y0, x1, y1 float64) []geom.Vec { return ring(x0, y0, x1, y0, x1, y1, x0, y1) }

func regular(n int, apothem float64) []geom.Vec {
	r := make([]geom.Vec, n)
	for i := range r {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.5) / float64(n))
		r[i] = geom.Vec{X: c, Y: s}.Scale(apothem / math.Cos(math.Pi/float64(n)))
	}
	return r
}

func all(n, electrode int) []int {
	e := make([]int, n)
	for i := range e {
		e[i] = electrode
	}
	return e
}

// enclosed has electrode 0 around and 1 inside.
func enclosed(outer, inner []geom.Vec) Shape {
	return Shape{Rings: [][]geom.Vec{outer, inner}, Electrode: [][]int{all(len(outer), 0), all(len(inner), 1)}}
}

func single(r []geom.Vec, electrode ...int) Shape {
	return Shape{Rings: [][]geom.Vec{r}, Electrode: [][]int{electrode}}
}

// mapped returns the shape with all corners put elsewhere.
func (s Shape) mapped(f func(geom.Vec) geom.Vec) Shape {
	var m Shape
	for r, pts := range s.Rings {
		q := make([]geom.Vec, len(pts))
		for i, p := range pts {
			q[i] = f(p)
		}
		m.Rings = append(m.Rings, q)
		m.Electrode = append(m.Electrode, append([]int(nil), s.Electrode[r]...))
	}
	return m
}

func (s Shape) scaled(k float64) Shape {
	return s.mapped(func(p geom.Vec) geom.Vec { return p.Scale(k) })
}

func (s Shape) turned(degrees float64) Shape {
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	return s.mapped(func(p geom.Vec) geom.Vec { return geom.Vec{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })
}

// serpentine has n legs [0,length] × width 1 with gaps of 1, contacts on the free ends (REFERENCES 2.1).
func serpentine(n int, length float64) Shape {
	var right, left []geom.Vec // of the way
	for i := range n {
		y := 2 * float64(i)
		begin, end, dir := 0.0, length, 1.0
		if i%2 == 1 {
			begin, end, dir = length, 0, -1
		}
		in, out := begin+dir, end-dir // where the legs' inner sides end
		low, high := geom.Vec{X: begin, Y: y}, geom.Vec{X: begin, Y: y + 1}
		if i > 0 {
			low.X = in
		}
		lowEnd, highEnd := geom.Vec{X: end, Y: y}, geom.Vec{X: end, Y: y + 1}
		if i < n-1 {
			highEnd.X = out
		}
		if dir > 0 {
			right, left = append(right, low, lowEnd), append(left, high, highEnd)
		} else {
			right, left = append(right, high, highEnd), append(left, low, lowEnd)
		}
	}
	slices.Reverse(left)
	r := append(right, left...)
	e := all(len(r), Insulated)
	e[len(right)-1], e[len(r)-1] = 1, 0
	return single(r, e...)
}

// waffle is a gate around n × n square cells of side d, distance l, electrodes by turns as on a chessboard.
func waffle(n int, d, l float64) Shape {
	size := float64(n)*(d+l) + l
	s := single(boxRing(0, 0, size, size), all(4, Insulated)...)
	for i := range n {
		for j := range n {
			x, y := l+float64(i)*(d+l), l+float64(j)*(d+l)
			s.Rings = append(s.Rings, boxRing(x, y, x+d, y+d))
			s.Electrode = append(s.Electrode, all(4, (i+j)%2))
		}
	}
	return s
}

// handTraced is a channel of about 5 × 1 whose border n points follow with an error of sigma, normal.
func handTraced(n int, sigma float64, seed uint64) Shape {
	r := rand.New(rand.NewPCG(seed, 1))
	half := n / 2
	var pts []geom.Vec
	var e []int
	for side := range 2 {
		for i := range half {
			x := 5 * float64(i) / float64(half-1)
			y := 0.3 * math.Sin(x)
			if side == 1 {
				x = 5 - x
				y = 0.3*math.Sin(x) + 1
			}
			pts = append(pts, geom.Vec{X: x + sigma*r.NormFloat64(), Y: y + sigma*r.NormFloat64()})
			if i == half-1 {
				e = append(e, Insulated)
			} else {
				e = append(e, side)
			}
		}
	}
	return single(pts, e...)
}

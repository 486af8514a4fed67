package align

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// near confines a space to what lies within reach of marks.
func (s *space) near(marks []Mark, reach float64, turnsA, turnsB []float64) error {
	var points []register.Point
	var centre geom.Vec
	for _, p := range marks {
		points = append(points, register.Point{From: p.A, To: p.B})
		centre.X, centre.Y = centre.X+p.B.X/float64(len(marks)), centre.Y+p.B.Y/float64(len(marks))
	}
	spread := 1.0
	for _, p := range marks {
		spread = max(spread, math.Hypot(p.B.X-centre.X, p.B.Y-centre.Y))
	}
	const caution = 1.5 // somebody may set a mark worse than usual; what marks have against a map counts anyway
	s.allowed = func(m *matrix) bool { return farthest(m, marks) <= caution*reach }
	s.against = func(m *matrix) (nats float64) { // by a normal distribution of either coordinate
		sigma := reach / 4
		for _, p := range marks {
			x, y := m.at(p.A.X, p.A.Y)
			nats += ((x-p.B.X)*(x-p.B.X) + (y-p.B.Y)*(y-p.B.Y)) / (2 * sigma * sigma)
		}
		return nats
	}
	s.ways, s.most = nil, 12
	var sides []matrix // few marks, or on a line, do not say which one
	var failed error
	least, scale := math.Inf(1), 0.0
	for _, over := range []bool{false, true} {
		l, err := register.FitSide(points, over)
		if err != nil {
			failed = err // the other side may do
			continue
		}
		m := matrix(l.Coefficients())
		if far := farthest(&m, marks); far < least {
			least, scale = far, m.stretch(0, 0)
		}
		if k := m.stretch(0, 0); s.allows(&m) && k > smallest/spare && k < largest*spare {
			sides = append(sides, m)
		}
	}
	switch {
	case math.IsInf(least, 1):
		return fmt.Errorf("the marks: %w", failed)
	case !(least <= caution*reach):
		return fmt.Errorf("%w: the marks are farther off than %.0f px from any map that keeps shapes", ErrRefused, caution*reach)
	case len(sides) == 0:
		return fmt.Errorf("%w: by the marks a pixel of one is %.3g of the other; between %g and %g they can be compared", ErrRefused, scale, smallest, largest)
	case len(sides) == 1:
		s.turn(&sides[0], max(6*math.Pi/180, 3*reach/4/spread), turnsA, turnsB) // three times what they may turn it by
	}
	low, high := math.Inf(1), 0.0
	for _, m := range sides {
		scale := m.stretch(0, 0)
		s.ways = append(s.ways, s.nearest(&m, scale))
		low, high = min(low, scale), max(high, scale)
	}
	margin := 1 + min(0.3, 0.75*reach/spread)
	s.scales = steps(low/margin, high*margin, stepOfScale)
	return nil
}

// spare is how much further than usual scales may be from 1 where marks are rough.
const spare = 1.3

// farthest is how far m takes a mark from where it should go, at most.
func farthest(m *matrix, marks []Mark) (far float64) {
	for _, p := range marks {
		x, y := m.at(p.A.X, p.A.Y)
		far = max(far, math.Hypot(x-p.B.X, y-p.B.Y))
	}
	return far
}

// contradicted refuses a map that marks are farther off than once in a million times by chance, all of them together: at least one
// is wrong, or the map is, as where somebody set a mark at the next place of an array.
func (s *space) contradicted(m *matrix, marks []Mark, within float64) error {
	if len(marks) == 0 || (distuv.ChiSquared{K: float64(2 * len(marks))}).Survival(2*s.unlikely(m)) > 1e-6 {
		return nil
	}
	k := 0
	for i := range marks {
		if farthest(m, marks[i:i+1]) > farthest(m, marks[k:k+1]) {
			k = i
		}
	}
	return fmt.Errorf("%w: by what the pictures have in common mark %d is %.0f px off, and marks good to %.0f px are not that far off together", ErrRefused, k+1, farthest(m, marks[k:k+1]), within)
}

// nearest is the way that is most like m.
func (s *space) nearest(m *matrix, scale float64) (at int) {
	best := math.Inf(1)
	for way := range 8 {
		w := s.way(way, scale).then(turned(s.turnB))
		d := 0.0
		for i := range 2 {
			for j := range 2 {
				d += (w[i][j] - m[i][j]) * (w[i][j] - m[i][j])
			}
		}
		if d < best {
			best, at = d, way
		}
	}
	return at
}

// turn chooses the likeliest directions of edges of which those of a go to those of b by m, a quarter turn more or less, within a
// tolerance in radians.
func (s *space) turn(m *matrix, tolerance float64, turnsA, turnsB []float64) {
	least := math.Inf(1)
	for i, a := range turnsA {
		for j, b := range turnsB {
			sin, cos := math.Sincos(a)
			x, y := m[0][0]*cos+m[0][1]*sin, m[1][0]*cos+m[1][1]*sin
			off := math.Abs(math.Remainder(math.Atan2(y, x)-b, math.Pi/2))
			if cost := float64(i+j) + max(0, off-tolerance)*180/math.Pi; cost < least {
				least, s.turnA, s.turnB = cost, a, b
			}
		}
	}
}

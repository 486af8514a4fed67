package sweep

import (
	"fmt"
	"math/big"

	"undermetal/layout/geom"
)

// checkNoding holds the noder against the definition of snap rounding, in exact fractions: a slanted edge is led
// through the hot pixels that it passes, all of them and no other points, so it moves by √2/2 nm at most; afterwards
// edges meet at common ends only.
func checkNoding(all []Seg, chains [][]geom.Point) error {
	hot := map[geom.Point]bool{}
	for i, s := range all {
		hot[s.A], hot[s.B] = true, true
		for _, t := range all[:i] {
			if p, ok := properCrossing(s, t); ok && (s.Slanted() || t.Slanted()) {
				hot[p] = true
			}
		}
	}
	var pieces []Seg
	n := 0
	for _, s := range all {
		if !s.Slanted() {
			pieces = append(pieces, s)
			continue
		}
		if n == len(chains) {
			return fmt.Errorf("noder: fewer chains than slanted edges")
		}
		c := chains[n]
		n++
		if len(c) < 2 || c[0] != s.A || c[len(c)-1] != s.B {
			return fmt.Errorf("noder: %v is led through %v, not from end to end", s, c)
		}
		on := map[geom.Point]bool{}
		for _, p := range c {
			if !hot[p] || on[p] {
				return fmt.Errorf("noder: %v is led through %v, where nothing ends or crosses, or twice", s, p)
			}
			on[p] = true
		}
		for p := range hot {
			if on[p] != passesPixel(s, p) {
				return fmt.Errorf("noder: %v passes the pixel of %v: %t; led through it: %t", s, p, passesPixel(s, p), on[p])
			}
		}
		for i := 0; i+1 < len(c); i++ {
			pieces = append(pieces, Seg{A: c[i], B: c[i+1]})
		}
	}
	if n != len(chains) {
		return fmt.Errorf("noder: more chains than slanted edges")
	}
	for i, s := range pieces {
		for _, t := range pieces[:i] {
			if !s.Slanted() && !t.Slanted() {
				continue // upright with upright, anything with horizontal: the sweep does not mind
			}
			if err := meetAtEnds(s, t); err != nil {
				return err
			}
		}
	}
	return nil
}

// meetAtEnds: of two pieces, one slanted, neither crosses the other, and no end of an upright one lies within a
// slanted one nor the other way round, save where one of them is horizontal.
func meetAtEnds(s, t Seg) error {
	if sameEnds(s, t) || s.A.Y == s.B.Y || t.A.Y == t.B.Y {
		return nil
	}
	if _, ok := properCrossing(s, t); ok {
		return fmt.Errorf("noder: pieces %v and %v cross", s, t)
	}
	for _, q := range [][2]Seg{{s, t}, {t, s}} {
		for _, p := range []geom.Point{q[0].A, q[0].B} {
			u := q[1]
			if u.Slanted() && p != u.A && p != u.B && det(u.A, u.B, p) == 0 && geom.Box(u.A.X, u.A.Y, u.B.X, u.B.Y).Contains(p) {
				return fmt.Errorf("noder: piece %v ends within %v", q[0], u)
			}
		}
	}
	return nil
}

func sameEnds(s, t Seg) bool { return s.A == t.A && s.B == t.B || s.A == t.B && s.B == t.A }

// det is twice the area of a triangle; coordinates up to 2^29 keep it in 64 bits.
func det(a, b, c geom.Point) int { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }

// properCrossing returns the point in the interior of both segments, rounded halves up.
func properCrossing(s, t Seg) (geom.Point, bool) {
	a, b := sign(det(s.A, s.B, t.A)), sign(det(s.A, s.B, t.B))
	c, d := sign(det(t.A, t.B, s.A)), sign(det(t.A, t.B, s.B))
	if a*b >= 0 || c*d >= 0 {
		return geom.Point{}, false
	}
	u, v := new(big.Int).Abs(big.NewInt(int64(det(t.A, t.B, s.A)))), new(big.Int).Abs(big.NewInt(int64(det(t.A, t.B, s.B))))
	k := new(big.Rat).SetFrac(u, new(big.Int).Add(u, v))
	at := func(p, q int) int {
		x := new(big.Rat).SetInt64(int64(q - p))
		x.Mul(x, k).Add(x, new(big.Rat).SetFrac64(int64(2*p+1), 2)) // + 1/2, then down
		return int(new(big.Int).Div(x.Num(), x.Denom()).Int64())    // Euclidean: the divisor is positive, so down
	}
	return geom.Point{X: at(s.A.X, s.B.X), Y: at(s.A.Y, s.B.Y)}, true
}

func sign(n int) int {
	switch {
	case n > 0:
		return 1
	case n < 0:
		return -1
	}
	return 0
}

// passesPixel reports whether s has a point (x, y) with p.X-½ ≤ x < p.X+½ and p.Y-½ ≤ y < p.Y+½. Along s the four
// conditions are k·a ≥ b or k·a > b for k in [0, 1]: an interval with ends that belong to it or not.
func passesPixel(s Seg, p geom.Point) bool {
	if p.X < min(s.A.X, s.B.X) || p.X > max(s.A.X, s.B.X) || p.Y < min(s.A.Y, s.B.Y) || p.Y > max(s.A.Y, s.B.Y) {
		return false // both ends are grid points: it cannot reach that pixel
	}
	lo, hi := frac{0, 1}, frac{1, 1}
	loOpen, hiOpen := false, false
	above := func(k frac, strict bool) {
		if c := k.cmp(lo); c > 0 {
			lo, loOpen = k, strict
		} else if c == 0 {
			loOpen = loOpen || strict
		}
	}
	below := func(k frac, strict bool) {
		if c := k.cmp(hi); c < 0 {
			hi, hiOpen = k, strict
		} else if c == 0 {
			hiOpen = hiOpen || strict
		}
	}
	for _, q := range [][3]int{{s.A.X, s.B.X, p.X}, {s.A.Y, s.B.Y, p.Y}} {
		d := int64(2 * (q[1] - q[0]))
		from, to := int64(2*(q[2]-q[0])-1), int64(2*(q[2]-q[0])+1) // from ≤ k·d < to
		if d > 0 {
			above(frac{from, d}, false)
			below(frac{to, d}, true)
		} else {
			above(frac{-to, -d}, true)
			below(frac{-from, -d}, false)
		}
	}
	c := lo.cmp(hi)
	return c < 0 || c == 0 && !loOpen && !hiOpen
}

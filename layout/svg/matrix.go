package svg

import (
	"math"
	"strings"

	"undermetal/layout/geom"
)

// matrix is the map x' = a·x + c·y + e, y' = b·x + d·y + f, as SVG's matrix(a b c d e f).
type matrix struct{ a, b, c, d, e, f float64 }

var identity = matrix{a: 1, d: 1}

// then returns the map that applies m first and outer after it. A factor of identity changes no bit.
func (m matrix) then(outer matrix) matrix {
	return matrix{
		a: float64(outer.a*m.a) + float64(outer.c*m.b), b: float64(outer.b*m.a) + float64(outer.d*m.b),
		c: float64(outer.a*m.c) + float64(outer.c*m.d), d: float64(outer.b*m.c) + float64(outer.d*m.d),
		e: float64(outer.a*m.e) + float64(outer.c*m.f) + outer.e, f: float64(outer.b*m.e) + float64(outer.d*m.f) + outer.f,
	}
}

func (m matrix) apply(p geom.Vec) geom.Vec {
	return geom.Vec{X: float64(m.a*p.X) + float64(m.c*p.Y) + m.e, Y: float64(m.b*p.X) + float64(m.d*p.Y) + m.f}
}

// direction maps a vector, which does not move.
func (m matrix) direction(p geom.Vec) geom.Vec {
	return geom.Vec{X: float64(m.a*p.X) + float64(m.c*p.Y), Y: float64(m.b*p.X) + float64(m.d*p.Y)}
}

func (m matrix) det() float64 { return m.a*m.d - m.b*m.c }

// inverse returns the way back; ok is false where there is none.
func (m matrix) inverse() (back matrix, ok bool) {
	det := m.det()
	back = matrix{a: m.d / det, b: -m.b / det, c: -m.c / det, d: m.a / det}
	back.e, back.f = -(back.a*m.e + back.c*m.f), -(back.b*m.e + back.d*m.f)
	return back, back.finite()
}

func (m matrix) finite() bool {
	s := m.a + m.b + m.c + m.d + m.e + m.f
	return s-s == 0
}

func translate(x, y float64) matrix { return matrix{a: 1, d: 1, e: x, f: y} }

func scale(x, y float64) matrix { return matrix{a: x, d: y} }

func rotate(degrees float64) matrix {
	sin, cos := sinCosDegrees(degrees)
	return matrix{a: cos, b: sin, c: -sin, d: cos}
}

// sinCosDegrees is exact at multiples of 90°.
func sinCosDegrees(degrees float64) (sin, cos float64) {
	switch turn := math.Mod(degrees, 360); turn {
	case 0:
		return 0, 1
	case 90, -270:
		return 1, 0
	case 180, -180:
		return 0, -1
	case 270, -90:
		return -1, 0
	default:
		return math.Sincos(turn * math.Pi / 180)
	}
}

// parseTransform reads a list of transforms; the last one is applied first. SVG 1.1 §7.6 (from memory).
func parseTransform(text string) (matrix, error) {
	m := identity
	s := &scanner{s: text}
	for s.space(); !s.done(); s.separator() {
		begin := s.at
		for !s.done() && (s.s[s.at]|0x20 >= 'a' && s.s[s.at]|0x20 <= 'z') {
			s.at++
		}
		name := s.s[begin:s.at]
		s.space()
		if name == "" || s.done() || s.s[s.at] != '(' {
			s.at = begin
			return m, s.fail("a transform such as translate(1 2) is missing, %s", s.found())
		}
		end := strings.IndexByte(s.s[s.at:], ')')
		if end < 0 {
			return m, s.fail("a bracket is not closed")
		}
		inner := &scanner{s: s.s[:s.at+end], at: s.at + 1}
		v, err := inner.list()
		if err != nil {
			return m, err
		}
		one, ok := transformOf(name, v)
		if !ok {
			s.at = begin
			return m, s.fail("%s with %d numbers: there are matrix (6), translate (1, 2), scale (1, 2), rotate (1, 3), skewX (1) and skewY (1)", name, len(v))
		}
		m = one.then(m)
		s.at += end + 1
	}
	if !m.finite() {
		s.at = 0
		return m, s.fail("numbers beyond all bounds")
	}
	return m, nil
}

func transformOf(name string, v []float64) (m matrix, ok bool) {
	switch {
	case name == "matrix" && len(v) == 6:
		return matrix{v[0], v[1], v[2], v[3], v[4], v[5]}, true
	case name == "translate" && len(v) == 1:
		return translate(v[0], 0), true
	case name == "translate" && len(v) == 2:
		return translate(v[0], v[1]), true
	case name == "scale" && len(v) == 1:
		return scale(v[0], v[0]), true
	case name == "scale" && len(v) == 2:
		return scale(v[0], v[1]), true
	case name == "rotate" && len(v) == 1:
		return rotate(v[0]), true
	case name == "rotate" && len(v) == 3:
		return translate(-v[1], -v[2]).then(rotate(v[0])).then(translate(v[1], v[2])), true
	case name == "skewX" && len(v) == 1:
		return matrix{a: 1, c: math.Tan(v[0] * math.Pi / 180), d: 1}, true
	case name == "skewY" && len(v) == 1:
		return matrix{a: 1, b: math.Tan(v[0] * math.Pi / 180), d: 1}, true
	}
	return m, false
}

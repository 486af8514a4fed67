package register

import (
	"fmt"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// chain does one map after another.
type chain []Map

// Compose returns the map that does first, then then. Linear maps next to each other become one.
func Compose(first, then Map) Map {
	links := append(linksOf(first), linksOf(then)...)
	joined := chain{}
	for _, m := range links {
		if n := len(joined); n > 0 {
			l, ok1 := joined[n-1].(Linear)
			o, ok2 := m.(Linear)
			if ok1 && ok2 {
				joined[n-1] = o.times(l)
				continue
			}
		}
		joined = append(joined, m)
	}
	if len(joined) == 1 {
		return joined[0]
	}
	return joined
}

// Scaled returns m with all lengths of its target longer by a factor, about the target's origin. What is no chain or
// inverse keeps its kind: scaling a spline scales its affine part and its weights.
func Scaled(m Map, factor float64) Map {
	grow := Linear{Similarity, [3][3]float64{{factor, 0, 0}, {0, factor, 0}, {0, 0, 1}}}
	s, ok := m.(*spline)
	if !ok {
		return Compose(m, grow)
	}
	larger := &spline{affine: grow.times(s.affine)}
	for _, k := range s.knots {
		larger.knots = append(larger.knots, knot{k.at, k.weight.Scale(factor)})
	}
	return larger
}

func linksOf(m Map) []Map {
	if c, ok := m.(chain); ok {
		return slices.Clone(c)
	}
	return []Map{m}
}

func (c chain) Kind() Kind { return chained }

func (c chain) Apply(p geom.Vec) geom.Vec {
	for _, m := range c {
		p = m.Apply(p)
	}
	return p
}

func (c chain) Jacobian(p geom.Vec) Matrix {
	j := Matrix{{1, 0}, {0, 1}}
	for _, m := range c {
		j = m.Jacobian(p).times(j)
		p = m.Apply(p)
	}
	return j
}

func (c chain) Inverse() (Map, error) {
	back := make(chain, len(c))
	for i, m := range c {
		inverse, err := m.Inverse()
		if err != nil {
			return nil, fmt.Errorf("map %d of %d in a chain: %w", i+1, len(c), err)
		}
		back[len(c)-1-i] = inverse
	}
	return back, nil
}

// Parameters are, for each link, the code of its kind, the number of its parameters, and these.
func (c chain) Parameters() []float64 {
	var all []float64
	for _, m := range c {
		p := m.Parameters()
		all = append(append(all, float64(slices.Index(kinds, m.Kind())), float64(len(p))), p...)
	}
	return all
}

// ParseMap makes a map of what Parameters returned. It refuses a wrong number of parameters, such as are no finite
// numbers, and maps that cannot be undone. A spline that folds is not refused here but by its Inverse.
func ParseMap(kind Kind, parameters []float64) (Map, error) {
	for i, v := range parameters {
		if !finite(v) {
			return nil, fmt.Errorf("parameter %d of %s map is %g, no finite number", i+1, kind.article(), v)
		}
	}
	switch kind {
	case Similarity, Affine, Projective:
		return parseLinear(kind, parameters)
	case Spline, inverseSpline:
		s, err := parseSpline(parameters)
		if err != nil {
			return nil, err
		}
		if kind == inverseSpline {
			return s.Inverse()
		}
		return s, nil
	case chained:
		return parseChain(parameters)
	}
	return nil, fmt.Errorf("%q is no kind of map: there are similarity, affine, projective and spline, and %s and %s of these", kind, inverseSpline, chained)
}

func parseLinear(kind Kind, p []float64) (Map, error) {
	want := 6
	if kind == Projective {
		want = 9
	}
	if len(p) != want {
		return nil, fmt.Errorf("%s map with %d parameters: it has %d", kind.article(), len(p), want)
	}
	l := Linear{kind: kind, m: [3][3]float64{{}, {}, {0, 0, 1}}}
	for i, v := range p {
		l.m[i/3][i%3] = v
	}
	a, b, d, e := l.m[0][0], l.m[0][1], l.m[1][0], l.m[1][1]
	off := min(math.Hypot(a-e, b+d), math.Hypot(a+e, b-d))
	if kind == Similarity && off > 1e-9*math.Hypot(a, b) {
		return nil, fmt.Errorf("a similarity with the matrix %g %g %g %g, which changes angles: call it affine", a, b, d, e)
	}
	if err := l.check(); err != nil {
		return nil, err
	}
	return l, nil
}

// parseChain takes nothing on trust: a count must agree with what is there.
func parseChain(p []float64) (Map, error) {
	var c chain
	for at := 0; at < len(p); {
		if len(p)-at < 2 {
			return nil, fmt.Errorf("a chain whose parameter %d is left over: each of its maps has a kind, a count and so many parameters", at+1)
		}
		code, n := p[at], p[at+1]
		if !(code >= 0 && code < float64(len(kinds)) && code == math.Trunc(code)) {
			return nil, fmt.Errorf("a chain whose map %d has the kind %g: kinds go from 0 to %d", len(c)+1, code, len(kinds)-1)
		}
		if !(n >= 0 && n <= float64(len(p)-at-2) && n == math.Trunc(n)) {
			return nil, fmt.Errorf("a chain whose map %d says %g parameters, where %d are left", len(c)+1, n, len(p)-at-2)
		}
		m, err := ParseMap(kinds[int(code)], p[at+2:at+2+int(n)])
		if err != nil {
			return nil, fmt.Errorf("map %d of a chain: %w", len(c)+1, err)
		}
		c = append(c, m)
		at += 2 + int(n)
	}
	if len(c) < 2 {
		return nil, fmt.Errorf("a chain of %d maps: it has two or more", len(c))
	}
	return c, nil
}

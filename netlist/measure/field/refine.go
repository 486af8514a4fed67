package field

import (
	"math"

	"undermetal/layout/geom"
)

// place returns the middle of a triangle, in nm.
func (e *elements) place(t int32) geom.Vec {
	v := e.m.tri[t].v
	return e.o.nm(add(add(e.m.x[v[0]], e.m.x[v[1]]), e.m.x[v[2]]).Scale(1. / 3))
}

// worst returns where the bounds are furthest apart, in nm.
func (s *solution) worst() geom.Vec {
	at := int32(0)
	for t, g := range s.gap {
		if g > s.gap[at] {
			at = int32(t)
		}
	}
	return s.place(at)
}

// refine makes the mesh finer where the bounds are apart, and returns the degree to go on with. Around corners with a
// singularity r^λ each layer leaves grading^(2λ) of the gap; elsewhere halving a triangle at its longest edge leaves
// 2^-degree. Where many triangles are in need of it a
// higher degree does more: each leaves about an eighth.
func (s *solution) refine(tol float64, degree int) int {
	m := s.m
	target := 1.5 * tol // of the gap that may be left, 2·tol, not all: what is foreseen is rough
	lambda := make([]float64, m.corners)
	atCorner := make([]float64, m.corners) // gap
	for i := range lambda {
		l, smooth := s.o.exponent(i)
		if !smooth {
			lambda[i] = l
		}
	}
	type smoothPart struct {
		t   int32
		gap float64
	}
	var smooth []smoothPart
	rest, atAll := 0.0, 0.0
	for t, g := range s.gap {
		owner := int32(-1)
		for _, v := range m.tri[t].v {
			if v < int32(m.corners) && lambda[v] > 0 && (owner < 0 || lambda[v] < lambda[owner]) {
				owner = v
			}
		}
		if owner < 0 {
			smooth = append(smooth, smoothPart{int32(t), g})
			rest += g
		} else {
			atCorner[owner] += g
			atAll += g
		}
	}
	busy := 0
	for _, g := range atCorner {
		if g > 0 {
			busy++
		}
	}
	next := degree
	if rest > target/2 {
		share := target / 2 / float64(len(smooth))
		var cut []smoothPart
		for limit := 2 * share; len(cut) == 0; limit /= 2 { // at least one has as much as the mean
			for _, p := range smooth {
				if p.gap > limit {
					cut = append(cut, p)
				}
			}
		}
		if len(cut) > len(smooth)/3 && degree < maxDegree {
			next = min(degree+min(int(math.Ceil(math.Log(rest/(target/2))/math.Log(8))), 3), maxDegree)
		} else {
			old := make([][3]int32, len(cut))
			for i, p := range cut {
				old[i] = m.tri[p.t].v
			}
			for i, p := range cut {
				if m.tri[p.t].v == old[i] { // not yet cut for a neighbour's sake
					m.bisect(p.t)
				}
			}
		}
	}
	if atAll > target/2 {
		share := target / 2 / float64(max(busy, 1))
		for v, g := range atCorner {
			if g <= share {
				continue
			}
			layers := int(math.Ceil(math.Log(g/share) / (-2 * lambda[v] * math.Log(grading))))
			for range min(max(layers, 1), 8) {
				m.grade(int32(v))
			}
		}
	}
	return next
}

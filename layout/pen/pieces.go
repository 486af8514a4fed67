package pen

import "undermetal/layout/geom"

// pieces returns one ring for each segment, each join and each round end.
func (s *Stroker) pieces() geom.Polygon {
	var pg geom.Polygon
	add := func(points ...geom.Point) {
		if ring := s.ring(points); ring != nil {
			if ring.Sense() < 0 {
				for i, j := 0, len(ring)-1; i < j; i, j = i+1, j-1 {
					ring[i], ring[j] = ring[j], ring[i]
				}
			}
			pg = append(pg, append(geom.Ring(nil), ring...))
		}
	}
	last := len(s.dirs) - 1
	for i, d := range s.dirs {
		a, b := along(s.stroke.Line[i], d, 0), along(s.stroke.Line[i+1], d, 0)
		if i == 0 {
			a = s.from
		}
		if i == last {
			b = s.to
		}
		ring := make([]geom.Point, 0, 6)
		ring = append(ring, beside(a, d, -s.half), beside(b, d, -s.half))
		if i < last || s.stroke.Ends == Round {
			ring = viaMiddle(ring, s.stroke.Line[i+1], beside(b, d, s.half))
		}
		ring = append(ring, beside(b, d, s.half), beside(a, d, s.half))
		if i > 0 || s.stroke.Ends == Round {
			ring = viaMiddle(ring, s.stroke.Line[i], ring[0])
		}
		add(ring...)
		if i > 0 {
			add(s.join(s.stroke.Line[i], s.dirs[i-1], d)...)
		}
	}
	if s.stroke.Ends == Round {
		add(s.roundEnd(s.stroke.Line[0], s.dirs[0].Scale(-1))...)
		add(s.roundEnd(s.stroke.Line[last+1], s.dirs[last])...)
	}
	return pg
}

// viaMiddle appends p, a point of the line, if the edge from the ring's last corner to next misses it by rounding.
// Joins and round ends have p for a corner too, so they fit without a gap.
func viaMiddle(ring []geom.Point, p, next geom.Point) []geom.Point {
	if geom.Side(ring[len(ring)-1], p, next) != 0 {
		return append(ring, p)
	}
	return ring
}

// roundEnd returns the half disc at p in direction dir.
func (s *Stroker) roundEnd(p geom.Point, dir geom.Vec) []geom.Point {
	v := along(p, dir, 0)
	disc := s.arc([]geom.Point{beside(v, dir, -s.half)}, v, dir)
	return append(disc, beside(v, dir, s.half), p)
}

// join returns the wedge on the outer side of the bend at p, counterclockwise.
func (s *Stroker) join(p geom.Point, d, f geom.Vec) []geom.Point {
	b, ok := s.corner(p, d, f)
	v := along(p, d, 0)
	if b.outer > 0 {
		wedge := []geom.Point{p, beside(v, d, -s.half), beside(v, f, -s.half)}
		if ok && b.mitre {
			wedge = []geom.Point{p, wedge[1], b.right[0], wedge[2]}
		}
		return wedge
	}
	wedge := []geom.Point{p, beside(v, f, s.half), beside(v, d, s.half)}
	if ok && b.mitre {
		wedge = []geom.Point{p, wedge[1], b.left[0], wedge[2]}
	}
	return wedge
}

// discs adds a disc at every bend. All rings are counterclockwise, so that together they fill their union.
func (s *Stroker) discs(pg geom.Polygon) geom.Polygon {
	for _, p := range s.stroke.Line[1 : len(s.stroke.Line)-1] {
		v, ahead := along(p, geom.Vec{X: 1}, 0), geom.Vec{X: 1}
		disc := s.arc([]geom.Point{beside(v, ahead, -s.half)}, v, ahead)
		disc = s.arc(append(disc, beside(v, ahead, s.half)), v, ahead.Scale(-1))
		if ring := s.ring(disc); ring != nil {
			pg = append(pg, ring)
		}
	}
	return pg
}

package edit

import (
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// candidate is the nearest thing of a kind so far.
type candidate struct {
	found  bool
	at     geom.Point
	off    float64 // nm from the point
	shape  int64
	vertex Vertex
}

func (c *candidate) snapped(kind SnapKind, degrees float64) Snapped {
	return Snapped{At: c.at, Kind: kind, Shape: c.shape, Vertex: c.vertex, Angle: degrees}
}

// offer takes a thing that is no farther away than the one before.
func (c *candidate) offer(at geom.Point, off float64, shape int64, v Vertex) {
	if !c.found || off <= c.off {
		*c = candidate{true, at, off, shape, v}
	}
}

// finding looks for what lies near a point.
type finding struct {
	p                      geom.Point
	reach                  float64 // nm
	box                    geom.Rect
	vertex, edge, crossing candidate
}

func newFinding(p geom.Point, reach int) finding {
	d := geom.Point{X: reach, Y: reach}
	return finding{p: p, reach: float64(reach), box: geom.Rect{Min: p.Sub(d), Max: p.Add(d)}}
}

// shape looks at the corners and edges of a shape, and at where a ray crosses these.
func (f *finding) shape(s *dossier.Shape, vertices, edges bool, ray *line) {
	for k, r := range s.Polygon {
		for i, a := range r {
			v := Vertex{k, i}
			if vertices && f.box.Contains(a) {
				if off := distance(f.p, vec(a)); off <= f.reach {
					f.vertex.offer(a, off, s.ID, v)
				}
			}
			b := r[(i+1)%len(r)]
			if !edges || !f.box.Overlaps(geom.Box(a.X, a.Y, b.X, b.Y)) {
				continue
			}
			foot := nearestOn(a, b, f.p)
			if off := distance(f.p, foot); off <= f.reach {
				f.edge.offer(foot.Round(), off, s.ID, v)
			}
			if ray == nil {
				continue
			}
			if x, ok := ray.meets(a, b); ok {
				if off := distance(f.p, x); off <= f.reach {
					f.crossing.offer(x.Round(), off, s.ID, v)
				}
			}
		}
	}
}

func distance(p geom.Point, v geom.Vec) float64 {
	return math.Hypot(float64(p.X)-v.X, float64(p.Y)-v.Y)
}

// nearestOn returns the point of the edge ab nearest to p.
func nearestOn(a, b, p geom.Point) geom.Vec {
	u, w := vec(b.Sub(a)), vec(p.Sub(a))
	length := float64(u.X*u.X) + float64(u.Y*u.Y)
	if length == 0 {
		return vec(a)
	}
	t := min(max((float64(u.X*w.X)+float64(u.Y*w.Y))/length, 0), 1)
	return geom.Vec{X: float64(a.X) + t*u.X, Y: float64(a.Y) + t*u.Y}
}

// meets returns where a ray crosses the edge ab; not where it runs along it.
func (l *line) meets(a, b geom.Point) (geom.Vec, bool) {
	off := func(p geom.Point) float64 { // to the left of the ray
		d := p.Sub(l.anchor)
		return float64(l.dir.X*float64(d.Y)) - float64(l.dir.Y*float64(d.X))
	}
	u, w := off(a), off(b)
	if u == w || u > 0 && w > 0 || u < 0 && w < 0 {
		return geom.Vec{}, false
	}
	t := u / (u - w)
	x := geom.Vec{X: float64(a.X) + t*float64(b.X-a.X), Y: float64(a.Y) + t*float64(b.Y-a.Y)}
	ahead := (x.X-l.from.X)*l.dir.X + (x.Y-l.from.Y)*l.dir.Y
	return x, ahead > 0.5 // not at the anchor itself
}

// Hit is what lies under a point.
type Hit struct {
	Kind   HitKind
	Shape  int64
	Vertex Vertex     // the vertex, or the edge
	At     geom.Point // the place of the vertex, the nearest one of the edge, or the point itself
	OffNm  float64    // how far from the point
}

// HitKind says what was hit.
type HitKind string

const (
	HitNothing HitKind = "nothing"
	HitVertex  HitKind = "vertex"
	HitEdge    HitKind = "edge"
	HitInside  HitKind = "inside"
)

// HitTest returns what a click at a point means: the nearest vertex within reach, else the nearest edge within reach, else
// the topmost shape that covers the point, which is the one that came last. layers, if any are given, are those to look at.
func HitTest(near Nearby, p geom.Point, reach int, layers ...string) (Hit, error) {
	s := Snap{Reach: reach}
	if err := s.check(p); err != nil {
		return Hit{}, err
	}
	f := newFinding(p, reach)
	shapes, err := near(f.box)
	if err != nil {
		return Hit{}, err
	}
	hit := Hit{Kind: HitNothing, At: p}
	for i := range shapes {
		shape := &shapes[i]
		if !among(layers, shape.Layer) {
			continue
		}
		f.shape(shape, true, true, nil)
		if shape.Polygon.Bounds().Contains(p) && shape.Polygon.Locate(p) != geom.Outside {
			hit.Kind, hit.Shape = HitInside, shape.ID
		}
	}
	switch {
	case f.vertex.found:
		hit = f.vertex.hit(HitVertex)
	case f.edge.found:
		hit = f.edge.hit(HitEdge)
	}
	return hit, nil
}

func (c *candidate) hit(kind HitKind) Hit { return Hit{kind, c.shape, c.vertex, c.at, c.off} }

func among(layers []string, layer string) bool {
	for _, l := range layers {
		if l == layer {
			return true
		}
	}
	return len(layers) == 0
}

package field

import (
	"fmt"
	"math"
	"slices"

	"undermetal/layout/geom"
)

// Insulated marks an edge of the border that no current passes.
const Insulated = -1

// Shape is a sheet of even thickness, with electrodes along its border.
type Shape struct {
	// Rings are the outline and the outlines of holes, in any order and sense, in nm. No ring may touch itself or another.
	Rings [][]geom.Vec
	// Electrode[r][i] is what the edge from Rings[r][i] to the next corner is: the number of an electrode, from 0, or
	// Insulated. An electrode may have edges in several places.
	Electrode [][]int
}

// Stretch is a part of a polygon's border, from A to B in the order of the ring, in nm. A = B is the whole ring.
type Stretch struct {
	A, B      geom.Vec
	Electrode int
}

// FromPolygon returns the shape of a valid polygon with electrodes along parts of its border; all else is insulated. Ends of
// a stretch are taken to the nearest place of the border, and refused if that is further away than 1 nm. Where stretches lie
// over each other, the later one counts.
func FromPolygon(pg geom.Polygon, stretches []Stretch) (Shape, error) {
	var s Shape
	for _, r := range pg {
		ring, ids := make([]geom.Vec, len(r)), make([]int, len(r))
		for i, p := range r {
			ring[i], ids[i] = geom.Vec{X: float64(p.X), Y: float64(p.Y)}, Insulated
		}
		s.Rings, s.Electrode = append(s.Rings, ring), append(s.Electrode, ids)
	}
	for _, st := range stretches {
		ra, _, err := s.corner(st.A)
		if err != nil {
			return Shape{}, err
		}
		rb, b, err := s.corner(st.B)
		if err != nil {
			return Shape{}, err
		}
		if ra != rb {
			return Shape{}, fmt.Errorf("a stretch of the border goes from %s to %s, which lie on different rings", um(st.A), um(st.B))
		}
		_, a, _ := s.corner(st.A) // anew: the second may have moved it
		ids := s.Electrode[ra]
		for i := a; ; {
			ids[i] = st.Electrode
			if i = (i + 1) % len(ids); i == b {
				break
			}
		}
	}
	return s, nil
}

// corner returns the corner at a place of the border, which is made if need be.
func (s *Shape) corner(p geom.Vec) (ring, index int, err error) {
	best, at := math.Inf(1), geom.Vec{}
	for r, pts := range s.Rings {
		for i, a := range pts {
			q := nearestOn(a, pts[(i+1)%len(pts)], p)
			if d := distance(p, q); d < best {
				best, at, ring, index = d, q, r, i
			}
		}
	}
	if !(best <= 1) {
		return 0, 0, fmt.Errorf("%s does not lie on the border: the nearest place of it is %s", um(p), um(at))
	}
	pts := s.Rings[ring]
	next := (index + 1) % len(pts)
	switch {
	case distance(at, pts[index]) < 1e-6:
		return ring, index, nil
	case distance(at, pts[next]) < 1e-6:
		return ring, next, nil
	}
	s.Rings[ring] = slices.Insert(pts, index+1, at)
	s.Electrode[ring] = slices.Insert(s.Electrode[ring], index+1, s.Electrode[ring][index])
	return ring, index + 1, nil
}

func nearestOn(a, b, p geom.Vec) geom.Vec {
	d := sub(b, a)
	if l := dot(d, d); l > 0 {
		return add(a, d.Scale(min(max(dot(sub(p, a), d)/l, 0), 1)))
	}
	return a
}

func add(a, b geom.Vec) geom.Vec     { return geom.Vec{X: a.X + b.X, Y: a.Y + b.Y} }
func sub(a, b geom.Vec) geom.Vec     { return geom.Vec{X: a.X - b.X, Y: a.Y - b.Y} }
func dot(a, b geom.Vec) float64      { return a.X*b.X + a.Y*b.Y }
func cross(a, b geom.Vec) float64    { return a.X*b.Y - a.Y*b.X }
func distance(a, b geom.Vec) float64 { return math.Hypot(a.X-b.X, a.Y-b.Y) }
func turn(a, b, c geom.Vec) float64  { return cross(sub(b, a), sub(c, a)) }
func um(p geom.Vec) string           { return fmt.Sprintf("(%.6g, %.6g) µm", p.X/1000, p.Y/1000) }
func middle(a, b geom.Vec) geom.Vec  { return geom.Vec{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2} }
func toVec(p geom.Point) geom.Vec    { return geom.Vec{X: float64(p.X), Y: float64(p.Y)} }

// corner is a corner of the outline, with the edge that begins there.
type corner struct {
	at        geom.Point // on the grid
	ring      int        // of the outline
	prev      int        // the corner before
	next      int        // the one after
	electrode int        // of the edge from here to next
	from      [2]int     // ring and corner of the Shape
	edge      [2]int     // ring and edge of the Shape
}

// outline is a valid shape on a grid of ±2^gridBits units, the outer ring counterclockwise, holes clockwise.
type outline struct {
	corners []corner
	rings   int
	centre  geom.Vec // in nm
	unit    float64  // of the grid, in nm; a power of two
	k       int      // electrodes
}

const gridBits = 26

func (o *outline) nm(p geom.Vec) geom.Vec { return add(o.centre, p.Scale(o.unit)) }

// newOutline puts a shape on the grid and refuses what is no sheet with electrodes.
func newOutline(s Shape) (*outline, error) {
	box, err := s.box()
	if err != nil {
		return nil, err
	}
	o := &outline{centre: geom.Vec{X: math.Round((box[0].X + box[1].X) / 2), Y: math.Round((box[0].Y + box[1].Y) / 2)}}
	half := 1 + math.Max(box[1].X-box[0].X, box[1].Y-box[0].Y)/2
	_, exp := math.Frexp(half)
	o.unit = math.Ldexp(1, exp-gridBits)
	var pg geom.Polygon
	var at [][]int // indices into the shape
	outer, widest := 0, 0.0
	for r, pts := range s.Rings {
		var ring geom.Ring
		var index []int
		for i, p := range pts {
			q := sub(p, o.centre).Scale(1 / o.unit).Round()
			if len(ring) > 0 && ring[len(ring)-1] == q { // the edge between them has no length
				index[len(index)-1] = i
				continue
			}
			ring, index = append(ring, q), append(index, i)
		}
		for len(ring) > 1 && ring[0] == ring[len(ring)-1] {
			ring, index = ring[:len(ring)-1], index[:len(index)-1]
		}
		if len(ring) < 3 {
			return nil, fmt.Errorf("the ring at %s has no area", um(pts[0]))
		}
		if b := ring.Bounds(); float64(b.Width())+float64(b.Height()) > widest {
			outer, widest = r, float64(b.Width())+float64(b.Height())
		}
		pg, at = append(pg, ring), append(at, index)
	}
	pg[0], pg[outer] = pg[outer], pg[0]
	at[0], at[outer] = at[outer], at[0]
	for r, ring := range pg {
		if sense := ring.Sense(); sense != 0 && (sense > 0) != (r == 0) {
			slices.Reverse(ring)
			slices.Reverse(at[r])
		}
		source := r
		if r == 0 {
			source = outer
		} else if r == outer {
			source = 0
		}
		o.addRing(s, ring, at[r], source)
	}
	if f, bad := pg.Fault(); bad {
		f.At = o.nm(toVec(f.At)).Round()
		return nil, fmt.Errorf("no sheet: %v", f)
	}
	return o, o.checkElectrodes()
}

func (s Shape) box() (box [2]geom.Vec, err error) {
	if len(s.Rings) == 0 || len(s.Rings) != len(s.Electrode) {
		return box, fmt.Errorf("%d rings with electrodes for %d: there must be as many, and one at least", len(s.Rings), len(s.Electrode))
	}
	box[0], box[1] = geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for r, pts := range s.Rings {
		if len(pts) < 3 || len(pts) != len(s.Electrode[r]) {
			return box, fmt.Errorf("ring %d has %d corners and %d electrodes: there must be as many, and three at least", r, len(pts), len(s.Electrode[r]))
		}
		for _, p := range pts {
			if !(math.Abs(p.X) <= 4*geom.Limit && math.Abs(p.Y) <= 4*geom.Limit) {
				return box, fmt.Errorf("%s lies beyond the frame", um(p))
			}
			box[0] = geom.Vec{X: min(box[0].X, p.X), Y: min(box[0].Y, p.Y)}
			box[1] = geom.Vec{X: max(box[1].X, p.X), Y: max(box[1].Y, p.Y)}
		}
	}
	return box, nil
}

// addRing takes a ring over whose corners have these indices in the shape; their order says which way it goes there.
func (o *outline) addRing(s Shape, ring geom.Ring, at []int, source int) {
	first, n := len(o.corners), len(ring)
	falls := 0
	for i := range at {
		if at[(i+1)%n] < at[i] {
			falls++
		}
	}
	for i, p := range ring {
		edge := at[i]
		if falls > 1 { // turned round: the edge that ends here in the shape begins here
			edge = at[(i+1)%n]
		}
		o.corners = append(o.corners, corner{at: p, ring: o.rings, prev: first + (i+n-1)%n, next: first + (i+1)%n,
			electrode: s.Electrode[source][edge], from: [2]int{source, at[i]}, edge: [2]int{source, edge}})
	}
	o.rings++
}

func (o *outline) checkElectrodes() error {
	seen := map[int]bool{}
	for _, c := range o.corners {
		e, before := c.electrode, o.corners[c.prev].electrode
		if e < Insulated {
			return fmt.Errorf("there is no electrode %d, at %s", e, um(o.nm(toVec(c.at))))
		}
		if e != before && e != Insulated && before != Insulated {
			return fmt.Errorf("electrodes %d and %d touch at %s, so that the current between them has no bound", before, e, um(o.nm(toVec(c.at))))
		}
		if e != Insulated {
			seen[e] = true
			o.k = max(o.k, e+1)
		}
	}
	if len(o.corners) > 0 && o.k < 2 {
		return fmt.Errorf("%d electrodes at %s: two are needed for a current", len(seen), um(o.nm(toVec(o.corners[0].at))))
	}
	for e := range o.k {
		if !seen[e] {
			return fmt.Errorf("electrode %d of %d has no edge at %s: electrodes are numbered from 0", e, o.k, um(o.nm(toVec(o.corners[0].at))))
		}
	}
	return nil
}

// exponent returns λ of the leading term r^λ of the field at a corner: π over the angle inside where both edges are alike,
// half of that where one is an electrode. smooth tells that the field has no singularity there.
func (o *outline) exponent(i int) (lambda float64, smooth bool) {
	c := o.corners[i]
	out := sub(toVec(o.corners[c.next].at), toVec(c.at))
	back := sub(toVec(o.corners[c.prev].at), toVec(c.at))
	angle := math.Atan2(cross(out, back), dot(out, back))
	if angle <= 0 {
		angle += 2 * math.Pi
	}
	lambda = math.Pi / angle
	if (c.electrode == Insulated) != (o.corners[c.prev].electrode == Insulated) {
		lambda /= 2
	}
	return lambda, math.Abs(lambda-math.Round(lambda)) < 1e-7
}

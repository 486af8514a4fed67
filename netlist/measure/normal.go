package measure

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure/field"
)

// normal is an outline turned, mirrored and moved such that all that are equal but for that become the same to the last bit.
type normal struct {
	rings [][]geom.Vec // the outer one counterclockwise, holes clockwise: the sheet lies on the left
	edges [][]normalEdge
	nets  []netlist.Net // by electrode, as this outline has them
	key   string
}

type normalEdge struct {
	electrode int
	layer     layout.Layer
	drawn     int32 // extract.Border.Drawn
}

// normalise returns the normal form of an outline: of the eight ways to lay it into the corner of the plane the one whose
// bytes come first.
func normalise(o *extract.Outline) *normal {
	var best *normal
	var bytesOf []byte
	for way := range 8 {
		n := oriented(o, way)
		n.number(o)
		if b := n.bytes(); best == nil || bytes.Compare(b, bytesOf) < 0 {
			best, bytesOf = n.normal, b
		}
	}
	best.key = string(bytesOf)
	return best
}

// laid is an outline laid in one of eight ways; from says of each edge which one of the outline it is.
type laid struct {
	*normal
	from [][][2]int
}

func oriented(o *extract.Outline, way int) *laid {
	n := &laid{normal: &normal{}}
	low := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}
	outer, largest := 0, 0.0
	for r, ring := range o.Rings {
		turned := make([]geom.Vec, len(ring))
		from := make([][2]int, len(ring))
		for i, p := range ring {
			if way&1 != 0 {
				p.X = -p.X
			}
			if way&2 != 0 {
				p.Y = -p.Y
			}
			if way&4 != 0 {
				p.X, p.Y = p.Y, p.X
			}
			turned[i], from[i] = p, [2]int{r, i}
			low.X, low.Y = min(low.X, p.X), min(low.Y, p.Y)
		}
		if a := math.Abs(ringArea(turned)); a > largest {
			outer, largest = r, a
		}
		n.rings, n.from = append(n.rings, turned), append(n.from, from)
	}
	for r := range n.rings {
		for i := range n.rings[r] {
			n.rings[r][i].X, n.rings[r][i].Y = n.rings[r][i].X-low.X, n.rings[r][i].Y-low.Y
		}
		if ringArea(n.rings[r]) > 0 != (r == outer) {
			n.reverse(r)
		}
		n.begin(r)
	}
	order := make([]int, len(n.rings))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		p, q := n.rings[a][0], n.rings[b][0]
		return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y))
	})
	rings, from := n.rings, n.from
	n.rings, n.from = make([][]geom.Vec, len(rings)), make([][][2]int, len(rings))
	for i, k := range order {
		n.rings[i], n.from[i] = rings[k], from[k]
	}
	return n
}

// reverse turns the sense of a ring around. An edge keeps what it is, though it begins at its other end.
func (n *laid) reverse(r int) {
	slices.Reverse(n.rings[r])
	from := n.from[r]
	slices.Reverse(from)
	n.from[r] = append(from[1:len(from):len(from)], from[0])
}

// begin lets a ring begin at its leftmost, then lowest corner.
func (n *laid) begin(r int) {
	ring, from := n.rings[r], n.from[r]
	k := 0
	for i, p := range ring {
		if p.X < ring[k].X || p.X == ring[k].X && p.Y < ring[k].Y {
			k = i
		}
	}
	n.rings[r] = slices.Concat(ring[k:], ring[:k])
	n.from[r] = slices.Concat(from[k:], from[:k])
}

// number numbers the nets in the order in which the edges come.
func (n *laid) number(o *extract.Outline) {
	for _, from := range n.from {
		edges := make([]normalEdge, len(from))
		for i, f := range from {
			b := o.Edges[f[0]][f[1]]
			edges[i] = normalEdge{electrode(&n.nets, b.Net), b.Layer, b.Drawn}
		}
		n.edges = append(n.edges, edges)
	}
}

func (n *normal) bytes() []byte {
	var b []byte
	for r, ring := range n.rings {
		b = binary.BigEndian.AppendUint32(b, uint32(len(ring)))
		for i, p := range ring {
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(p.X))
			b = binary.BigEndian.AppendUint64(b, math.Float64bits(p.Y))
			b = append(binary.BigEndian.AppendUint16(b, uint16(n.edges[r][i].electrode)), byte(n.edges[r][i].layer))
		}
	}
	return b
}

func (n *normal) fieldShape() field.Shape {
	s := field.Shape{Rings: n.rings}
	for _, edges := range n.edges {
		ids := make([]int, len(edges))
		for i, e := range edges {
			ids[i] = e.electrode
		}
		s.Electrode = append(s.Electrode, ids)
	}
	return s
}

// ringArea is positive for a counterclockwise ring.
func ringArea(ring []geom.Vec) float64 {
	sum := 0.0
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		sum += (p.X-ring[0].X)*(q.Y-ring[0].Y) - (q.X-ring[0].X)*(p.Y-ring[0].Y)
	}
	return sum / 2
}

// gains sums up by layer what a figure does when edges move; per says what it does when one moves out of the sheet by 1 nm.
// Edges of one drawn edge (lineOf) move as one.
func (n *normal) gains(per func(ring, edge int) float64) []gain {
	type sum struct {
		layer layout.Layer
		by    float64
	}
	lines := map[line]*sum{}
	var order []*sum
	byLayer := map[layout.Layer]*gain{}
	var out []*gain
	middle := n.middle()
	for r, ring := range n.rings {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			length := math.Hypot(q.X-p.X, q.Y-p.Y)
			nx, ny := (q.Y-p.Y)/length, -(q.X-p.X)/length
			l := n.edges[r][i].layer
			g := byLayer[l]
			if g == nil {
				g = &gain{layer: l}
				byLayer[l], out = g, append(out, g)
			}
			d := per(r, i)
			g.bias += d
			g.scale += d * (nx*(p.X-middle.X) + ny*(p.Y-middle.Y))
			on := n.lineOf(r, i)
			k := lines[on]
			if k == nil {
				k = &sum{layer: l}
				lines[on], order = k, append(order, k)
			}
			k.by += d
		}
	}
	for _, k := range order {
		g := byLayer[k.layer]
		g.noise = math.Hypot(g.noise, k.by)
	}
	all := make([]gain, len(out))
	for i, g := range out {
		all[i] = *g
	}
	return all
}

// middle returns the middle of the box around the outline.
func (n *normal) middle() geom.Vec {
	low, high := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, ring := range n.rings {
		for _, p := range ring {
			low.X, low.Y = min(low.X, p.X), min(low.Y, p.Y)
			high.X, high.Y = max(high.X, p.X), max(high.Y, p.Y)
		}
	}
	return geom.Vec{X: (low.X + high.X) / 2, Y: (low.Y + high.Y) / 2}
}

// perArea is what the area does when an edge moves out, in nm² per nm: its length.
func (n *normal) perArea(r, i int) float64 {
	p, q := n.rings[r][i], n.rings[r][(i+1)%len(n.rings[r])]
	return math.Hypot(q.X-p.X, q.Y-p.Y)
}

// perPerimeter is what the perimeter does when an edge moves out, in nm per nm: at each of its ends the tangent of half the angle
// by which the border turns there to the left.
func (n *normal) perPerimeter(r, i int) float64 {
	ring := n.rings[r]
	k := len(ring)
	half := func(i int) float64 {
		p, at, q := ring[(i+k-1)%k], ring[i%k], ring[(i+1)%k]
		dx, dy, ex, ey := at.X-p.X, at.Y-p.Y, q.X-at.X, q.Y-at.Y
		return math.Tan(math.Atan2(dx*ey-dy*ex, dx*ex+dy*ey) / 2)
	}
	return half(i) + half(i+1)
}

// mostLean is how far, as a part of the shorter side, a corner of a straight channel may lie off the rectangle that the side before it
// begins. What W/L by the rule is off then goes with the square of it.
const mostLean = 0.01

// nearlyStraight reports whether the outline has four corners, electrodes along two opposite sides, and nearly right angles.
func (n *normal) nearlyStraight() bool {
	if len(n.rings) != 1 || len(n.rings[0]) != 4 {
		return false
	}
	ring, edges := n.rings[0], n.edges[0]
	for i, p := range ring {
		if on := edges[i].electrode != field.Insulated; on == (edges[(i+1)%4].electrode != field.Insulated) {
			return false
		}
		q, r := ring[(i+1)%4], ring[(i+2)%4]
		dx, dy, ex, ey := q.X-p.X, q.Y-p.Y, r.X-q.X, r.Y-q.Y
		if math.Abs(dx*ex+dy*ey) > mostLean*min(dx*dx+dy*dy, ex*ex+ey*ey) {
			return false
		}
	}
	return true
}

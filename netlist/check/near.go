package check

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
)

// gap is a place at which two borders that face each other come near.
type gap struct {
	e, f   border
	p, q   geom.Point // on e, on f; rounded to the grid
	width  float64    // nm
	facing float64    // nm: how far they run along each other, 0 where only corners are near
}

// nearMisses finds pieces of one conductor that lie on different nets and come within the tolerance of each other. Each two
// pieces make one finding, at their smallest gap.
func (d *drawing) nearMisses() error {
	for l := range d.st.Layers {
		switch d.st.Layers[l].Role {
		case stack.Metal, stack.Gate, stack.Diffusion:
		default:
			continue
		}
		if !d.checked(layout.Layer(l)) {
			continue
		}
		if err := d.nearMissesOn(layout.Layer(l)); err != nil {
			return err
		}
	}
	return nil
}

// mostGaps is how many places of one near miss are kept as places to close it.
const mostGaps = 8

func (d *drawing) nearMissesOn(l layout.Layer) error {
	c := &d.conduct[l]
	found := map[[2]int32][]gap{} // by pieces: the best, in order
	for i := range c.borders {
		if i%1024 == 0 && d.ctx.Err() != nil {
			return d.ctx.Err()
		}
		e := &c.borders[i]
		if e.part < 0 {
			continue
		}
		near := c.reach[:0] // not while the grid is asked: it is asked again for what lies between
		c.grid.near(grown(boxOf(e.a, e.b), d.opt.ToleranceNm), func(k int32) bool {
			if f := &c.borders[k]; int(k) > i && f.part >= 0 && d.apart(e.part, f.part) {
				near = append(near, k)
			}
			return true
		})
		for _, k := range near {
			g, ok := gapBetween(e, &c.borders[k], float64(d.opt.ToleranceNm))
			if !ok {
				continue
			}
			if cmp.Or(comparePoints(g.p, g.q), comparePoints(g.e.a, g.f.a)) > 0 { // told on its lower, then left side
				g = g.reversed()
			}
			key := [2]int32{min(g.e.part, g.f.part), max(g.e.part, g.f.part)}
			gaps := found[key]
			at, _ := slices.BinarySearchFunc(gaps, g, compareGaps)
			if at == mostGaps || !d.inSight(c, &g) {
				continue
			}
			gaps = slices.Insert(gaps, at, g)
			found[key] = gaps[:min(len(gaps), mostGaps)]
		}
		c.reach = near
	}
	for _, gaps := range found { // findings are put in order later
		d.add(d.nearMiss(l, gaps))
	}
	return nil
}

// apart reports whether two pieces are known to lie on different nets. Of one that is narrower than the grid nothing is known.
func (d *drawing) apart(a, b int32) bool {
	m, n := d.pieces[a].net, d.pieces[b].net
	return m != n && m != 0 && n != 0
}

func (d *drawing) nearMiss(l layout.Layer, gaps []gap) Finding {
	g := &gaps[0]
	sides := [2]int32{g.e.part, g.f.part}
	what := "a gap of " + um(nearest(g.width))
	if g.width == 0 {
		what = "only a corner in common, which joins nothing,"
	}
	f := at(NearMiss, l, g.p, "%s between %s: if they are one, trace heal joins them", what, Between([2]string{d.netName(sides[0]), d.netName(sides[1])}))
	f.other, f.Gap, f.HasGap, f.pieces, f.gaps = g.q, nearest(g.width), true, sides, gaps
	for i, side := range sides {
		if name := d.netName(side); name != Unnamed {
			f.Nets[i] = name
		}
		n := d.devices.AskedNet(int(side))
		if n == netlist.NoNet {
			f.Dead = true
			continue
		}
		info := &d.devices.Circuit.Nets[n]
		if on, ok := d.st.LayerNamed(info.Layer); ok {
			f.On = append(f.On, layout.Place{Layer: on, At: info.At})
		}
	}
	if len(f.On) != len(sides) {
		f.On = nil
	}
	return f
}

// netName says which net a piece is part of.
func (d *drawing) netName(piece int32) string {
	a := &d.asked[piece]
	switch {
	case len(a.Labels) > 0:
		return strings.Join(a.Labels, "/")
	case a.Placed != "":
		return a.Placed
	}
	return Unnamed
}

// Unnamed stands for the name of a net without label.
const Unnamed = "a net without label"

// Between names two nets.
func Between(nets [2]string) string {
	if nets[0] == Unnamed && nets[1] == Unnamed {
		return "two nets without label"
	}
	return nets[0] + " and " + nets[1]
}

func (g gap) reversed() gap { return gap{g.f, g.e, g.q, g.p, g.width, g.facing} }

// compareGaps puts the smallest gap first, of equal ones that between the longest stretches, or around a corner
// borders that are no slivers, then by place.
func compareGaps(a, b gap) int {
	return cmp.Or(cmp.Compare(a.width, b.width), cmp.Compare(b.facing, a.facing), cmp.Compare(b.square(), a.square()), cmp.Compare(b.shorter(), a.shorter()), comparePoints(a.p, b.p), comparePoints(a.q, b.q),
		comparePoints(a.e.a, b.e.a), comparePoints(a.f.a, b.f.a))
}

// square says how squarely two borders face each other: 1 where they are parallel.
func (g *gap) square() float64 {
	n, m := g.e.outward(), g.f.outward()
	return -float64(n.X*m.X+n.Y*m.Y) / (length(n) * length(m))
}

// shorter returns the length of the shorter border, up to thin.
func (g *gap) shorter() float64 { return min(length(g.e.way()), length(g.f.way()), thin) }

func length(v geom.Point) float64 {
	switch {
	case v.X == 0:
		return math.Abs(float64(v.Y))
	case v.Y == 0:
		return math.Abs(float64(v.X))
	}
	return math.Hypot(float64(v.X), float64(v.Y))
}

// nearest rounds a length to whole nm, but none to nothing.
func nearest(nm float64) int {
	if nm > 0 {
		return max(int(math.Round(nm)), 1)
	}
	return 0
}

// vec is a place or a way in nm.
type vec struct{ x, y float64 }

func toVec(p geom.Point) vec      { return vec{float64(p.X), float64(p.Y)} }
func (v vec) minus(w vec) vec     { return vec{v.x - w.x, v.y - w.y} }
func (v vec) dot(w vec) float64   { return v.x*w.x + v.y*w.y }
func (v vec) plus(w vec) vec      { return vec{v.x + w.x, v.y + w.y} }
func (v vec) times(k float64) vec { return vec{v.x * k, v.y * k} }
func (v vec) length() float64     { return math.Sqrt(v.dot(v)) }
func (v vec) round() geom.Point   { return geom.Vec{X: v.x, Y: v.y}.Round() }

// rounding is what floating point may add to a length across a slanted edge, in nm.
const rounding = 1e-7

// facing is the sine of the angle above which one border lies on the outer side of the other: edges on one line do not, though
// snap rounding may have bent them.
const facing = 0.1

// gapBetween returns the gap between two borders, if it is at most tol and each lies on the outer side of the other there.
// Borders that meet in a corner, and have each other on their outer sides, have a gap of 0.
func gapBetween(e, f *border, tol float64) (g gap, ok bool) {
	n, m := toVec(e.outward()), toVec(f.outward())
	p, q, along := closest(e, f)
	way := q.minus(p)
	width := way.length()
	if width > tol+rounding {
		return g, false
	}
	if width == 0 {
		// In a corner: the far end of each must lie on the outer side of the other.
		if far(f, p).minus(p).dot(n) <= 0 || far(e, p).minus(p).dot(m) <= 0 {
			return g, false
		}
	} else if way.dot(n) < facing*n.length()*width || -way.dot(m) < facing*m.length()*width {
		return g, false
	}
	return gap{*e, *f, p.round(), q.round(), width, along}, true
}

// far returns the end of a border that lies farther from p.
func far(b *border, p vec) vec {
	x, y := toVec(b.a), toVec(b.b)
	if x.minus(p).length() > y.minus(p).length() {
		return x
	}
	return y
}

// closest returns the nearest points of two borders that do not cross. Where they are parallel and run along each other it
// is the middle of that stretch, whose length it returns.
func closest(e, f *border) (p, q vec, facing float64) {
	if lo, hi, ok := alongside(e, f); ok && hi > lo && parallel(e, f) {
		a, w := toVec(e.a), toVec(e.way())
		p = a.plus(w.times((lo + hi) / 2))
		return p, onto(p, f), (hi - lo) * w.length()
	}
	best := math.Inf(1)
	try := func(x, y vec) {
		if l := y.minus(x).length(); l < best {
			p, q, best = x, y, l
		}
	}
	try(toVec(e.a), onto(toVec(e.a), f))
	try(toVec(e.b), onto(toVec(e.b), f))
	try(onto(toVec(f.a), e), toVec(f.a))
	try(onto(toVec(f.b), e), toVec(f.b))
	return p, q, 0
}

func parallel(e, f *border) bool {
	v, w := e.way(), f.way()
	return v.X*w.Y == v.Y*w.X
}

// alongside returns the range of e, as parts of its way, that f lies beside.
func alongside(e, f *border) (lo, hi float64, ok bool) {
	a, w := toVec(e.a), toVec(e.way())
	part := func(p geom.Point) float64 { return toVec(p).minus(a).dot(w) / w.dot(w) }
	s, t := part(f.a), part(f.b)
	lo, hi = max(0, min(s, t)), min(1, max(s, t))
	return lo, hi, hi >= lo
}

// onto returns the point of a border that is nearest to p.
func onto(p vec, b *border) vec {
	a, w := toVec(b.a), toVec(b.way())
	return a.plus(w.times(min(max(p.minus(a).dot(w)/w.dot(w), 0), 1)))
}

// inSight reports whether nothing of the layer lies between the two sides of a gap.
func (d *drawing) inSight(c *conductor, g *gap) bool {
	clear := true
	c.grid.near(grown(boxOf(g.p, g.q), 1), func(k int32) bool {
		b := &c.borders[k]
		if b.part == g.e.part || b.part == g.f.part {
			return true
		}
		clear = !geom.SegmentsMeet(g.p, g.q, b.a, b.b)
		return clear
	})
	return clear
}

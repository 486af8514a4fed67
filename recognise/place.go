package recognise

import (
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/parts"
)

// placer says where missing pieces should be.
type placer struct {
	f              *finder
	by             []int32 // by part: the fit of the cover that explains it
	like           map[likeKey]*likes
	likeAt         map[likeKey]*cloud // their middles
	loose          []int32            // parts that nothing explains
	looseAt        *cloud
	supply, ground int32 // the rails with the most pins; -1: none
	placed         bool  // the circuit has places
}

// nearLikes is how many like fits are looked at, and nearLoose how many parts that nothing explains.
const (
	nearLikes = 12
	nearLoose = 40
)

func newPlacer(f *finder, o *odds) *placer {
	pl := &placer{f: f, by: o.by, like: o.like, likeAt: map[likeKey]*cloud{}, supply: f.mainRail(parts.Supply), ground: f.mainRail(parts.Ground),
		placed: hasPlaces(f.ix.g.Circuit)}
	if !pl.placed {
		return pl
	}
	for k, l := range o.like {
		var at []geom.Vec
		for _, c := range l.fits {
			at = append(at, middle(pl.places(c)))
		}
		pl.likeAt[k] = newCloud(at)
	}
	var at []geom.Vec
	for p, c := range o.by {
		if c < 0 {
			pl.loose = append(pl.loose, int32(p))
			at = append(at, pl.at(int32(p)))
		}
	}
	pl.looseAt = newCloud(at)
	return pl
}

// places are those of the parts of a candidate.
func (pl *placer) places(c *candidate) []geom.Vec {
	var at []geom.Vec
	for _, p := range c.parts {
		if p >= 0 {
			at = append(at, pl.at(p))
		}
	}
	return at
}

// at is the place of a part: of its first device.
func (pl *placer) at(part int32) geom.Vec {
	p := pl.f.ix.g.Circuit.Devices[pl.f.ix.g.Devices(part)[0]].At
	return geom.Vec{X: float64(p.X), Y: float64(p.Y)}
}

// spot is where a piece should be, and how far around that it may be.
type spot struct {
	at     geom.Point
	radius float64
}

// expect returns the expected place of the i-th part of a candidate, which lacks it: the like place in the nearest full fit of the same
// pattern, turned or mirrored as this one is; without one, the middle of the parts on the nets it would be on; else that of all.
func (pl *placer) expect(c *candidate, i int) spot {
	mine := pl.places(c)
	if key := (likeKey{c.pattern, c.mirror}); pl.placed && pl.like[key] != nil {
		l := pl.like[key]
		for _, k := range pl.likeAt[key].nearest(middle(mine), nearLikes, math.Inf(1)) {
			if s, ok := pl.asIn(l.fits[k], c, i); ok {
				return s
			}
		}
	}
	whole := c.pattern.Circuit.Devices[c.plan.parts[i].device]
	var near []geom.Vec
	for k, p := range c.parts {
		if p >= 0 && touch(&whole, &c.pattern.Circuit.Devices[c.plan.parts[k].device]) {
			near = append(near, pl.at(p))
		}
	}
	if len(near) == 0 {
		near = mine
	}
	return spot{middle(near).Round(), extent(mine) + 1}
}

// asIn is the place of the i-th part of c by where a like fit has it.
func (pl *placer) asIn(like, c *candidate, i int) (spot, bool) {
	if like.parts[i] < 0 {
		return spot{}, false
	}
	var a, b []geom.Vec
	for k, p := range c.parts {
		if p >= 0 && like.parts[k] >= 0 {
			a, b = append(a, pl.at(like.parts[k])), append(b, pl.at(p))
		}
	}
	if len(a) == 0 {
		return spot{}, false
	}
	to, residual := carry(a, b, pl.at(like.parts[i]))
	size := extent(pl.places(like))
	return spot{to.Round(), size/2 + 1}, residual <= 0.2*size+1
}

// touch reports whether two devices of a pattern have a net in common, bulks and supplies left out as far as they are ends of
// a channel only.
func touch(a, b *netlist.Device) bool {
	for i, n := range a.Terminals[:3] {
		if n != netlist.NoNet && (!a.Kind.IsMOS() || i < netlist.Bulk) && slices.Contains(b.Terminals[:3], n) {
			return true
		}
	}
	return false
}

func middle(ps []geom.Vec) geom.Vec {
	var m geom.Vec
	for _, p := range ps {
		m.X += p.X / float64(len(ps))
		m.Y += p.Y / float64(len(ps))
	}
	return m
}

// extent is the diagonal of the box of points, in nm.
func extent(ps []geom.Vec) float64 {
	lo, hi := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range ps {
		lo.X, lo.Y, hi.X, hi.Y = min(lo.X, p.X), min(lo.Y, p.Y), max(hi.X, p.X), max(hi.Y, p.Y)
	}
	return math.Hypot(hi.X-lo.X, hi.Y-lo.Y)
}

// carry moves x as the points a have to be moved, turned by quarters and mirrored to lie on b, and returns how far off the worst of
// them lies then. Of equals the least turned counts.
func carry(a, b []geom.Vec, x geom.Vec) (to geom.Vec, residual float64) {
	ma, mb := middle(a), middle(b)
	residual = math.Inf(1)
	for _, m := range [8][4]float64{{1, 0, 0, 1}, {-1, 0, 0, 1}, {1, 0, 0, -1}, {-1, 0, 0, -1}, {0, 1, 1, 0}, {0, -1, 1, 0}, {0, 1, -1, 0}, {0, -1, -1, 0}} {
		move := func(p geom.Vec) geom.Vec {
			dx, dy := p.X-ma.X, p.Y-ma.Y
			return geom.Vec{X: mb.X + m[0]*dx + m[1]*dy, Y: mb.Y + m[2]*dx + m[3]*dy}
		}
		worst := 0.0
		for i := range a {
			q := move(a[i])
			worst = max(worst, math.Hypot(q.X-b[i].X, q.Y-b[i].Y))
		}
		if worst < residual-1 {
			residual, to = worst, move(x)
		}
	}
	return to, residual
}

// neighbour looks for a part that nothing explains near a spot, which would be the missing one if one of its terminals were joined to
// the net it belongs on. It returns the part and which terminal of the pattern's part that is; -1: none.
func (pl *placer) neighbour(c *candidate, i int, s spot) (part int32, terminal int, on int32) {
	g := pl.f.ix.g
	whole := c.plan.whole
	pp := whole.parts[i]
	for _, q := range pl.looseBy(c, &pp, s) {
		p := &g.Parts[q]
		if pp.kinds>>p.Kind&1 == 0 || slices.Contains(c.parts, q) {
			continue
		}
		n, last := p.Kind.Terminals()
		for turn := range 2 {
			if turn == 1 && !p.Kind.Symmetric() {
				break
			}
			off, offOn, bad := -1, int32(-1), 0
			for t := range n {
				target := p.Nets[turned(t, turn, last)]
				if want := c.nets[pp.nets[t]]; want >= 0 && want != target {
					off, offOn = t, target
					bad++
				} else if want < 0 && !pl.f.ix.netFits(whole, pp.nets[t], target) {
					bad = 9
				}
			}
			if bad == 1 {
				return q, off, offOn
			}
		}
	}
	return -1, 0, 0
}

// looseBy returns parts that nothing explains near a spot, the nearest first; of a circuit without places, those on the nets that the
// missing part would be on.
func (pl *placer) looseBy(c *candidate, pp *planPart, s spot) []int32 {
	var all []int32
	if pl.placed {
		for _, k := range pl.looseAt.nearest(geom.Vec{X: float64(s.at.X), Y: float64(s.at.Y)}, nearLoose, s.radius) {
			all = append(all, pl.loose[k])
		}
		return all
	}
	g := pl.f.ix.g
	for _, n := range pp.nets {
		if n < 0 || c.nets[n] < 0 || g.Rails[c.nets[n]] != parts.Signal || g.Degree(c.nets[n]) > walkPins {
			continue
		}
		for _, pin := range g.On(c.nets[n]) {
			if q := pin.Part(); pl.by[q] < 0 {
				all = append(all, q)
			}
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

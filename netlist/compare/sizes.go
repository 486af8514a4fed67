package compare

import (
	"cmp"
	"math"
	"slices"

	"undermetal/netlist"
)

// slackNm and slackRel keep a difference that is exactly the tolerance within it, whatever the conversion from metres
// did to the last digits.
const (
	slackNm  = 1e-6
	slackRel = 1e-9
	valueRel = 1e-3 // relative tolerance of values, areas and perimeters
)

// nearLength reports whether two lengths in nm agree; one that is not given agrees only with another such.
func (o Options) nearLength(x, y float64) bool {
	if !given(x) || !given(y) {
		return given(x) == given(y)
	}
	off := math.Abs(x - y)
	return off <= o.ToleranceNm+slackNm || off <= o.ToleranceRel*max(x, y)*(1+slackRel)
}

// nearValue is nearLength for values, areas and perimeters.
func (o Options) nearValue(x, y float64) bool {
	if math.IsNaN(x) || math.IsNaN(y) {
		return math.IsNaN(x) == math.IsNaN(y)
	}
	return math.Abs(x-y) <= max(valueRel, o.ToleranceRel)*max(math.Abs(x), math.Abs(y))*(1+slackRel)
}

// reading says which of two sizes of a device counts that was solved for (netlist.Device.Ratio): a netlist may hold either.
type reading uint8

const (
	simple    reading = iota // W by the rule; of a resistor the value by W and L
	effective                // Ratio times L; the value by the solution
)

var bothReadings = [...]reading{simple, effective}

func (r reading) width(d *netlist.Device) float64 {
	if r == effective && d.Ratio > 0 && given(d.L) {
		return d.Ratio * d.L
	}
	return d.W
}

func (r reading) value(d *netlist.Device) float64 {
	if r == simple && d.Kind == netlist.Resistor && d.Ratio > 0 && given(d.W) && given(d.L) {
		return d.Value * d.Ratio * (d.L / d.W)
	}
	return d.Value
}

// agree reports whether the sizes of element x of side sx and element y of side sy, which are of one class, agree in either
// reading, the same for all of an element's bundle.
func (p *pair) agree(sx *side, x int32, sy *side, y int32) bool {
	bx, by := sx.bundles(x), sy.bundles(y)
	if len(bx) == 1 {
		return p.agreeBundles(sx, bx[0], sy, by[0])
	}
	for _, r := range bothReadings {
		if p.agreeStacks(sx, sx.bySize(bx, r), sy, sy.bySize(by, r)) {
			return true
		}
	}
	return false
}

func (p *pair) agreeStacks(sx *side, bx []int32, sy *side, by []int32) bool {
	for i := range bx {
		if !p.agreeBundles(sx, bx[i], sy, by[i]) {
			return false
		}
	}
	return true
}

// bySize returns a copy of bundles in order of L, then W.
func (s *side) bySize(bundles []int32, r reading) []int32 {
	sorted := slices.Clone(bundles)
	slices.SortStableFunc(sorted, func(x, y int32) int {
		lx, ly := s.c.Devices[s.bundleFirst(x)].L, s.c.Devices[s.bundleFirst(y)].L
		return cmp.Or(cmp.Compare(lx, ly), cmp.Compare(s.sum(s.devices(x), r.width), s.sum(s.devices(y), r.width)))
	})
	return sorted
}

func (p *pair) agreeBundles(sx *side, x int32, sy *side, y int32) bool {
	return p.agreeBundlesIn(simple, sx, x, sy, y) || (sx.solved(x) || sy.solved(y)) && p.agreeBundlesIn(effective, sx, x, sy, y)
}

// solved reports whether a bundle has a device with another size than its simple one.
func (s *side) solved(bundle int32) bool {
	return slices.ContainsFunc(s.devices(bundle), func(dev int32) bool { return s.c.Devices[dev].Ratio > 0 })
}

func (p *pair) agreeBundlesIn(r reading, sx *side, x int32, sy *side, y int32) bool {
	dx, dy := sx.devices(x), sy.devices(y)
	d, e := &sx.c.Devices[dx[0]], &sy.c.Devices[dy[0]]
	switch {
	case d.Kind.IsMOS() && len(dx) == 1 && len(dy) == 1:
		return p.opt.nearLength(d.L, e.L) && p.opt.nearLength(r.width(d), r.width(e))
	case d.Kind.IsMOS():
		return p.agreeFingers(r, sx, dx, sy, dy)
	case d.Kind == netlist.Diode:
		return p.opt.nearValue(sx.sum(dx, area), sy.sum(dy, area)) && p.opt.nearValue(sx.sum(dx, perim), sy.sum(dy, perim))
	}
	vx, vy := sx.sum(dx, r.value), sy.sum(dy, r.value)
	if math.IsNaN(vx) && math.IsNaN(vy) && len(dx) != len(dy) {
		return false // without values, two capacitors are not one
	}
	return p.opt.nearValue(vx, vy) && (len(dx) > 1 || len(dy) > 1 || p.agreeDrawn(d, e))
}

// agreeDrawn compares W and L of devices that have them besides a value, where both give them: W in either reading.
func (p *pair) agreeDrawn(d, e *netlist.Device) bool {
	w := func(r reading) bool {
		return !given(r.width(d)) || !given(r.width(e)) || p.opt.nearLength(r.width(d), r.width(e))
	}
	return (w(simple) || w(effective)) && (!given(d.L) || !given(e.L) || p.opt.nearLength(d.L, e.L))
}

func area(d *netlist.Device) float64  { return d.Area }
func perim(d *netlist.Device) float64 { return d.Perim }
func value(d *netlist.Device) float64 { return d.Value }

func (s *side) sum(devs []int32, of func(*netlist.Device) float64) (x float64) {
	for _, d := range devs {
		x += of(&s.c.Devices[d])
	}
	return x
}

// finger is one transistor of a bundle.
type finger struct {
	l, w  float64
	dev   int32
	side  uint8
	total bool // W is the total of several channels
}

// agreeFingers compares transistors in parallel. They are sorted by L into lots, a gap of more than the tolerance
// apart; each lot must have the same L and the same total W in both, and the same W one by one, if both list as many
// transistors of one finger each.
func (p *pair) agreeFingers(r reading, sx *side, dx []int32, sy *side, dy []int32) bool {
	for _, lot := range p.lots(r, sx, dx, sy, dy) {
		if !p.agreeLot(lot) {
			return false
		}
	}
	return true
}

// lots returns the transistors of both sides, by L, in each lot those of the first side first, by W.
func (p *pair) lots(r reading, sx *side, dx []int32, sy *side, dy []int32) (lots [][]finger) {
	var all []finger
	for i, ds := range [][]int32{dx, dy} {
		s := [2]*side{sx, sy}[i]
		for _, dev := range ds {
			d := &s.c.Devices[dev]
			all = append(all, finger{l: d.L, w: r.width(d), dev: dev, side: uint8(i), total: d.Fingers > 1})
		}
	}
	slices.SortStableFunc(all, func(x, y finger) int { return cmp.Compare(x.l, y.l) })
	from := 0
	for i := range all {
		if i+1 == len(all) || !p.opt.nearLength(all[i].l, all[i+1].l) {
			lot := all[from : i+1]
			slices.SortStableFunc(lot, func(x, y finger) int {
				return cmp.Or(cmp.Compare(x.side, y.side), cmp.Compare(x.w, y.w))
			})
			lots, from = append(lots, lot), i+1
		}
	}
	return lots
}

func (p *pair) agreeLot(lot []finger) bool {
	x, y := split(lot)
	if len(x) == 0 || len(y) == 0 {
		return false
	}
	if lowX, lowY := lowL(x), lowL(y); !p.opt.nearLength(lowX[0], lowY[0]) || !p.opt.nearLength(lowX[1], lowY[1]) {
		return false
	}
	if !p.opt.nearLength(width(x), width(y)) {
		return false
	}
	if !oneByOne(x, y) {
		return true
	}
	for i := range x {
		if !p.opt.nearLength(x[i].w, y[i].w) {
			return false
		}
	}
	return true
}

// split divides a lot by side.
func split(lot []finger) (x, y []finger) {
	n := 0
	for n < len(lot) && lot[n].side == 0 {
		n++
	}
	return lot[:n], lot[n:]
}

// oneByOne reports whether both sides list as many transistors, each of them a single channel.
func oneByOne(x, y []finger) bool {
	total := func(f finger) bool { return f.total }
	return len(x) == len(y) && !slices.ContainsFunc(x, total) && !slices.ContainsFunc(y, total)
}

func width(fs []finger) (w float64) {
	for _, f := range fs {
		w += f.w
	}
	return w
}

// lowL returns the smallest and the largest L.
func lowL(fs []finger) (l [2]float64) {
	l = [2]float64{fs[0].l, fs[0].l}
	for _, f := range fs {
		l = [2]float64{min(l[0], f.l), max(l[1], f.l)}
	}
	return l
}

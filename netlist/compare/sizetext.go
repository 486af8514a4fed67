package compare

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"undermetal/netlist"
)

// sizes reports where the sizes of a pair of elements do not agree.
func (ac *account) sizes(x, y int32) {
	a, b := ac.p.side[0], ac.p.side[1]
	if ac.p.base(a, x) != ac.p.base(b, y) || ac.p.agree(a, x, b, y) {
		return
	}
	as, bs := a.bundles(x), b.bundles(y)
	if len(as) > 1 {
		as, bs = a.bySize(as, simple), b.bySize(bs, simple)
	}
	for i := range as {
		if ac.p.agreeBundles(a, as[i], b, bs[i]) {
			continue
		}
		dx, dy := a.devices(as[i]), b.devices(bs[i])
		if len(dx) != len(dy) { // the odd ones first, if they can be told by their names
			dx, dy = ac.p.unsharedFirst(0, dx, dy), ac.p.unsharedFirst(1, dy, dx)
		}
		if a.c.Devices[dx[0]].Kind.IsMOS() {
			ac.fingerSizes(dx, dy)
		} else {
			ac.valueSizes(dx, dy)
		}
	}
}

// unsharedFirst returns devs of that side with those first whose names others, of the other side, do not have.
func (p *pair) unsharedFirst(side int, devs, others []int32) []int32 {
	names := map[string]bool{}
	for _, d := range others {
		names[p.side[1-side].c.Devices[d].Name] = true
	}
	sorted := slices.Clone(devs)
	shared := func(d int32) int {
		if names[p.side[side].c.Devices[d].Name] {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(sorted, func(x, y int32) int { return shared(x) - shared(y) })
	return sorted
}

// size adds a line about devices of A and of B.
func (ac *account) size(dx, dy []int32, format string, args ...any) {
	a, b := ac.p.joinNames(0, dx, "+"), ac.p.joinNames(1, dy, "+")
	shown := ac.p.bases[ac.p.side[0].devBase[dx[0]]]
	at := ac.p.deviceAt(0, dx[0])
	text := a
	if shown.shown != "" {
		text += " (" + shown.shown + ")"
	}
	text += atPlace(at) + ": " + fmt.Sprintf(format, args...) + " of " + b
	other := ac.p.deviceAt(1, dy[0])
	text += atPlace(other)
	if at == nil {
		at = other
	}
	ac.add(rankSize, 0, Difference{Kind: "size", Text: text, A: a, B: b, At: at})
}

// fingerSizes compares transistors in parallel, or one with one.
func (ac *account) fingerSizes(dx, dy []int32) {
	for _, lot := range ac.p.lots(simple, ac.p.side[0], dx, ac.p.side[1], dy) {
		if ac.p.agreeLot(lot) {
			continue
		}
		xs, ys := split(lot)
		ac.lot(xs, ys, dx, dy)
	}
}

// lot reports a lot that does not agree (see agreeFingers), of transistors dx and dy.
func (ac *account) lot(xs, ys []finger, dx, dy []int32) {
	if len(xs) == 0 || len(ys) == 0 {
		ac.strayLot(xs, ys, dx, dy)
		return
	}
	x, y := lowL(xs), lowL(ys)
	switch {
	case !ac.p.opt.nearLength(x[0], y[0]) || !ac.p.opt.nearLength(x[1], y[1]):
		ac.size(devices(xs), devices(ys), "L is %s to %s µm against %s to %s µm", length(x[0]), length(x[1]), length(y[0]), length(y[1]))
	case oneByOne(xs, ys):
		ac.oddFingers(xs, ys)
	case len(xs) != len(ys):
		only := func(of []int32, among []finger) []int32 {
			return slices.DeleteFunc(slices.Clone(of), func(d int32) bool { return !slices.Contains(devices(among), d) })
		}
		ac.size(only(dx, xs), only(dy, ys), "W is %s µm (%d in parallel; %s) against %s µm (%d)", length(width(xs)), len(xs),
			ac.terminalsOf(0, xs[0].dev), length(width(ys)), len(ys))
	default:
		ac.size(devices(xs), devices(ys), "W is %s µm against %s µm", length(width(xs)), length(width(ys)))
	}
}

// strayLot reports transistors of an L that the other side does not have. Where both have just one, that is one line.
func (ac *account) strayLot(xs, ys []finger, dx, dy []int32) {
	a, b := ac.p.side[0].c.Devices[dx[0]], ac.p.side[1].c.Devices[dy[0]]
	switch {
	case len(ys) == 0 && len(dx) == 1 && len(dy) == 1 && !ac.p.opt.nearLength(a.W, b.W):
		ac.size(dx, dy, "L is %s µm and W %s µm against %s µm and %s µm", length(a.L), length(a.W), length(b.L), length(b.W))
	case len(ys) == 0:
		ac.size(devices(xs), dy, "L is %s µm against %s µm", length(xs[0].l), length(b.L))
	case len(dx) > 1 || len(dy) > 1:
		ac.size(dx, devices(ys), "L is %s µm against %s µm", length(a.L), length(ys[0].l))
	}
}

// oddFingers reports the fingers, of equally many, whose W finds none that agrees.
func (ac *account) oddFingers(xs, ys []finger) {
	var odd []finger
	rest := slices.Clone(ys)
	for _, x := range xs {
		i := slices.IndexFunc(rest, func(y finger) bool { return ac.p.opt.nearLength(x.w, y.w) })
		if i < 0 {
			odd = append(odd, x)
		} else {
			rest = slices.Delete(rest, i, i+1)
		}
	}
	if len(odd) == 0 { // each finger finds one, but the totals are too far apart
		ac.size(devices(xs), devices(ys), "W is %s µm against %s µm", length(width(xs)), length(width(ys)))
	}
	for i, x := range odd {
		ac.size(devices(odd[i:i+1]), devices(rest[i:i+1]), "W is %s µm against %s µm", length(x.w), length(rest[i].w))
	}
}

// valueSizes compares diodes, and devices with a value.
func (ac *account) valueSizes(dx, dy []int32) {
	a, b := ac.p.side[0], ac.p.side[1]
	d, e := &a.c.Devices[dx[0]], &b.c.Devices[dy[0]]
	if d.Kind == netlist.Diode {
		if x, y := a.sum(dx, area), b.sum(dy, area); !ac.p.opt.nearValue(x, y) {
			ac.size(dx, dy, "area is %s µm² against %s µm²", micro(x/1e6), micro(y/1e6))
		}
		if x, y := a.sum(dx, perim), b.sum(dy, perim); !ac.p.opt.nearValue(x, y) {
			ac.size(dx, dy, "perimeter is %s µm against %s µm", micro(x/1e3), micro(y/1e3))
		}
		return
	}
	x, y := a.sum(dx, value), b.sum(dy, value)
	switch {
	case math.IsNaN(x) && math.IsNaN(y) && len(dx) != len(dy):
		ac.size(dx, dy, "%d in parallel, without value, against %d", len(dx), len(dy))
	case !ac.p.opt.nearValue(x, y):
		ac.size(dx, dy, "value is %s against %s", si(x, d.Kind), si(y, d.Kind))
	default:
		ac.size(dx, dy, "W and L are %s µm and %s µm against %s µm and %s µm", length(d.W), length(d.L), length(e.W), length(e.L))
	}
}

func devices(fs []finger) (devs []int32) {
	for _, f := range fs {
		devs = append(devs, f.dev)
	}
	return devs
}

// length writes a length of so many nm in µm, to a thousandth of a nanometre, without trailing zeros.
func length(x float64) string {
	if !given(x) {
		return "no"
	}
	return strconv.FormatFloat(math.Round(x*1000)/1e6, 'f', -1, 64)
}

// micro writes an area in µm² or a perimeter in µm to six digits.
func micro(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

// si writes a value with its unit to six digits.
func si(x float64, k netlist.Kind) string {
	if math.IsNaN(x) {
		return "none"
	}
	unit := map[netlist.Kind]string{netlist.Resistor: " ohm", netlist.Capacitor: " F", netlist.Inductor: " H",
		netlist.VoltageSource: " V", netlist.CurrentSource: " A"}[k]
	return strconv.FormatFloat(x, 'g', 6, 64) + unit
}

package question

import (
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// tellDummies finds what is there so that its neighbours look alike: transistors at the end of a row of their likes whose gate is tied
// off; resistors, and strips of their layer, beside one of the same width, that carry no current; and what an answer, or the leading
// reading of a question, takes for a dummy.
func (v *view) tellDummies(t *Told, all []Question) {
	told := func(i int) {
		if t.Roles[i] == "" {
			t.Roles[i] = Dummy
		}
	}
	v.rowEnds(t, told)
	v.idleResistors(told)
	v.idleStrips(t)
	for i := range all {
		q := &all[i]
		if q.Kind != TransistorOrCapacitor || q.Verdict != Dummy && (q.Verdict != "" || q.Leading().Reading != Dummy) {
			continue
		}
		for _, d := range q.Devices {
			if t.Roles[d] == "" && q.Open() {
				t.Odds[d] = q.Leading().OddsDb
			}
			told(d)
		}
	}
}

// rowReach is how many times its own size, the longer side of its gate's box, a transistor may be away from the next one of a row.
const rowReach = 3

// leastRow is how many others, none of them tied off, make a row.
const leastRow = 2

// rowEnds tells of transistors that are tied off, between two nets, at the end of a row of others with the same W and L.
func (v *view) rowEnds(t *Told, told func(int)) {
	var rows *likes
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		if !d.Kind.IsMOS() || t.Roles[i] != "" || len(v.channelsOf[i]) == 0 || !off(d.Kind, v.role[d.Terminals[netlist.Gate]]) {
			continue
		}
		if rows == nil {
			rows = newLikes()
			for k := range v.c.Devices {
				if e := &v.c.Devices[k]; e.Kind.IsMOS() && len(v.channelsOf[k]) > 0 {
					b := v.f.Channels[v.channelsOf[k][0]].Box
					rows.add(int32(k), e.W, e.L, b, 4*max(b.Width(), b.Height()))
				}
			}
		}
		if v.endsRow(i, rows) {
			told(i)
		}
	}
}

// endsRow reports whether the likes of a transistor follow each other in a line on one side of it.
func (v *view) endsRow(i int, rows *likes) bool {
	d, box := &v.c.Devices[i], v.f.Channels[v.channelsOf[i][0]].Box
	side := max(box.Width(), box.Height())
	near := grown(box, (leastRow+1)*rowReach*side)
	seenAt := map[int32]bool{}
	var before, after [2]int // along x, along y: how many lie there
	rows.near(d.W, d.L, near, func(k int32) bool {
		e, b := &v.c.Devices[k], v.f.Channels[v.channelsOf[int(k)][0]].Box
		if int(k) == i || seenAt[k] || e.Kind != d.Kind || e.Model != d.Model || !alike(e.W, d.W) || !alike(e.L, d.L) || !b.Overlaps(near) || off(e.Kind, v.role[e.Terminals[netlist.Gate]]) {
			return true
		}
		seenAt[k] = true
		dx, dy := b.Min.X-box.Min.X, b.Min.Y-box.Min.Y
		for axis, off := range [2][2]int{{dx, dy}, {dy, dx}} {
			switch {
			case math.Abs(float64(off[1])) > sizeStep*float64(side): // not in this line
			case off[0] < 0:
				before[axis]++
			case off[0] > 0:
				after[axis]++
			}
		}
		return true
	})
	for axis := range before {
		if one, other := before[axis], after[axis]; one >= leastRow && other == 0 || other >= leastRow && one == 0 {
			return true
		}
	}
	return false
}

// idleResistors tells of resistors beside another one of the same model and width that carry no current: both ends are one net, or one
// leads nowhere.
func (v *view) idleResistors(told func(int)) {
	var all []int
	idle := map[int]bool{}
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		if d.Kind != netlist.Resistor || d.W == 0 {
			continue
		}
		all = append(all, i)
		a, b := d.Terminals[0], d.Terminals[1]
		idle[i] = a == b || v.leadsNowhere(a, i) || v.leadsNowhere(b, i)
	}
	for _, i := range all {
		d := &v.c.Devices[i]
		if idle[i] && slices.ContainsFunc(all, func(k int) bool {
			e := &v.c.Devices[k]
			return !idle[k] && e.Model == d.Model && alike(e.W, d.W) && apart(d.At, e.At) <= max(reachOf(d), reachOf(e))
		}) {
			told(i)
		}
	}
}

// leadsNowhere reports whether nothing but one device is on a net.
func (v *view) leadsNowhere(n netlist.Net, device int) bool {
	if info := &v.c.Nets[n]; info.Name != "" || info.Open || len(v.devicesOn(n)) > 1 {
		return false
	}
	return !slices.ContainsFunc(v.res.Pads, func(p extract.Pad) bool { return p.Net == n })
}

// reachOf is how far from a resistor what is matched to it may lie, in nm: its length where it is straight; folded, with gaps twice as
// wide as its legs, it fills a square of this side, and its place is a corner of that.
func reachOf(d *netlist.Device) float64 { return max(2*math.Sqrt(3*d.L*d.W), 8*d.W) }

func apart(a, b geom.Point) float64 { return math.Hypot(float64(a.X-b.X), float64(a.Y-b.Y)) }

// stripWidth is by which part a strip may look wider than the resistor that it is beside: a pad for a contact makes it so.
const stripWidth = 0.2

// idleStrips tells of strips beside a resistor of the same layer and width, which have one contact at most.
func (v *view) idleStrips(t *Told) {
	var resistors []int
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; d.Kind == netlist.Resistor && d.W > 0 {
			resistors = append(resistors, i)
		}
	}
	if len(resistors) == 0 {
		return
	}
	for i := range v.f.Regions {
		r := &v.f.Regions[i]
		if r.Kind != extract.GateRegion && r.Kind != extract.JunctionRegion || r.Channels > 0 || r.Contacts > 1 || r.TapArea > 0 || r.DiodeArea > 0 || r.Open {
			continue
		}
		length, width := strip(r.Area, r.Perimeter)
		if length < leastSquares*width {
			continue
		}
		beside := func(k int) bool {
			d := &v.c.Devices[k]
			x, y := max(r.Box.Min.X-d.At.X, 0, d.At.X-r.Box.Max.X), max(r.Box.Min.Y-d.At.Y, 0, d.At.Y-r.Box.Max.Y)
			return v.res.Layer(k) == r.Layer && math.Abs(width-d.W) <= stripWidth*d.W && math.Hypot(float64(x), float64(y)) <= reachOf(d)
		}
		if slices.ContainsFunc(resistors, beside) {
			t.Structures = append(t.Structures, Structure{Role: Dummy, Layer: r.Layer, At: r.Within, Path: v.f.Path(extract.RegionID(i)), Net: r.Net, Area: r.Area})
		}
	}
}

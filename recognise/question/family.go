package question

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/netlist"
)

// family is what transistors have in common that should be equal: polarity, model, layer and the roles of their nets.
type family struct {
	kind       netlist.Kind
	model      string
	layer      layout.Layer
	gate       role
	sides      [2]role
	diode, one bool
}

// What makes a family, and what falls out of it.
const (
	leastFamily = 8    // members, for a median and a spread to mean anything; as many drawings of another size are meant
	tightFamily = 0.02 // spread over median, robust: whatever is wider is no family
	outOfSpread = 6    // robust standard deviations
	outOfMedian = 0.03 // and at least this part of the median
)

// askFamilies asks about transistors whose W or L is far from those of their likes.
func (v *view) askFamilies() []draft {
	members := map[family][]int{}
	var order []family
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		if !d.Kind.IsMOS() || len(v.channelsOf[i]) == 0 || d.W <= 0 || d.L <= 0 {
			continue
		}
		f := v.familyOf(i)
		if members[f] == nil {
			order = append(order, f)
		}
		members[f] = append(members[f], i)
	}
	var out []draft
	w, l := func(i int) float64 { return v.c.Devices[i].W }, func(i int) float64 { return v.c.Devices[i].L }
	for _, f := range order {
		for _, c := range clusters(members[f], l) {
			out = append(out, v.outliers(c, "W", w)...)
		}
		for _, c := range clusters(members[f], w) {
			out = append(out, v.outliers(c, "L", l)...)
		}
	}
	return out
}

func (v *view) familyOf(i int) family {
	d := &v.c.Devices[i]
	g, s, dr := d.Terminals[netlist.Gate], d.Terminals[netlist.Source], d.Terminals[netlist.Drain]
	f := family{kind: d.Kind, model: d.Model, layer: v.f.Channels[v.channelsOf[i][0]].Layer, diode: g == s || g == dr, one: s == dr}
	f.gate = v.role[g]
	f.sides = [2]role{min(v.role[s], v.role[dr]), max(v.role[s], v.role[dr])}
	return f
}

// clusters parts devices where a size jumps by more than a tracing errs by.
func clusters(devices []int, size func(int) float64) [][]int {
	sorted := bySize(devices, size)
	var out [][]int
	for lo := 0; lo < len(sorted); {
		hi := lo + 1
		for hi < len(sorted) && alike(size(sorted[hi]), size(sorted[hi-1])) {
			hi++
		}
		out = append(out, sorted[lo:hi])
		lo = hi
	}
	return out
}

// bySize returns devices in the order of a size, those of one size as they come. Sizes are few in a memory.
func bySize(devices []int, size func(int) float64) []int {
	type one struct {
		size float64
		next int // first how many have it, then where the next one goes
	}
	var all []one
	at, number := map[float64]int{}, make([]int32, len(devices)) // in all, by size and by device
	for k, i := range devices {
		s := size(i)
		if k > 0 && all[number[k-1]].size == s { // often
			number[k] = number[k-1]
		} else {
			n, known := at[s]
			if !known {
				n = len(all)
				at[s], all = n, append(all, one{size: s})
			}
			number[k] = int32(n)
		}
		all[number[k]].next++
	}
	first := 0
	for _, s := range slices.Sorted(maps.Keys(at)) {
		n := &all[at[s]].next
		*n, first = first, first+*n
	}
	out := make([]int, len(devices))
	for k, i := range devices {
		n := &all[number[k]].next
		out[*n] = i
		*n++
	}
	return out
}

// outliers drafts a question for each member whose size is far from the median, by the median of absolute deviations: 1.4826
// times that is the standard deviation of a normal distribution.
func (v *view) outliers(devices []int, what string, size func(int) float64) []draft {
	if len(devices) < leastFamily {
		return nil
	}
	sizes := make([]float64, len(devices))
	for k, i := range devices {
		sizes[k] = size(i)
	}
	usual := median(sizes)
	away := make([]float64, len(sizes))
	for k, s := range sizes {
		away[k] = math.Abs(s - usual)
	}
	sigma := 1.4826 * median(away)
	if sigma > tightFamily*usual {
		return nil
	}
	most := max(outOfSpread*sigma, outOfMedian*usual, 2)
	if slices.Max(away) <= most {
		return nil
	}
	var far []int
	near := make([]int, 0, len(devices))
	for k, i := range devices {
		if away[k] > most {
			far = append(far, i)
		} else {
			near = append(near, i)
		}
	}
	var out []draft
	for _, same := range clusters(far, size) {
		for _, d := range v.sameSize(same, len(devices)-len(same), usual, what, size) {
			d.likes = near
			out = append(out, d)
		}
	}
	return out
}

// sameSize drafts the questions of what has one size that is not the usual one of its likes: one for each structure, whose fingers
// are drawn together. What counts as others of its size is drawn by itself: no other finger, and no other placement of the same cell.
func (v *view) sameSize(devices []int, likes int, usual float64, what string, size func(int) float64) []draft {
	type drawing struct {
		spot
		plate int // of one that nothing is drawn at
	}
	drawn := map[drawing]bool{}
	number := map[int]int{}              // by plate: in out
	saw := map[float64]map[string]seen{} // by size: what all of it saw
	var out []draft
	for _, i := range devices {
		channel := v.channelsOf[i][0]
		plate := v.plateOf[channel]
		k, ok := number[plate]
		if ok {
			out[k].devices = append(out[k].devices, i)
			continue
		}
		number[plate] = len(out)
		on := drawing{plate: plate}
		if d := v.plates[plate].drawn; d.Shape != nil {
			on = drawing{spot: spot{d.Shape, d.At}}
		}
		if drawn[on] = true; len(drawn) >= leastFamily {
			return nil // a family of its own
		}
		c, its := &v.f.Channels[channel], size(i)
		if saw[its] == nil {
			fact := fmt.Sprintf("%s is %s, of %d likes usually %s", what, um(its), likes, um(usual))
			saw[its] = map[string]seen{"step": {steps(its / usual), fact}}
		}
		out = append(out, draft{kind: OutOfFamily, at: c.At, layer: c.Layer, path: c.Path, devices: []int{i}, nets: netsOf(&v.c.Devices[i]), saw: saw[its]})
	}
	repeat := seen{"once", ""}
	if n := len(drawn); n >= manyPlaces {
		repeat = seen{"many", plural(n, "drawing", "drawings")}
	}
	for _, its := range saw {
		its["repeat"] = repeat
	}
	return out
}

// median returns the middle of a set of numbers, the mean of the two in the middle where their count is even.
func median(xs []float64) float64 {
	s := slices.Clone(xs)
	slices.Sort(s)
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}

// steps says how one size stands to another.
func steps(ratio float64) string {
	if ratio < 1 {
		ratio = 1 / ratio
	}
	whole := math.Round(ratio)
	switch {
	case whole >= 2 && alike(ratio, whole):
		return "multiple"
	case ratio >= 1.5:
		return "large"
	}
	return "small"
}

// askPairs asks about pairs that should be equal and are not: two transistors that are cross-coupled, or that share a tail.
func (v *view) askPairs() []draft {
	type joint struct {
		kind  netlist.Kind
		model int
		gate  netlist.Net
		drain netlist.Net
		other netlist.Net
	}
	at := make(map[joint]int, len(v.c.Devices))
	type tail struct {
		on    int    // transistors
		first [3]int // of them
	}
	tails := make([]tail, len(v.c.Nets))
	var order []netlist.Net
	var out []draft
	models := map[string]int{}
	gated, ends := make([]bool, len(v.c.Nets)), make([]bool, len(v.c.Nets)) // nets on a gate; on a source or drain
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; d.Kind.IsMOS() {
			gated[d.Terminals[netlist.Gate]], ends[d.Terminals[netlist.Drain]], ends[d.Terminals[netlist.Source]] = true, true, true
		}
	}
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		if !d.Kind.IsMOS() || len(v.channelsOf[i]) == 0 || d.W <= 0 || d.Terminals[netlist.Drain] == d.Terminals[netlist.Source] {
			continue
		}
		if _, ok := models[d.Model]; !ok {
			models[d.Model] = len(models)
		}
		model := models[d.Model]
		for _, t := range [][2]int{{netlist.Drain, netlist.Source}, {netlist.Source, netlist.Drain}} {
			g, n, other := d.Terminals[netlist.Gate], d.Terminals[t[0]], d.Terminals[t[1]]
			if gated[n] && ends[g] { // else there is no other of such a pair
				if k, ok := at[joint{d.Kind, model, n, g, other}]; ok && k != i {
					out = append(out, v.pair(k, i, "the two are cross-coupled")...)
				}
				at[joint{d.Kind, model, g, n, other}] = i
			}
			if v.role[n] == signal {
				t := &tails[n]
				if t.on == 0 {
					order = append(order, n)
				}
				if t.on < len(t.first) {
					t.first[t.on] = i
				}
				t.on++
			}
		}
	}
	for _, n := range order {
		if ds := tails[n].first; tails[n].on == len(ds) {
			for x := range 2 {
				for y := x + 1; y < 3; y++ {
					if v.differential(ds[x], ds[y], n) {
						out = append(out, v.pair(ds[x], ds[y], "the two share "+v.sayNet(n)+" as their tail")...)
					}
				}
			}
		}
	}
	return out
}

// differential reports whether two transistors on a net look like a pair: of one kind, with gates and far ends that are
// four nets, none of them a supply at a gate.
func (v *view) differential(a, b int, tail netlist.Net) bool {
	d, e := &v.c.Devices[a], &v.c.Devices[b]
	far := func(d *netlist.Device) netlist.Net {
		if d.Terminals[netlist.Drain] == tail {
			return d.Terminals[netlist.Source]
		}
		return d.Terminals[netlist.Drain]
	}
	nets := []netlist.Net{d.Terminals[netlist.Gate], e.Terminals[netlist.Gate], far(d), far(e)}
	if d.Kind != e.Kind || d.Model != e.Model || nets[0] == nets[1] || nets[2] == nets[3] {
		return false
	}
	for _, n := range nets {
		if v.role[n] != signal || n == tail {
			return false
		}
	}
	return ratioOf(d.W, e.W) < 3 && alike(d.L, e.L)
}

func ratioOf(a, b float64) float64 { return max(a, b) / min(a, b) }

// pair drafts the question of two transistors, if their sizes differ by more than a tracing errs by.
func (v *view) pair(a, b int, why string) []draft {
	d, e := &v.c.Devices[a], &v.c.Devices[b]
	what, x, y := "W", d.W, e.W
	if alike(x, y) {
		what, x, y = "L", d.L, e.L
	}
	if alike(x, y) || math.Abs(x-y) <= 2 {
		return nil
	}
	c := &v.f.Channels[v.channelsOf[a][0]]
	fact := fmt.Sprintf("%s, and their %s are %s and %s", why, what, um(x), um(y))
	nets := netsOf(d)
	for _, n := range netsOf(e) {
		if !slices.Contains(nets, n) {
			nets = append(nets, n)
		}
	}
	return []draft{{kind: Asymmetry, at: c.At, layer: c.Layer, path: c.Path, devices: []int{a, b}, nets: nets, saw: map[string]seen{"step": {stepsOfPair(x / y), fact}}}}
}

func stepsOfPair(ratio float64) string {
	s := steps(ratio)
	if s == "small" && ratioOf(ratio, 1) > 4./3 {
		return "large"
	}
	return s
}

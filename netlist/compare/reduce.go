package compare

import (
	"math"
	"strings"

	"undermetal/netlist"
)

// class is what two elements must share before anything else: kind, model, which terminals they lack, and how many
// stand in series.
type class struct {
	base   int32 // index in pair.bases
	absent uint8 // terminals on no net, one bit each; loose ones not counted
	stack  int32 // transistors in series; 1 unless Options.Series
}

// base is a kind with a model.
type base struct {
	kind  netlist.Kind
	model string // in lower case
	shown string // as written where it came first
	loose uint8  // terminals left out of the graph, one bit each: see wells.go
}

// side is one of the two circuits, reduced: devices in parallel are one bundle, and elements, the vertices of the
// graph, are bundles, or stacks of bundles with Options.Series.
type side struct {
	c       *netlist.Circuit
	letter  string  // "A" or "B", in texts
	devBase []int32 // of each device, index in pair.bases

	bundleStart []int32 // bundle i holds the devices bundleDevs[bundleStart[i]:bundleStart[i+1]]
	bundleDevs  []int32

	elemStart   []int32 // element i holds elemBundles[elemStart[i]:elemStart[i+1]], one without Options.Series
	elemBundles []int32 // along the stack
	inner       []bool  // nets inside a stack; nil without Options.Series
	elemClass   []int32 // of each element, index in pair.classes

	soft     []bool // unnamed nets that only bulk terminals touch
	bulkOnly []bool // nets, named or not, that only bulk terminals touch
}

// pair is both circuits, reduced, with what they share.
type pair struct {
	opt     Options
	bases   []base
	classes []class
	side    [2]*side
}

// The roles of terminals; terminals of one role are interchangeable.
const (
	roleSD   = 1 // source or drain of a MOS transistor; either end of a resistor, capacitor, inductor
	roleGate = 2
	roleBulk = 3
)

// role returns the role of terminal t of a device of kind k. Kinds never meet in a cell of the partition, so that the
// same small numbers serve all of them.
func role(k netlist.Kind, t int) uint8 {
	switch {
	case k.IsMOS():
		return [4]uint8{netlist.Drain: roleSD, netlist.Gate: roleGate, netlist.Source: roleSD, netlist.Bulk: roleBulk}[t]
	case interchangeable(k):
		return roleSD
	}
	return uint8(t + 1)
}

// interchangeable reports whether the two ends of a device of kind k are.
func interchangeable(k netlist.Kind) bool {
	return k == netlist.Resistor || k == netlist.Capacitor || k == netlist.Inductor
}

// merges reports whether parallel devices of kind k are one element.
func merges(k netlist.Kind) bool { return k.IsMOS() || k == netlist.Diode || k == netlist.Capacitor }

func reduce(a, b *netlist.Circuit, opt Options) *pair {
	p := &pair{opt: opt, side: [2]*side{{c: a, letter: "A"}, {c: b, letter: "B"}}}
	p.findBases()
	p.findWells()
	for _, s := range p.side {
		p.bundle(s)
	}
	for _, s := range p.side {
		if opt.Series {
			p.stack(s)
		}
	}
	p.classify()
	return p
}

// findBases numbers kinds with models over both circuits, case of letters aside.
func (p *pair) findBases() {
	type key struct {
		kind  netlist.Kind
		model string
	}
	written, lower := map[key]int32{}, map[key]int32{}
	for _, s := range p.side {
		s.devBase = make([]int32, len(s.c.Devices))
		for i := range s.c.Devices {
			d := &s.c.Devices[i]
			k := key{d.Kind, d.Model}
			id, ok := written[k]
			if !ok {
				low := key{d.Kind, strings.ToLower(d.Model)}
				if id, ok = lower[low]; !ok {
					id = int32(len(p.bases))
					p.bases = append(p.bases, base{kind: d.Kind, model: low.model, shown: d.Model})
					lower[low] = id
				}
				written[k] = id
			}
			s.devBase[i] = id
		}
	}
}

// bundleKey is what devices must share to be in parallel: base and nets, interchangeable ones in order, loose ones
// left out.
type bundleKey struct {
	base int32
	net  [4]netlist.Net
}

func (p *pair) bundleKey(s *side, dev int32) bundleKey {
	d := &s.c.Devices[dev]
	k := bundleKey{base: s.devBase[dev], net: [4]netlist.Net{-1, -1, -1, -1}}
	copy(k.net[:], d.Terminals[:len(d.Kind.TerminalNames())])
	x, y := 0, 1
	if d.Kind.IsMOS() {
		x, y = netlist.Drain, netlist.Source
	}
	if (d.Kind.IsMOS() || interchangeable(d.Kind)) && k.net[x] > k.net[y] {
		k.net[x], k.net[y] = k.net[y], k.net[x]
	}
	for t := range k.net {
		if p.bases[k.base].loose&(1<<t) != 0 {
			k.net[t] = -1
		}
	}
	return k
}

func (k bundleKey) hash() uint64 {
	h := mix(uint64(k.base))
	for _, n := range k.net {
		h = mix(h ^ uint64(uint32(n)))
	}
	return h
}

// mix spreads the bits of x (the finaliser of splitmix64; Steele, Lea & Flood 2014, constants from memory).
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// bundle joins parallel devices, in an open-addressed table of bundle numbers: a map would take several times the room.
func (p *pair) bundle(s *side) {
	n := len(s.c.Devices)
	size := 16
	for size < 2*n {
		size *= 2
	}
	table := make([]int32, size) // bundle + 1; 0 is free
	var first []int32            // device of each bundle
	of := make([]int32, n)
	for i := range int32(n) {
		key := p.bundleKey(s, i)
		slot := key.hash() & uint64(size-1)
		if !merges(s.c.Devices[i].Kind) {
			of[i], first = int32(len(first)), append(first, i)
			continue
		}
		for table[slot] != 0 && p.bundleKey(s, first[table[slot]-1]) != key {
			slot = (slot + 1) & uint64(size-1)
		}
		if table[slot] == 0 {
			first = append(first, i)
			table[slot] = int32(len(first))
		}
		of[i] = table[slot] - 1
	}
	s.bundleStart, s.bundleDevs = group(of, len(first))
	s.elemStart, s.elemBundles = make([]int32, len(first)+1), make([]int32, len(first))
	for i := range first {
		s.elemStart[i+1], s.elemBundles[i] = int32(i+1), int32(i)
	}
}

// group lists the indices of of by their value, which is below n: those of value v are items[start[v]:start[v+1]].
func group(of []int32, n int) (start, items []int32) {
	start, items = make([]int32, n+1), make([]int32, len(of))
	for _, v := range of {
		start[v+1]++
	}
	for v := range n {
		start[v+1] += start[v]
	}
	next := append([]int32(nil), start[:n]...)
	for i, v := range of {
		items[next[v]] = int32(i)
		next[v]++
	}
	return start, items
}

// classify numbers the classes of elements over both circuits.
func (p *pair) classify() {
	ids := map[class]int32{}
	for _, s := range p.side {
		s.elemClass = make([]int32, s.elements())
		for e := range s.elemClass {
			bundles := s.bundles(int32(e))
			key := p.bundleKey(s, s.bundleFirst(bundles[0]))
			c := class{base: key.base, stack: int32(len(bundles))}
			b := &p.bases[c.base]
			for t := range b.kind.TerminalNames() {
				if key.net[t] == netlist.NoNet && b.loose&(1<<t) == 0 {
					c.absent |= 1 << t
				}
			}
			id, ok := ids[c]
			if !ok {
				id = int32(len(p.classes))
				ids[c] = id
				p.classes = append(p.classes, c)
			}
			s.elemClass[e] = id
		}
	}
}

func (s *side) elements() int { return len(s.elemStart) - 1 }

// bundles returns the bundles of element e, along the stack.
func (s *side) bundles(e int32) []int32 { return s.elemBundles[s.elemStart[e]:s.elemStart[e+1]] }

// devices returns the devices of bundle b.
func (s *side) devices(b int32) []int32 { return s.bundleDevs[s.bundleStart[b]:s.bundleStart[b+1]] }

func (s *side) bundleFirst(b int32) int32 { return s.bundleDevs[s.bundleStart[b]] }

// elemDevices calls f for every device of element e.
func (s *side) elemDevices(e int32, f func(dev int32)) {
	for _, b := range s.bundles(e) {
		for _, d := range s.devices(b) {
			f(d)
		}
	}
}

// base returns the kind and model of element e of side s.
func (p *pair) base(s *side, e int32) *base { return &p.bases[p.classes[s.elemClass[e]].base] }

// given reports whether a size or value is known: sizes are 0 and values NaN where they are not.
func given(x float64) bool { return x != 0 && !math.IsNaN(x) }

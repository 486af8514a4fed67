package parts

import (
	"cmp"
	"slices"

	"undermetal/netlist"
)

// sameL is by how much the channels of parallel devices may differ in length, as a part of it: hands trace no two fingers
// alike.
const sameL = 0.1

// merger makes parts of devices. A part is called by its first device; next leads to the others.
type merger struct {
	c      *netlist.Circuit
	parts  []Part  // by device
	next   []int32 // by device: another one parallel to it; -1: none
	last   []int32 // by device: the end of that list
	kept   []int32 // devices that parts are called by, ascending
	beyond []int32 // Known.Beyond
}

var kindOf = [...]Kind{
	netlist.NMOS: N, netlist.PMOS: P, netlist.MOS: Unknown, netlist.Diode: Diode, netlist.Capacitor: Capacitor,
	netlist.Resistor: Resistor, netlist.Inductor: Inductor, netlist.Bipolar: Bipolar, netlist.JFET: JFET,
	netlist.VoltageSource: VoltageSource, netlist.CurrentSource: CurrentSource,
}

func newMerger(c *netlist.Circuit) *merger {
	m := &merger{c: c, parts: make([]Part, len(c.Devices)), next: make([]int32, len(c.Devices)), last: make([]int32, len(c.Devices))}
	models := map[string]int32{}
	for i := range c.Devices {
		d := &c.Devices[i]
		k, ok := models[d.Model]
		if !ok {
			k = int32(len(models))
			models[d.Model] = k
		}
		m.parts[i] = part(d, k)
		m.next[i], m.last[i] = -1, int32(i)
		if a := m.parts[i].Nets; a[0] != a[1] || a[2] >= 0 && a[2] != a[0] {
			m.kept = append(m.kept, int32(i))
		}
	}
	return m
}

// part returns what a device is by itself.
func part(d *netlist.Device, model int32) Part {
	p := Part{Kind: kindOf[d.Kind], Model: model, Nets: [3]int32{-1, -1, -1}}
	n, _ := p.Kind.Terminals()
	for t := range n {
		p.Nets[t] = int32(d.Terminals[t])
	}
	if p.Kind.IsMOS() && p.Nets[End] == p.Nets[Other] {
		p = Part{Kind: Capacitor, Model: model, Nets: [3]int32{p.Nets[Gate], p.Nets[End], -1}}
	}
	return p
}

// key is p with its exchangeable terminals in order.
func (p Part) key() Part {
	if p.Kind.Symmetric() {
		if _, last := p.Kind.Terminals(); p.Nets[0] > p.Nets[last] {
			p.Nets[0], p.Nets[last] = p.Nets[last], p.Nets[0]
		}
	}
	return p
}

func (p Part) hash() uint64 {
	h := uint64(p.Kind)*0x9e3779b97f4a7c15 + uint64(uint32(p.Model))
	for _, n := range p.Nets {
		h = (h ^ uint64(uint32(n))) * 0xff51afd7ed558ccd
		h ^= h >> 32
	}
	return h
}

// parallel joins devices that are.
func (m *merger) parallel() {
	type entry struct {
		hash uint64
		d    int32
	}
	es := make([]entry, len(m.kept))
	for i, d := range m.kept {
		es[i] = entry{m.parts[d].key().hash(), d}
	}
	slices.SortFunc(es, func(a, b entry) int { return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.d, b.d)) })
	var run []int32
	for i := 0; i < len(es); {
		j := i + 1
		for j < len(es) && es[j].hash == es[i].hash {
			j++
		}
		if j > i+1 {
			run = run[:0]
			for _, e := range es[i:j] {
				run = append(run, e.d)
			}
			m.joinRun(run)
		}
		i = j
	}
	m.drop()
}

// joinRun joins those devices of one hash that are parallel, and channels nearly of one L.
func (m *merger) joinRun(run []int32) {
	length := func(d int32) float64 {
		if !m.parts[d].Kind.IsMOS() {
			return 0 // two resistors side by side are one, whatever their shapes
		}
		return m.c.Devices[d].L
	}
	slices.SortFunc(run, func(a, b int32) int {
		return cmp.Or(comparePart(m.parts[a].key(), m.parts[b].key()), cmp.Compare(length(a), length(b)), cmp.Compare(a, b))
	})
	for i := 0; i < len(run); {
		j, first := i+1, run[i]
		for j < len(run) && m.parts[run[j]].key() == m.parts[run[i]].key() && length(run[j]) <= length(run[j-1])*(1+sameL) {
			first = min(first, run[j])
			j++
		}
		for _, d := range run[i:j] {
			if d != first {
				m.join(first, d)
			}
		}
		i = j
	}
}

func comparePart(a, b Part) int {
	return cmp.Or(cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Model, b.Model), slices.Compare(a.Nets[:], b.Nets[:]))
}

// join adds the devices of part b to part a.
func (m *merger) join(a, b int32) {
	m.next[m.last[a]] = b
	m.last[a] = m.last[b]
	m.last[b] = -1
}

// drop forgets parts that have been joined to others.
func (m *merger) drop() {
	m.kept = slices.DeleteFunc(m.kept, func(d int32) bool { return m.last[d] < 0 })
}

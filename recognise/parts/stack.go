package parts

import (
	"cmp"
	"slices"
)

// link is a part of a stack.
type link struct {
	part int32 // the device that it is called by
	far  int32 // the net behind it
}

// stacks joins parallel stacks. A stack is a path of transistors of one kind and model through nets that have two pins, both
// of channels, and are no rail and no port of the circuit.
func (m *merger) stacks(g *Graph) {
	parts := make([]Part, len(m.kept))
	for i, k := range m.kept {
		parts[i] = m.parts[k]
	}
	if m.beyond != nil {
		parts = append(parts, elsewhere)
	}
	first, pins := pinsOf(parts, len(m.c.Nets), m.beyond)
	inner := func(n int32) bool {
		if first[n+1]-first[n] != 2 || g.Rails[n] != Signal || g.Port[n] {
			return false
		}
		a, b := pins[first[n]], pins[first[n]+1]
		p, q := parts[a.Part()], parts[b.Part()]
		return a.Part() != b.Part() && p.Kind.IsMOS() && p.Kind == q.Kind && p.Model == q.Model && a.Terminal() != Gate && b.Terminal() != Gate
	}
	type chain struct {
		hash  uint64
		from  int32
		links []link
	}
	var chains []chain
	done := make([]bool, len(parts))
	for i := range parts {
		if done[i] || !parts[i].Kind.IsMOS() || inner(parts[i].Nets[End]) == inner(parts[i].Nets[Other]) {
			continue // no end of a stack
		}
		p, from, far := int32(i), parts[i].Nets[End], parts[i].Nets[Other]
		if inner(from) {
			from, far = far, from
		}
		c := chain{from: from}
		for {
			done[p] = true
			c.links = append(c.links, link{m.kept[p], far})
			if !inner(far) {
				break
			}
			on := pins[first[far] : first[far]+2]
			next := on[0].Part()
			if next == p {
				next = on[1].Part()
			}
			p = next
			if e := parts[p].Nets[End]; e != far {
				far = e
			} else {
				far = parts[p].Nets[Other]
			}
		}
		m.turn(&c.from, c.links)
		c.hash = m.chainHash(c.from, c.links)
		chains = append(chains, c)
	}
	slices.SortStableFunc(chains, func(a, b chain) int { return cmp.Compare(a.hash, b.hash) })
	for i := 0; i < len(chains); i++ {
		if chains[i].links == nil {
			continue
		}
		for j := i + 1; j < len(chains) && chains[j].hash == chains[i].hash; j++ {
			if chains[j].links != nil && m.alike(chains[i].from, chains[i].links, chains[j].from, chains[j].links) {
				for k := range chains[i].links {
					m.join(chains[i].links[k].part, chains[j].links[k].part)
				}
				chains[j].links = nil
			}
		}
	}
	m.drop()
}

// turn brings a stack into one of its two directions: by its ends, then by its gates.
func (m *merger) turn(from *int32, links []link) {
	to := links[len(links)-1].far
	way := cmp.Compare(*from, to)
	for i, j := 0, len(links)-1; way == 0 && i < j; i, j = i+1, j-1 {
		way = cmp.Compare(m.parts[links[i].part].Nets[Gate], m.parts[links[j].part].Nets[Gate])
	}
	if way <= 0 {
		return
	}
	start := *from
	*from = to
	slices.Reverse(links)
	for i := range links { // the net behind a link was the one before it
		if i+1 < len(links) {
			links[i].far = links[i+1].far
		} else {
			links[i].far = start
		}
	}
}

func (m *merger) chainHash(from int32, links []link) uint64 {
	p := m.parts[links[0].part]
	h := Part{Kind: p.Kind, Model: p.Model, Nets: [3]int32{from, links[len(links)-1].far, int32(len(links))}}.hash()
	for _, l := range links {
		h = (h ^ uint64(uint32(m.parts[l.part].Nets[Gate]))) * 0xff51afd7ed558ccd
		h ^= h >> 29
	}
	return h
}

func (m *merger) alike(from int32, a []link, from2 int32, b []link) bool {
	if from != from2 || len(a) != len(b) || a[len(a)-1].far != b[len(b)-1].far {
		return false
	}
	for i := range a {
		p, q := m.parts[a[i].part], m.parts[b[i].part]
		if p.Kind != q.Kind || p.Model != q.Model || p.Nets[Gate] != q.Nets[Gate] {
			return false
		}
		x, y := m.c.Devices[a[i].part].L, m.c.Devices[b[i].part].L
		if max(x, y) > min(x, y)*(1+sameL) {
			return false
		}
	}
	return true
}

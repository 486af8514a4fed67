package compare

import "undermetal/netlist"

// graph is both circuits as one bipartite graph: elements against nets. The vertices of A come first, in each circuit
// elements before nets; nets that no edge touches have no vertex.
type graph struct {
	elems  [2]int32   // first element of either circuit
	nets   [2]int32   // its first net
	end    [2]int32   // behind its last net
	vertex [2][]int32 // of every net, -1: none
	net    []netlist.Net

	start []int32 // the edges of vertex v are to[start[v]:start[v+1]], with their roles
	to    []int32
	role  []uint8
}

func newGraph(p *pair) *graph {
	g := &graph{}
	n := int32(0)
	for i, s := range p.side {
		g.elems[i], g.nets[i] = n, n+int32(s.elements())
		n = g.nets[i]
		g.vertex[i] = make([]int32, len(s.c.Nets))
		for net := range g.vertex[i] {
			g.vertex[i][net] = -1
		}
		for e := range int32(s.elements()) {
			p.edges(s, e, func(net netlist.Net, _ uint8) {
				if g.vertex[i][net] < 0 {
					g.vertex[i][net] = n
					g.net = append(g.net, net)
					n++
				}
			})
		}
		g.end[i] = n
	}
	g.connect(p)
	return g
}

// edges calls f for every edge of element e.
func (p *pair) edges(s *side, e int32, f func(n netlist.Net, role uint8)) {
	bundles := s.bundles(e)
	loose := p.base(s, e).loose
	for i, b := range bundles {
		d := &s.c.Devices[s.bundleFirst(b)]
		for t := range d.Kind.TerminalNames() {
			n := d.Terminals[t]
			switch {
			case n == netlist.NoNet, loose&(1<<t) != 0:
			case s.inner != nil && s.inner[n], i > 0 && t == netlist.Bulk && len(bundles) > 1:
			default:
				f(n, role(d.Kind, t))
			}
		}
	}
}

// connect fills in the edges, of elements and of nets.
func (g *graph) connect(p *pair) {
	g.start = make([]int32, g.end[1]+1)
	each := func(f func(v, w int32, role uint8)) {
		for i, s := range p.side {
			for e := range int32(s.elements()) {
				p.edges(s, e, func(n netlist.Net, r uint8) { f(g.elems[i]+e, g.vertex[i][n], r) })
			}
		}
	}
	each(func(v, w int32, _ uint8) { g.start[v+1]++; g.start[w+1]++ })
	for v := range g.end[1] {
		g.start[v+1] += g.start[v]
	}
	next := append([]int32(nil), g.start[:g.end[1]]...)
	g.to, g.role = make([]int32, g.start[g.end[1]]), make([]uint8, g.start[g.end[1]])
	put := func(v, w int32, r uint8) {
		g.to[next[v]], g.role[next[v]] = w, r
		next[v]++
	}
	each(func(v, w int32, r uint8) { put(v, w, r); put(w, v, r) })
}

// sideOf returns 0 for a vertex of A, 1 for one of B.
func (g *graph) sideOf(v int32) int {
	if v < g.end[0] {
		return 0
	}
	return 1
}

func (g *graph) isElem(v int32) bool { return v < g.nets[0] || v >= g.elems[1] && v < g.nets[1] }

// elem returns the element that vertex v is.
func (g *graph) elem(v int32) int32 { return v - g.elems[g.sideOf(v)] }

// netOf returns the net that vertex v is.
func (g *graph) netOf(v int32) netlist.Net {
	if v < g.end[0] {
		return g.net[v-g.nets[0]]
	}
	return g.net[v-g.nets[1]+g.end[0]-g.nets[0]]
}

func (g *graph) degree(v int32) int { return int(g.start[v+1] - g.start[v]) }

package compare

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// maxDifferences bounds the lines of an account; one more says how many were left out.
const maxDifferences = 1000

// manyMissing: if more elements than that of one model lack a counterpart, a line with the totals precedes them.
const manyMissing = 3

// account collects what a matching leaves unexplained.
type account struct {
	p     *pair
	g     *graph
	m     matching
	wells *wellReport
	found []ranked
}

// ranked is a difference with its place in the account.
type ranked struct {
	rank  int // what comes first: see the constants
	worse int // within a rank, fewer contradictions first
	Difference
}

const (
	rankNet = iota
	rankTerminal
	rankDevice
	rankSize
)

func newAccount(p *pair, g *graph, m matching) *account {
	ac := &account{p: p, g: g, m: m}
	ac.wells = p.judgeWells(g, m, ac.mapped)
	split := ac.splitNets()
	for e := range int32(p.side[0].elements()) {
		b := m[g.elems[0]+e]
		if b < 0 {
			continue
		}
		ac.model(e, g.elem(b))
		ac.terminals(e, g.elem(b), split)
		ac.sizes(e, g.elem(b))
	}
	ac.bulks()
	ac.missing()
	slices.SortStableFunc(ac.found, func(x, y ranked) int { return cmp.Or(x.rank-y.rank, x.worse-y.worse) })
	return ac
}

func (ac *account) add(rank, worse int, d Difference) {
	ac.found = append(ac.found, ranked{rank, worse, d})
}

// result returns the account with the mapping of devices and nets.
func (ac *account) result() *Result {
	r := &Result{Same: len(ac.found) == 0, Differences: []Difference{}}
	for i, f := range ac.found {
		if i == maxDifferences {
			r.Differences = append(r.Differences, Difference{Kind: "more",
				Text: fmt.Sprintf("%d more differences; these are the nearest matches", len(ac.found)-i)})
			break
		}
		r.Differences = append(r.Differences, f.Difference)
	}
	r.Devices, r.Nets = ac.devices(), ac.nets()
	for _, d := range r.Devices {
		if d >= 0 {
			r.Matched++
		}
	}
	return r
}

// model reports a pair of different models.
func (ac *account) model(x, y int32) {
	a, b := ac.p.base(ac.p.side[0], x), ac.p.base(ac.p.side[1], y)
	if a == b {
		return
	}
	ac.add(rankTerminal, 0, ac.difference("model", x, y, fmt.Sprintf("%s is a %s in B, there %s",
		ac.label(0, x), b, ac.label(1, y))))
}

// String returns the model with its kind, "nfet_05v0 (nmos)".
func (b *base) String() string {
	if b.shown == "" {
		return b.kind.String() + " without model"
	}
	return fmt.Sprintf("%s (%s)", b.shown, b.kind)
}

// difference fills in names and place of a pair of elements; either may be -1.
func (ac *account) difference(kind string, x, y int32, text string) Difference {
	d := Difference{Kind: kind, Text: text}
	if y >= 0 {
		d.B, d.At = ac.p.elemName(1, y), ac.p.elemAt(1, y)
	}
	if x >= 0 {
		d.A = ac.p.elemName(0, x)
		if at := ac.p.elemAt(0, x); at != nil {
			d.At = at
		}
	}
	return d
}

// edgeEnd is an edge of an element: its role, the net it leads to, and that net's name for a message.
type edgeEnd struct {
	role uint8
	to   int32
}

// unexplained returns the edges of vertex a of A that its partner b lacks, and the other way round.
func (ac *account) unexplained(a, b int32) (as, bs []edgeEnd) {
	g := ac.g
	for e := g.start[b]; e < g.start[b+1]; e++ {
		bs = append(bs, edgeEnd{g.role[e], g.to[e]})
	}
	for e := g.start[a]; e < g.start[a+1]; e++ {
		want := edgeEnd{g.role[e], ac.m[g.to[e]]}
		if i := slices.Index(bs, want); i >= 0 {
			bs = slices.Delete(bs, i, i+1)
		} else {
			as = append(as, edgeEnd{g.role[e], g.to[e]})
		}
	}
	return as, bs
}

// terminals reports the terminals of a pair that are on other nets, but for nets that are reported as split.
func (ac *account) terminals(x, y int32, split map[[2]int32]bool) {
	as, bs := ac.unexplained(ac.g.elems[0]+x, ac.g.elems[1]+y)
	worse := max(len(as), len(bs))
	for _, a := range as {
		i := slices.IndexFunc(bs, func(b edgeEnd) bool { return b.role == a.role })
		if i < 0 {
			ac.lone(0, x, y, a, worse)
			continue
		}
		b := bs[i]
		bs = slices.Delete(bs, i, i+1)
		if split[[2]int32{a.to, b.to}] {
			continue
		}
		ac.onOther(rankTerminal, "terminal", x, y, ac.p.roleName(x, a.role), netPair{ac.g.netOf(a.to), ac.g.netOf(b.to)})
		ac.found[len(ac.found)-1].worse = worse
	}
	for _, b := range bs {
		ac.lone(1, x, y, b, worse)
	}
}

// lone reports a terminal that the counterpart does not have.
func (ac *account) lone(side int, x, y int32, e edgeEnd, worse int) {
	self, other := ac.label(0, x), ac.label(1, y)
	if side == 1 {
		self, other = other, self
	}
	ac.add(rankTerminal, worse, ac.difference("terminal", x, y, fmt.Sprintf(
		"%s has its %s on %s, its counterpart %s has none there",
		self, ac.p.roleName(x, e.role), ac.p.netLabel(ac.p.side[side], ac.g.netOf(e.to)), other)))
}

// onOther reports that a terminal is on another net than its counterpart.
func (ac *account) onOther(rank int, kind string, x, y int32, terminal string, n netPair) {
	text := fmt.Sprintf("%s has its %s on %s, its counterpart %s on %s", ac.label(0, x), terminal,
		ac.p.netLabel(ac.p.side[0], n[0]), ac.label(1, y), ac.p.netLabel(ac.p.side[1], n[1]))
	if v := ac.g.vertex[0][n[0]]; v >= 0 && ac.m[v] >= 0 {
		text += fmt.Sprintf(", not on %s", ac.p.netLabel(ac.p.side[1], ac.g.netOf(ac.m[v])))
	}
	ac.add(rank, 1, ac.difference(kind, x, y, text))
}

// splitNets reports nets that are one in one circuit and two in the other, and returns the pairs of vertices, of A and
// of B, whose edges are explained by that.
//
// Net n of A with partner n' is two nets in B if all edges of a net without partner there belong to elements that have
// n in A, and there are at least two of them.
func (ac *account) splitNets() map[[2]int32]bool {
	g, split := ac.g, map[[2]int32]bool{}
	for side := range 2 {
		for v := g.nets[side]; v < g.end[side]; v++ {
			if ac.m[v] >= 0 || g.degree(v) < 2 {
				continue
			}
			w := ac.allOn(v)
			if w < 0 || ac.m[w] < 0 {
				continue
			}
			if side == 0 {
				split[[2]int32{v, w}] = true
			} else {
				split[[2]int32{w, v}] = true
			}
			one, two := ac.p.netLabel(ac.p.side[1-side], g.netOf(w)), [2]string{
				ac.p.netLabel(ac.p.side[side], g.netOf(ac.m[w])), ac.p.netLabel(ac.p.side[side], g.netOf(v))}
			d := Difference{Kind: "net", Text: fmt.Sprintf("%s in %s is two nets in %s: %s and %s",
				one, ac.p.side[1-side].letter, ac.p.side[side].letter, two[0], two[1])}
			names := [2]*string{&d.A, &d.B}
			*names[side] = ac.p.netName(ac.p.side[side], g.netOf(v))
			*names[1-side] = ac.p.netName(ac.p.side[1-side], g.netOf(w))
			d.At = ac.p.netAt(side, g.netOf(v))
			ac.add(rankNet, 0, d)
		}
	}
	return split
}

// allOn returns the net of the other circuit that the counterparts of all elements on net v have in its place, -1 if
// they have none in common.
func (ac *account) allOn(v int32) int32 {
	found := int32(-1)
	for _, e := range ac.g.to[ac.g.start[v]:ac.g.start[v+1]] {
		if ac.m[e] < 0 {
			return -1
		}
		a, b := e, ac.m[e]
		if ac.g.sideOf(e) == 1 {
			a, b = b, a
		}
		as, bs := ac.unexplained(a, b)
		if ac.g.sideOf(e) == 1 {
			as, bs = bs, as
		}
		i := slices.IndexFunc(as, func(x edgeEnd) bool { return x.to == v })
		if i < 0 {
			return -1
		}
		j := slices.IndexFunc(bs, func(x edgeEnd) bool { return x.role == as[i].role && (found < 0 || x.to == found) })
		if j < 0 {
			return -1
		}
		found = bs[j].to
	}
	return found
}

// bulks reports the loose terminals that contradict others.
func (ac *account) bulks() {
	if len(ac.wells.refused) > 0 {
		ac.p.eachWellTie(ac.g, ac.m, func(tie wellTie) {
			pairs, _ := tie.pairs()
			for _, n := range pairs {
				if ac.wells.refused[n] {
					ac.onOther(rankTerminal, "bulk", tie.elem[0], tie.elem[1], ac.p.terminalName(tie.elem[0], tie.terminal), n)
				}
			}
		})
	}
	for _, tie := range ac.wells.open {
		x, y := tie.elem[0], tie.elem[1]
		ac.add(rankTerminal, 1, ac.difference("bulk", x, y, fmt.Sprintf("%s has its bulks on %s, its counterpart %s on %s",
			ac.label(0, x), ac.widthsOn(0, tie), ac.label(1, y), ac.widthsOn(1, tie))))
	}
}

// widthsOn lists the bulks of transistors in parallel with the total W on each: "vdd (W 600 nm) and vss (W 400 nm)".
func (ac *account) widthsOn(side int, tie wellTie) string {
	s := ac.p.side[side]
	var parts []string
	for _, n := range tie.nets[side] {
		w := 0.0
		s.elemDevices(tie.elem[side], func(dev int32) {
			if d := &s.c.Devices[dev]; d.Terminals[tie.terminal] == n {
				w += d.W
			}
		})
		parts = append(parts, fmt.Sprintf("%s (W %s µm)", ac.p.netLabel(s, n), length(w)))
	}
	return strings.Join(parts, " and ")
}

// missing reports elements without counterpart; a model that one circuit lacks altogether in one line.
func (ac *account) missing() {
	var lone, total [2][][]int32
	for side, s := range ac.p.side {
		lone[side], total[side] = make([][]int32, len(ac.p.bases)), make([][]int32, len(ac.p.bases))
		for e, c := range s.elemClass {
			b := ac.p.classes[c].base
			total[side][b] = append(total[side][b], int32(e))
			if ac.m[ac.g.elems[side]+int32(e)] < 0 {
				lone[side][b] = append(lone[side][b], int32(e))
			}
		}
	}
	for b := range ac.p.bases {
		for side := range 2 {
			switch es := lone[side][b]; {
			case len(es) == 0:
			case len(total[1-side][b]) == 0 && len(es) > manyMissing:
				ac.lacking(side, &ac.p.bases[b], es)
			default:
				if len(es) > manyMissing {
					ac.totals(&ac.p.bases[b], total[0][b], total[1][b])
				}
				for _, e := range es {
					ac.noCounterpart(side, e, len(total[1-side][b]) > 0)
				}
			}
		}
	}
}

// noCounterpart reports an element without counterpart; others says whether the other circuit has any of its model.
func (ac *account) noCounterpart(side int, e int32, others bool) {
	x, y := e, int32(-1)
	if side == 1 {
		x, y = y, x
	}
	other := ac.p.side[1-side]
	text := fmt.Sprintf("%s in %s has no counterpart in %s", ac.label(side, e), ac.p.side[side].letter, other.letter)
	if !others {
		text += fmt.Sprintf(", which has no %s at all", ac.p.base(ac.p.side[side], e))
	}
	ac.add(rankDevice, 1, ac.difference("device", x, y, text+": "+ac.wiring(side, e)))
}

// lacking reports that a circuit has no device of some model.
func (ac *account) lacking(side int, b *base, es []int32) {
	d := Difference{Kind: "count", At: ac.p.elemAt(side, es[0])}
	names := ac.p.listNames(side, es)
	if side == 0 {
		d.A = names
	} else {
		d.B = names
	}
	d.Text = fmt.Sprintf("%s has %s (%s), %s has none", ac.p.side[side].letter, ac.p.plural(side, b, es), names,
		ac.p.side[1-side].letter)
	ac.add(rankDevice, 0, d)
}

// totals reports how many devices of a model there are.
func (ac *account) totals(b *base, as, bs []int32) {
	ac.add(rankDevice, 0, Difference{Kind: "count",
		Text: fmt.Sprintf("A has %s, B has %s", ac.p.plural(0, b, as), ac.p.plural(1, b, bs))})
}

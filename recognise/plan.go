package recognise

import (
	"fmt"
	"slices"
	"sync"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// The classes of a pattern's nets.
type class uint8

const (
	inner       class = iota // no further pins
	signalPort               // anything but a supply
	anyPort                  // anything
	supplyPort               // the upper supply
	groundPort               // the lower supply
	loosePort                // of an edited pattern: a net that has nothing else on it
	missingPort              // of an edited pattern: a net that no part left has
)

// planNet is a net of a plan.
type planNet struct {
	class    class
	port     int      // index in Pattern.Ports; -1: inner
	pins     []planAt // all, those of optional parts included
	needed   int      // pins of parts that must be there
	mayEqual []int    // ports that it may be one net with
}

type planAt struct {
	part, terminal int
}

// planPart is a device of the pattern.
type planPart struct {
	kinds    uint32 // bit set of parts.Kind
	kind     parts.Kind
	nets     [3]int
	device   int // index in Pattern.Circuit.Devices
	optional bool
	shared   bool
	context  bool // must be there, but is explained by something else
}

// plan is a pattern made ready for the search: one of its two polarities, one order of the gates in its stacks, and for partial
// fits one edit.
type plan struct {
	pattern *library.Pattern
	mirror  bool
	parts   []planPart
	nets    []planNet
	size    int // parts that must be there
	edit    edit
	sights  []int32        // by part that must be there: the number of what it asks by itself
	whole   *plan          // of an edited plan, what it was made of
	begins  []beginning    // by part; nil in an edited plan
	byOne   func() []*plan // edits by one piece, which take longer to make than to look for in a small circuit; nil: they are not kept
}

// edit is what an edited plan lacks. The zero value is none.
type edit struct {
	kind     editKind
	parts    []int // missing parts
	part     int   // whose terminal is loose, or which net has pieces too many
	terminal int
	net      int // in the whole pattern
	extras   int // how many extra pieces are looked for
}

type editKind uint8

const (
	whole    editKind = iota
	without           // devices are missing
	loose             // a terminal is on a net of its own
	withMore          // inner nets have extra pieces
)

// newPlan compiles a pattern; it returns an error if the pattern holds what no part can be.
func newPlan(p *library.Pattern, mirror bool) (*plan, error) {
	c := p.Circuit
	pl := &plan{pattern: p, mirror: mirror, nets: make([]planNet, len(c.Nets))}
	for i := range pl.nets {
		pl.nets[i].port = -1
	}
	for i, n := range c.Ports {
		pl.nets[n].port = i
		pl.nets[n].class = portClass(p.Ports[i].Role, mirror)
	}
	for _, j := range p.Joins {
		a, b := portNet(p, j[0]), portNet(p, j[1])
		if a < 0 || b < 0 {
			return nil, fmt.Errorf("pattern %s joins %s and %s, which are not both ports", p.Name, j[0], j[1])
		}
		pl.nets[a].mayEqual = append(pl.nets[a].mayEqual, b)
		pl.nets[b].mayEqual = append(pl.nets[b].mayEqual, a)
	}
	for i := range c.Devices {
		d := &c.Devices[i]
		pp := planPart{device: i, kind: kindOf(d.Kind)}
		n, _ := pp.kind.Terminals()
		for t := range pp.nets {
			pp.nets[t] = -1
			if t < n {
				pp.nets[t] = int(d.Terminals[t])
			}
		}
		if pp.kind.IsMOS() && pp.nets[0] == pp.nets[2] || n == 2 && pp.nets[0] == pp.nets[1] {
			return nil, fmt.Errorf("pattern %s: device %s lies with both ends on one net", p.Name, d.Name)
		}
		if mirror {
			pp.flip()
		}
		pp.kinds = 1 << pp.kind
		if pp.kind.IsMOS() {
			pp.kinds |= 1 << parts.Unknown
			if pp.kind == parts.Unknown || slices.Contains(p.Either, d.Name) {
				pp.kinds = 1<<parts.N | 1<<parts.P | 1<<parts.Unknown
			}
		}
		pp.optional = slices.Contains(p.Optional, d.Name)
		pp.shared, pp.context = slices.Contains(p.Shared, d.Name), slices.Contains(p.Context, d.Name)
		pl.parts = append(pl.parts, pp)
	}
	pl.wire()
	return pl, nil
}

// flip makes a part that of the circuit with n and p swapped: a transistor's polarity, a diode's direction.
func (pp *planPart) flip() {
	switch pp.kind {
	case parts.N:
		pp.kind = parts.P
	case parts.P:
		pp.kind = parts.N
	case parts.Diode, parts.CurrentSource, parts.VoltageSource:
		pp.nets[0], pp.nets[1] = pp.nets[1], pp.nets[0]
	}
}

// wire lists the pins on each net, and numbers what parts ask.
func (pl *plan) wire() {
	pl.size = 0
	count := 0
	for i := range pl.nets {
		pl.nets[i].pins, pl.nets[i].needed = nil, 0
	}
	for i := range pl.parts {
		for _, n := range pl.parts[i].nets {
			if n >= 0 {
				pl.nets[n].needed++ // all, for now
				count++
			}
		}
	}
	all := make([]planAt, count) // one piece of memory for all
	for i := range pl.nets {
		net := &pl.nets[i]
		net.pins, all, net.needed = all[:0:net.needed], all[net.needed:], 0
	}
	for i := range pl.parts {
		pp := &pl.parts[i]
		if !pp.optional {
			pl.size++
		}
		for t, n := range pp.nets {
			if n >= 0 {
				pl.nets[n].pins = append(pl.nets[n].pins, planAt{i, t})
				if !pp.optional {
					pl.nets[n].needed++
				}
			}
		}
	}
	pl.sights = make([]int32, len(pl.parts))
	for i := range pl.parts {
		if !pl.parts[i].optional {
			pl.sights[i] = pl.sight(i).number()
		}
	}
}

func portClass(role string, mirror bool) class {
	switch role {
	case library.Supply:
		if mirror {
			return groundPort
		}
		return supplyPort
	case library.Ground:
		if mirror {
			return supplyPort
		}
		return groundPort
	case library.Any, library.Reference, library.Bias, "":
		return anyPort
	}
	return signalPort
}

func portNet(p *library.Pattern, name string) int {
	for i := range p.Ports {
		if p.Ports[i].Name == name {
			return int(p.Circuit.Ports[i])
		}
	}
	return -1
}

func kindOf(k netlist.Kind) parts.Kind {
	switch k {
	case netlist.NMOS:
		return parts.N
	case netlist.PMOS:
		return parts.P
	case netlist.MOS:
		return parts.Unknown
	}
	return parts.Kind(k-netlist.Diode) + parts.Diode
}

// libraryPlans are the plans of the library's patterns, which circuits of a few devices take longer to compile than to search. Nothing
// changes a plan once it is made.
var libraryPlans = sync.OnceValues(func() (map[*library.Pattern][]*plan, error) {
	all := map[*library.Pattern][]*plan{}
	for _, p := range library.Embedded() {
		plans, err := compile(p)
		if err != nil {
			return nil, err
		}
		for _, pl := range plans {
			pl.byOne = sync.OnceValue(func() []*plan { return pl.edits(1) })
		}
		all[p] = plans
	}
	return all, nil
})

// plansOf returns all plans of a pattern.
func plansOf(p *library.Pattern) ([]*plan, error) {
	switch known, err := libraryPlans(); {
	case err != nil:
		return nil, err
	case known[p] != nil:
		return known[p], nil
	}
	return compile(p)
}

// compile makes all plans of a pattern: both polarities where it says so, and all orders of gates in its stacks.
func compile(p *library.Pattern) ([]*plan, error) {
	var all []*plan
	for _, mirror := range []bool{false, true} {
		if mirror && !p.Mirror {
			break
		}
		pl, err := newPlan(p, mirror)
		if err != nil {
			return nil, err
		}
		if p.SeriesFree {
			all = append(all, pl.orders()...)
		} else {
			all = append(all, pl)
		}
	}
	for _, pl := range all {
		pl.begins = make([]beginning, len(pl.parts))
		for i := range pl.begins {
			b := &pl.begins[i]
			b.steps, b.ports, b.ok = pl.from(i)
		}
	}
	return all, nil
}

// maxOrders is how many orders of gates are tried; a pattern of more is searched in these.
const maxOrders = 64

// orders returns the plan in all orders of gates along its stacks.
func (pl *plan) orders() []*plan {
	all := []*plan{pl}
	for _, stack := range pl.seriesPaths() {
		var more []*plan
		for _, q := range all {
			permutations(len(stack), func(order []int) {
				if len(more) < maxOrders {
					r := q.clone()
					for i, k := range order {
						r.parts[stack[i]].nets[parts.Gate] = q.parts[stack[k]].nets[parts.Gate]
						r.parts[stack[i]].device = q.parts[stack[k]].device
					}
					r.wire()
					more = append(more, r)
				}
			})
		}
		all = more
	}
	return all
}

func (pl *plan) clone() *plan {
	q := *pl
	q.begins, q.byOne = nil, nil
	q.parts, q.nets = slices.Clone(pl.parts), slices.Clone(pl.nets)
	return &q
}

// seriesPaths returns the parts of each path of transistors of one kind through inner nets of two pins.
func (pl *plan) seriesPaths() [][]int {
	isLink := func(n int) bool {
		net := &pl.nets[n]
		if net.class != inner || len(net.pins) != 2 {
			return false
		}
		a, b := net.pins[0], net.pins[1]
		return pl.parts[a.part].kind == pl.parts[b.part].kind && pl.parts[a.part].kind.IsMOS() && a.terminal != parts.Gate &&
			b.terminal != parts.Gate && !pl.parts[a.part].optional && !pl.parts[b.part].optional
	}
	var paths [][]int
	for i := range pl.parts {
		pp := &pl.parts[i]
		if !pp.kind.IsMOS() || isLink(pp.nets[0]) == isLink(pp.nets[2]) {
			continue
		}
		path, far := []int{i}, pp.nets[0]
		if !isLink(far) {
			far = pp.nets[2]
		}
		for isLink(far) {
			at := pl.nets[far].pins[0]
			if at.part == path[len(path)-1] {
				at = pl.nets[far].pins[1]
			}
			path = append(path, at.part)
			far = pl.parts[at.part].nets[2-at.terminal]
		}
		if i < path[len(path)-1] { // each path once
			paths = append(paths, path)
		}
	}
	return paths
}

// permutations calls f with every order of 0 to n-1.
func permutations(n int, f func([]int)) {
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	var next func(k int)
	next = func(k int) {
		if k == n {
			f(order)
			return
		}
		for i := k; i < n; i++ {
			order[k], order[i] = order[i], order[k]
			next(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	next(0)
}

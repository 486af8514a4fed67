package ambiguous

import (
	"fmt"
	"math/rand/v2"
)

// Share is how often Generate asks about a kind.
type Share struct {
	Kind    Kind
	Percent int
}

// Shares are the shares of the kinds that Generate asks about: 50 % transistors, 50 % capacitors.
var Shares = []Share{
	{Interdigitated, 15}, {Waffle, 10}, {EnclosedGate, 7}, {SingleWide, 10}, {Logic, 8},
	{TiedPlate, 12}, {OneSided, 8}, {NoDiffusion, 8}, {SharedBank, 9}, {OwnBank, 9},
	{TiedMesh, 4},
}

// maker makes one generated case.
type maker struct {
	*rand.Rand
	*floor
	asked int
	free  int // names that were given to signals
}

// Generate returns the case of a seed: a structure that is asked about, with up to three neighbours on the same rails, in one of
// eight orientations, by the shares of the package's comment. The same seed gives the same case.
func Generate(seed uint64) Case {
	m := &maker{Rand: rand.New(rand.NewPCG(seed, 0x616d6269))}
	kind := m.kind()
	s := newSheet(builtin(m.stack()), 250+5*m.IntN(251)) // features of 0.5 to 3 µm
	m.floor = newFloor(s)
	m.onVia = s.has(metal2) && m.IntN(4) > 0
	m.tapStep = m.between(14, 40)
	t, about := m.nets(kind)
	before := m.IntN(3)
	for range before {
		m.neighbour()
	}
	if t.driven {
		m.invert(m.between(6, 12), m.between(8, 24), m.signal(), t.gate, true)
	}
	m.asked = len(s.done)
	m.add(clearLeft, func() body { return m.draw(kind, t) })
	for range m.IntN(4 - before) {
		m.neighbour()
	}
	m.close()
	c := m.result(fmt.Sprintf("%s, seed %d", kind, seed), m.asked, m.IntN(8))
	c.About = about
	return c
}

func (m *maker) kind() Kind {
	n := m.IntN(100)
	for _, s := range Shares {
		if n -= s.Percent; n < 0 {
			return s.Kind
		}
	}
	panic("ambiguous: the shares do not add up to 100")
}

func (m *maker) stack() string {
	name := fmt.Sprintf("cmos-1p%dm", 1+m.IntN(2))
	switch n := m.IntN(10); {
	case n < 5:
		return name + "-well-split"
	case n < 8:
		return name + "-well"
	}
	return name
}

// between returns a number from lo to hi.
func (m *maker) between(lo, hi int) int { return lo + m.IntN(hi-lo+1) }

// even returns an even number from lo to hi, both even.
func (m *maker) even(lo, hi int) int { return lo + 2*m.IntN((hi-lo)/2+1) }

// signal returns a name that is not in use.
func (m *maker) signal() string {
	m.free++
	return fmt.Sprintf("%s%d", [...]string{"N", "SIG", "A"}[m.IntN(3)], m.free)
}

// nets chooses what the structure lies between.
func (m *maker) nets(kind Kind) (terminals, Supply) {
	n := m.IntN(100)
	if readings[kind].reading == Capacitor {
		switch {
		case n < 50 && m.mayRise(kind) && m.IntN(3) == 0:
			return terminals{gate: ground, a: supply}, SupplySupply
		case n < 50:
			return terminals{gate: supply, a: ground}, SupplySupply
		case n < 80:
			return terminals{gate: m.signal(), a: ground, driven: m.IntN(5) == 0}, SignalSupply
		case n < 85:
			return terminals{gate: m.signal(), a: m.signal()}, SignalSignal
		}
		return terminals{gate: "PAD", a: ground}, PadSupply
	}
	t := terminals{gate: m.signal(), a: ground, driven: m.IntN(5) < 2}
	switch {
	case n < 40:
		t.a, t.b = "VCORE", supply
		return t, SupplySupply
	case n < 75 && m.IntN(2) == 0:
		t.a, t.b = m.signal(), supply
		return t, SignalSupply
	case n < 75:
		t.b = m.signal()
		return t, SignalSupply
	case m.IntN(2) == 0:
		t.a, t.b = "PAD", supply
		return t, PadSupply
	}
	t.b = "PAD"
	if kind == Interdigitated || kind == SingleWide { // a clamp is off as long as nothing strikes the pad
		t.gate, t.driven = ground, false
	}
	return t, PadSupply
}

// mayRise says whether the lower plate of a kind may lie on the supply: it does in a well.
func (m *maker) mayRise(kind Kind) bool {
	return kind == TiedPlate || kind == SharedBank || kind == OwnBank
}

// draw draws the structure in question. Those on the supply lie in a well; so do two switches of five elsewhere, and no
// other capacitors.
func (m *maker) draw(kind Kind, t terminals) body {
	ptype := t.a == supply
	if readings[kind].reading == Transistor {
		ptype = t.b == supply && m.IntN(5) < 4 || m.IntN(10) == 0
	}
	switch kind {
	case Interdigitated:
		return m.fingers(kind, ptype, m.between(3, 16), m.between(2, 4), m.between(12, 70), t)
	case SingleWide:
		return m.fingers(kind, ptype, 1, m.between(3, 20), m.between(20, 90), t)
	case Logic:
		return m.fingers(kind, ptype, m.between(1, 2), m.between(2, 3), m.between(6, 14), t)
	case Waffle:
		return m.waffle(ptype, m.between(2, 6), m.between(3, 9), m.even(8, 12), m.between(2, 4), t)
	case TiedMesh:
		t.b = t.a
		return m.waffle(ptype, m.between(2, 6), m.between(3, 9), m.even(8, 12), m.between(2, 6), t)
	case EnclosedGate:
		return m.rings(ptype, m.between(1, 5), m.between(2, 4), m.even(6, 12), t)
	case TiedPlate:
		return m.tied(ptype, m.between(1, 6), m.between(4, 30), m.between(16, 60), t)
	case OneSided:
		return m.oneSided(ptype, m.between(1, 4), m.between(10, 40), m.between(8, 40), t)
	case NoDiffusion:
		return m.noDiffusion(m.IntN(2) == 0, m.between(16, 60), m.between(16, 60), t)
	}
	k := bank{own: kind == OwnBank, staggered: m.IntN(2) == 0, pairs: m.between(1, 3), columns: m.between(2, 8), a: m.even(10, 20)}
	return m.bank(ptype, k, t)
}

// neighbour draws an inverter, a single transistor or a row with dummies.
func (m *maker) neighbour() {
	n := m.IntN(100)
	switch {
	case n < 60:
		m.invert(m.between(6, 12), m.between(8, 24), m.signal(), m.signal(), false)
	case n < 85:
		t := terminals{gate: m.signal(), a: ground, b: m.signal()}
		m.add(clearLeft, func() body { return m.fingers(Logic, false, m.between(1, 3), m.between(2, 3), m.between(6, 20), t) })
	default:
		t := terminals{gate: m.signal(), a: ground, b: m.signal()}
		runsOn := m.IntN(2) == 0
		m.add(clearLeft, func() body { return m.dummyRow(2*m.between(1, 3), m.between(2, 6), m.between(8, 24), runsOn, t) })
	}
}

package ambiguous

import (
	"fmt"

	"undermetal/layout/stack"
)

// handUnit is half a feature of the hand-built cases: a process of 1 µm.
const handUnit = 500

// Hand returns the hard cases, drawn anew at each call. Each has an inverter beside it, which drives the gates of most switches.
func Hand() []Case {
	const traced, single, plain = "cmos-1p1m-well-split", "cmos-1p2m-well", "cmos-1p1m" // stacks
	decoupling := terminals{gate: supply, a: ground}
	inWell := terminals{gate: ground, a: supply}
	pump := terminals{gate: "VPUMP", a: ground}
	power := terminals{"EN", "VCORE", supply, true}
	return []Case{
		byHand("interdigitated power switch", "cmos-1p2m-well-split", SupplySupply, power,
			func(s *sheet, t terminals) body { return s.fingers(Interdigitated, true, 7, 2, 40, t) }),
		byHand("output driver at a pad", traced, PadSupply, terminals{"PHI", ground, "PAD", true},
			func(s *sheet, t terminals) body { return s.fingers(Interdigitated, false, 6, 2, 32, t) }),
		byHand("waffle switch", traced, SupplySupply, power,
			func(s *sheet, t terminals) body { return s.waffle(false, 4, 6, 8, 2, t) }),
		byHand("waffle switch of two rows", plain, SignalSupply, terminals{"PHI", ground, "VPUMP", true},
			func(s *sheet, t terminals) body { return s.waffle(false, 2, 8, 8, 3, t) }),
		byHand("mesh on one net", traced, SupplySupply, terminals{gate: supply, a: ground, b: ground},
			func(s *sheet, t terminals) body { return s.waffle(false, 3, 5, 8, 4, t) }),
		byHand("clamp at a pad", traced, PadSupply, terminals{ground, ground, "PAD", false},
			func(s *sheet, t terminals) body { return s.fingers(Interdigitated, false, 4, 2, 40, t) }),
		byHand("ring gates", traced, SignalSupply, terminals{"RST", ground, "SENSE", true},
			func(s *sheet, t terminals) body { return s.rings(false, 3, 2, 8, t) }),
		byHand("one long gate", single, SignalSupply, terminals{"BIAS", ground, "LOAD", false},
			func(s *sheet, t terminals) body { return s.fingers(SingleWide, false, 1, 16, 30, t) }),
		byHand("bank of squares, own diffusions, staggered", traced, SignalSupply, pump,
			func(s *sheet, t terminals) body {
				return s.bank(false, bank{own: true, staggered: true, pairs: 1, columns: 5, a: 12}, t)
			}),
		byHand("bank of squares, own diffusions, on a grid", "cmos-1p2m-well-split", SupplySupply, decoupling,
			func(s *sheet, t terminals) body {
				return s.bank(false, bank{own: true, pairs: 2, columns: 5, a: 12}, t)
			}),
		byHand("bank of squares, one diffusion, staggered", traced, SignalSupply, pump,
			func(s *sheet, t terminals) body {
				return s.bank(false, bank{staggered: true, pairs: 2, columns: 6, a: 12}, t)
			}),
		byHand("bank of squares, one diffusion, on a grid", plain, SupplySupply, decoupling,
			func(s *sheet, t terminals) body { return s.bank(false, bank{pairs: 1, columns: 8, a: 12}, t) }),
		byHand("source on drain", traced, SupplySupply, decoupling,
			func(s *sheet, t terminals) body { return s.tied(false, 2, 20, 30, t) }),
		byHand("source on drain, in a well", "cmos-1p2m-well-split", SupplySupply, inWell,
			func(s *sheet, t terminals) body { return s.tied(true, 3, 12, 30, t) }),
		byHand("one-sided", traced, SupplySupply, decoupling,
			func(s *sheet, t terminals) body { return s.oneSided(false, 2, 20, 24, t) }),
		byHand("no diffusion, over a well", traced, SupplySupply, decoupling,
			func(s *sheet, t terminals) body { return s.noDiffusion(true, 40, 30, t) }),
		byHand("no diffusion, under metal", plain, SignalSupply, terminals{gate: "COMP", a: "OUT"},
			func(s *sheet, t terminals) body { return s.noDiffusion(false, 40, 30, t) }),
		byHand("covered diffusion", traced, SupplySupply, decoupling,
			func(s *sheet, t terminals) body { return s.covered(30, 30, t) }),
		byHand("row with dummies", traced, SignalSupply, terminals{"BIAS", ground, "TAIL", false},
			func(s *sheet, t terminals) body { return s.dummyRow(4, 4, 20, false, t) }),
		byHand("row with dummies, gates that run on", traced, SignalSupply, terminals{"BIAS", ground, "TAIL", false},
			func(s *sheet, t terminals) body { return s.dummyRow(4, 4, 20, true, t) }),
		byHandOn(withCapacitor(builtin("cmos-2p2m-well-split")), "two polys with a rule", SignalSupply, terminals{}, twoPolys),
		byHandOn(builtin("cmos-2p2m-well-split"), "two polys without a rule", SignalSupply, terminals{}, twoPolys),
		byHandOn(withMark(builtin(traced)), "serpentine with a rule", SignalSupply, terminals{}, serpentine),
		byHandOn(builtin(traced), "serpentine without a rule", SignalSupply, terminals{}, serpentine),
	}
}

func twoPolys(s *sheet, _ terminals) body   { return s.twoPolys(36, 30, "FB", "SUM") }
func serpentine(s *sheet, _ terminals) body { return s.serpentine(7, 50, "REF", "SUM") }

// builtin returns a built-in stack that is known to be there.
func builtin(name string) *stack.Stack {
	st, ok := stack.Builtin(name)
	if !ok {
		panic(fmt.Sprintf("ambiguous: no stack %q", name))
	}
	return st
}

func byHand(name, st string, about Supply, t terminals, draw func(*sheet, terminals) body) Case {
	return byHandOn(builtin(st), name, about, t, draw)
}

// byHandOn draws a case on a stack: an inverter, then the structure.
func byHandOn(st *stack.Stack, name string, about Supply, t terminals, draw func(*sheet, terminals) body) Case {
	s := newSheet(st, handUnit)
	f := newFloor(s)
	f.onVia = s.has(metal2)
	out := "Y"
	if t.driven {
		out = t.gate
	}
	f.invert(8, 14, "IN", out, t.driven)
	f.add(clearLeft, func() body { return draw(s, t) })
	f.close()
	c := f.result(name, 1, 0)
	c.About = about
	return c
}

package compare

import "undermetal/netlist"

// How a net is used: one bit each.
const (
	usedBulkN = 1 << iota // bulk of an NMOS, or of a transistor of unknown polarity
	usedBulkP             // bulk of a PMOS, or of a transistor of unknown polarity
	usedSub               // substrate of a bipolar transistor
	usedDiode             // terminal of a diode
	usedOther             // anything else
	usedBulk  = usedBulkN | usedBulkP | usedSub
)

func use(k netlist.Kind, t int) uint8 {
	switch {
	case t == netlist.Bulk && k == netlist.NMOS:
		return usedBulkN
	case t == netlist.Bulk && k == netlist.PMOS:
		return usedBulkP
	case t == netlist.Bulk && k == netlist.MOS:
		return usedBulkN | usedBulkP
	case t == netlist.Bulk && k == netlist.Bipolar:
		return usedSub
	case k == netlist.Diode:
		return usedDiode
	}
	return usedOther
}

// findWells finds out which terminals are wells or substrate, which nets only such terminals touch, and which
// terminals therefore stay out of the graph (base.loose); wellmap.go checks those once devices are mapped.
//
// A terminal counts as a well terminal if it is a bulk, or the well side of a diode. With Options.BulkByName none does.
func (p *pair) findWells() {
	if p.opt.BulkByName {
		for _, s := range p.side {
			s.soft, s.bulkOnly = make([]bool, len(s.c.Nets)), make([]bool, len(s.c.Nets))
		}
		return
	}
	var uses [2][]uint8
	for i, s := range p.side {
		uses[i] = make([]uint8, len(s.c.Nets))
		s.terminals(func(_ int32, d *netlist.Device, t int, n netlist.Net) {
			if n != netlist.NoNet {
				uses[i][n] |= use(d.Kind, t)
			}
		})
	}
	well := p.wellSides(uses)
	for i, s := range p.side {
		s.findSoft(uses[i], well)
	}
	for _, s := range p.side {
		s.terminals(func(dev int32, _ *netlist.Device, t int, n netlist.Net) {
			b := s.devBase[dev]
			if well[b]&(1<<t) != 0 && (n == netlist.NoNet || s.soft[n]) {
				p.bases[b].loose |= 1 << t
			}
		})
	}
}

// terminals calls f for every terminal of every device.
func (s *side) terminals(f func(dev int32, d *netlist.Device, t int, n netlist.Net)) {
	for i := range s.c.Devices {
		d := &s.c.Devices[i]
		for t := range d.Kind.TerminalNames() {
			f(int32(i), d, t, d.Terminals[t])
		}
	}
}

// wellSides returns the well terminals of every base, one bit each.
//
// Nothing in a diode says which of its ends is a well. The anode is (a p substrate or p well), if every diode of that
// model in either circuit has it on a net that is the bulk of an NMOS or that is unnamed and touches nothing but bulks
// and diodes, and at least one is of the first kind. The same holds for the cathode and the bulks of PMOS.
func (p *pair) wellSides(uses [2][]uint8) []uint8 {
	well := make([]uint8, len(p.bases))
	for b := range p.bases {
		switch p.bases[b].kind {
		case netlist.NMOS, netlist.PMOS, netlist.MOS, netlist.Bipolar:
			well[b] = 1 << netlist.Bulk
		}
	}
	proven, refuted := make([]uint8, len(p.bases)), make([]uint8, len(p.bases))
	for i, s := range p.side {
		s.terminals(func(dev int32, d *netlist.Device, t int, n netlist.Net) {
			if d.Kind != netlist.Diode {
				return
			}
			want := uint8(usedBulkN)
			if t == netlist.Cathode {
				want = usedBulkP
			}
			switch bit := uint8(1) << t; {
			case n != netlist.NoNet && uses[i][n]&want != 0:
				proven[s.devBase[dev]] |= bit
			case n == netlist.NoNet || s.c.Nets[n].Name != "" || uses[i][n]&usedOther != 0:
				refuted[s.devBase[dev]] |= bit
			}
		})
	}
	for b := range well {
		well[b] |= proven[b] &^ refuted[b]
	}
	return well
}

// findSoft marks the nets that only well terminals touch, and the unnamed ones among them.
func (s *side) findSoft(uses []uint8, well []uint8) {
	s.soft, s.bulkOnly = make([]bool, len(s.c.Nets)), make([]bool, len(s.c.Nets))
	for n, u := range uses {
		s.bulkOnly[n] = u != 0 && u&usedOther == 0
	}
	s.terminals(func(dev int32, _ *netlist.Device, t int, n netlist.Net) {
		if n != netlist.NoNet && well[s.devBase[dev]]&(1<<t) == 0 {
			s.bulkOnly[n] = false
		}
	})
	for n := range s.soft {
		s.soft[n] = s.bulkOnly[n] && s.c.Nets[n].Name == ""
	}
}

package bench

import (
	"math"

	"undermetal/netlist"
	"undermetal/spice"
)

// softLevel is where a transistor with its gate at vg stops charging a node: V = VG − VT(V), bulk at 0.
func softLevel(m spice.Level1, vg float64) float64 {
	return root(func(v float64) float64 { return vg - m.Threshold(-v) - v }, 0, vg)
}

// junctions is the capacitance in F of all junctions on a net at a voltage against ground, n in p.
func junctions(s *stage, n netlist.Net, volts float64) float64 {
	t, c := &s.Process.N, 0.0
	for _, p := range s.pins[n] {
		switch d := s.device(p.device); {
		case d.Kind == netlist.Diode && p.terminal == netlist.Cathode:
			c += t.Junction(d.Area, d.Perim, volts)
		case d.Kind == netlist.NMOS && p.terminal == netlist.Drain:
			c += t.Junction(d.AD, d.PD, volts)
		case d.Kind == netlist.NMOS && p.terminal == netlist.Source:
			c += t.Junction(d.AS, d.PS, volts)
		case d.Kind == netlist.Capacitor:
			c += d.Value
		}
	}
	return c
}

// senseFarad is the capacitance in F of a sense node at a voltage: junctions, the overlaps of all transistors on it, and the gate of
// the follower. While the row is selected that follows, and its source hides all but 1 − gain of it. While it is not, off is how
// far the gate is below the voltage at which it would conduct, and the channel goes: Meyer's capacitances as SPICE has them (RCA
// Review 32 (1971) 42, from memory),
//
//	Cgb = Cox·off/φ up to Cox, Cgs = 2/3·Cox·(1 − 2·off/φ) down to 0, in series with what hangs on the node between.
//
// follows is how much of a small fall the node between follower and select follows then, as a part.
func senseFarad(s *stage, n netlist.Net, r readout, volts, off float64, selected bool) (c, follows float64) {
	t := &s.Process.N
	c = junctions(s, n, volts)
	for _, i := range s.channelsOn(n) {
		c += t.CGSO * width(s.device(i)) * 1e-9
	}
	for _, i := range s.gatesOn(n) {
		d := s.device(i)
		overlap := t.CGSO * width(d) * 1e-9
		c += overlap + t.CGBO*d.L*1e-9
		if i != r.follower {
			c += overlap
			continue
		}
		oxide := s.Process.Cox() * width(d) * d.L * 1e-18
		if selected {
			c += (1 - followerGain(s.Process, d, volts, columnSink, s.Process.SupplyV)) * (overlap + oxide*2/3)
			continue
		}
		source := overlap + oxide*2/3*max(0, 1-2*off/t.Phi)
		below := junctions(s, r.mid, volts/2) + t.CGSO*width(s.device(r.sel))*1e-9
		if source+below > 0 {
			follows = source / (source + below)
		}
		c += oxide*min(1, off/t.Phi) + below*follows
	}
	return c, follows
}

// meanFarad is the mean from v0 down to v1, in a row that is not selected, of a node that was reset to a level above both.
func (s *stage) meanFarad(n netlist.Net, r readout, level, v0, v1 float64) float64 {
	const steps = 400
	sum, count, off := 0.0, 0.0, 0.0
	for k := range steps {
		v := level + (v1-level)*(float64(k)+0.5)/steps
		c, follows := senseFarad(s, n, r, v, off, false)
		off += (level - v1) / steps * (1 - follows)
		if v <= v0 {
			sum, count = sum+c, count+1
		}
	}
	return sum / count
}

// columnLevel is the column's voltage where a follower and a select carry the column's load, at a voltage of the sense node.
// The load draws its current down to 0.2 V, and less below, as a square does.
func (s *stage) columnLevel(r readout, sense float64) float64 {
	vdd := s.Process.SupplyV
	at := func(i int, vd, vg, vs float64) float64 {
		d := s.device(i)
		return level1(s.Process, d).At(width(d), d.L, vd, vg, vs, 0).ID
	}
	load := func(v float64) float64 {
		if v >= 0.2 {
			return columnSink
		}
		return columnSink * (1 - (1-v/0.2)*(1-v/0.2))
	}
	return root(func(col float64) float64 {
		mid := root(func(mid float64) float64 { return at(r.follower, vdd, sense, mid) - load(col) }, 0, vdd)
		if math.IsNaN(mid) { // the follower cannot carry it
			return -1
		}
		return at(r.sel, mid, vdd, col) - load(col)
	}, 1e-6, vdd)
}

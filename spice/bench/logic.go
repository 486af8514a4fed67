package bench

import "undermetal/netlist"

// level is what a net is at, by its switches.
type level uint8

const (
	unknown level = iota // a loop, a fight, or a charge
	low
	high
	loose // nothing drives it
)

func levelOf(b bool) level {
	if b {
		return high
	}
	return low
}

// settle computes what all nets are at where some are driven: transistors are switches, unknown gates open or close them as
// they like. A net is high where a way of closed switches leads to a supply, and none that could be closed to ground. The
// answer does not hang on sizes: where two ways fight, and in a latch that nothing sets, it is unknown.
func settle(v *view, driven map[netlist.Net]level) []level {
	at := make([]level, len(v.c.Nets))
	fixed := make([]bool, len(v.c.Nets))
	for i := range at {
		n := netlist.Net(i)
		l, ok := driven[n]
		switch {
		case ok:
			at[i], fixed[i] = l, true
		case v.isSupply(n):
			at[i], fixed[i] = high, true
		case v.isGround(n):
			at[i], fixed[i] = low, true
		}
	}
	for range len(at) + 2 {
		next := append([]level(nil), at...)
		surelyHigh, maybeHigh := reach(v, at, fixed, high)
		surelyLow, maybeLow := reach(v, at, fixed, low)
		changed := false
		for i := range at {
			if fixed[i] {
				continue
			}
			switch {
			case surelyHigh[i] && !maybeLow[i]:
				next[i] = high
			case surelyLow[i] && !maybeHigh[i]:
				next[i] = low
			case !maybeHigh[i] && !maybeLow[i]:
				next[i] = loose
			default:
				next[i] = unknown
			}
			changed = changed || next[i] != at[i]
		}
		at = next
		if !changed {
			break
		}
	}
	return at
}

// reach tells to which nets switches lead from those that are driven to a level: surely, and maybe.
func reach(v *view, at []level, fixed []bool, from level) (surely, maybe []bool) {
	surely, maybe = make([]bool, len(at)), make([]bool, len(at))
	var spread func(n netlist.Net, sure bool)
	spread = func(n netlist.Net, sure bool) {
		for _, i := range v.channelsOn(n) {
			d := v.device(i)
			other := across(d, n)
			if fixed[other] || other == n {
				continue
			}
			g := at[d.Terminals[netlist.Gate]]
			on := d.Kind == netlist.NMOS && g == high || d.Kind == netlist.PMOS && g == low
			off := d.Kind == netlist.NMOS && g == low || d.Kind == netlist.PMOS && g == high
			if off {
				continue
			}
			if sure && on && !surely[other] {
				surely[other], maybe[other] = true, true
				spread(other, true)
			} else if !maybe[other] {
				maybe[other] = true
				spread(other, false)
			}
		}
		for _, p := range v.pins[n] { // resistors are wires here
			if d := v.device(p.device); d.Kind == netlist.Resistor {
				other := d.Terminals[0]
				if other == n {
					other = d.Terminals[1]
				}
				if !fixed[other] && (sure && !surely[other] || !maybe[other]) {
					surely[other], maybe[other] = surely[other] || sure, true
					spread(other, sure)
				}
			}
		}
	}
	for i := range at {
		if fixed[i] && at[i] == from {
			spread(netlist.Net(i), true)
		}
	}
	return surely, maybe
}

package main

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/netlist"
)

// mostChanges is how many kinds of change are printed on either side.
const mostChanges = 12

// printChange says which devices one circuit has that another one has not, and the reverse.
func printChange(p *printer, before, after *netlist.Circuit) {
	gone, come := deviceLines(before), deviceLines(after)
	for line, n := range gone {
		both := min(n, come[line])
		gone[line], come[line] = n-both, come[line]-both
	}
	drop := func(_ string, n int) bool { return n == 0 }
	maps.DeleteFunc(gone, drop)
	maps.DeleteFunc(come, drop)
	if len(gone)+len(come) == 0 {
		p.f("the circuit stays as it is\n")
		return
	}
	p.f("what changes in the circuit:\n")
	for _, side := range []struct {
		sign  string
		lines map[string]int
	}{{"-", gone}, {"+", come}} {
		for i, line := range slices.Sorted(maps.Keys(side.lines)) {
			if i == mostChanges {
				p.f("  %s %d more kinds of device\n", side.sign, len(side.lines)-mostChanges)
				break
			}
			p.f("  %s %5d  %s\n", side.sign, side.lines[line], line)
		}
	}
}

// printUnknown says what would give a value to what an answer has made, where the stack does not tell it.
func printUnknown(p *printer, set []dossier.Verdict, after *netlist.Circuit) {
	for _, made := range []struct {
		reading, by, model string
		kind               netlist.Kind
	}{{"capacitor", "gate_oxide_nm in [process] of the stack", "moscap", netlist.Capacitor}, {"capacitor", "area_af_um2 of the upper plate's layer in the stack", "platecap", netlist.Capacitor},
		{"resistor", "sheet_ohm of the layer in the stack", "wireres", netlist.Resistor}} {
		if slices.ContainsFunc(set, func(v dossier.Verdict) bool { return v.Reading == made.reading }) &&
			slices.ContainsFunc(after.Devices, func(d netlist.Device) bool {
				return d.Kind == made.kind && d.Model == made.model && math.IsNaN(d.Value)
			}) {
			p.f("a value is unknown: %s gives one\n", made.by)
		}
	}
}

// deviceLines says in a line each what a circuit has, with how many there are.
func deviceLines(c *netlist.Circuit) map[string]int {
	ids, lines := netIDs(c), map[string]int{}
	for i := range c.Devices {
		d := &c.Devices[i]
		var ends []string
		for t, name := range d.Kind.TerminalNames() {
			net := ids[d.Terminals[t]]
			if label := c.Nets[d.Terminals[t]].Name; label != "" {
				net = label
			}
			ends = append(ends, name+" "+net)
		}
		text := d.Kind.String() + " "
		if d.Model != "" {
			text += d.Model + " "
		}
		text += "(" + strings.Join(ends, ", ") + ")"
		value := d.Value
		if math.IsNaN(value) {
			value = 0
		}
		switch d.Kind {
		case netlist.Diode:
			text += fmt.Sprintf(" area %.3f µm²", d.Area/1e6)
		case netlist.Capacitor:
			text += fmt.Sprintf(" %s, area %.3f µm²", withPrefix(value, "F"), d.Area/1e6)
		case netlist.Resistor:
			text += fmt.Sprintf(" %s, W %.3f µm, L %.3f µm", withPrefix(value, "ohm"), um(d.W), um(d.L))
		default:
			text += fmt.Sprintf(" W %.3f µm, L %.3f µm", um(d.W), um(d.L))
		}
		lines[text]++
	}
	return lines
}

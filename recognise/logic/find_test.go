package logic

import (
	"fmt"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/parts"
	"undermetal/spice"
)

func found(t *testing.T, lines string) []Group {
	t.Helper()
	d, err := spice.Read("test.sp", strings.NewReader("* test\n.subckt top\n"+lines+"\n.ends\n"), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := Find(t.Context(), parts.New(d.Circuit("top"), parts.Known{}))
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func names(all []Group) string {
	var ns []string
	for _, g := range all {
		ns = append(ns, g.Pattern.Name)
	}
	slices.Sort(ns)
	return strings.Join(ns, " ")
}

// sp is a random series-parallel network of n transistors, as text and as SPICE lines.
type sp struct {
	op   byte
	kids []*sp
	gate string
}

func randomSP(rnd *rand.Rand, n int, op byte, next *int) *sp {
	if n == 1 {
		*next++
		return &sp{gate: fmt.Sprintf("g%d", *next)}
	}
	s := &sp{op: op}
	other := byte('s')
	if op == 's' {
		other = 'p'
	}
	for n > 0 {
		k := 1 + rnd.Intn(n)
		if len(s.kids) == 0 && k == n {
			k = n - 1
		}
		s.kids = append(s.kids, randomSP(rnd, k, other, next))
		n -= k
	}
	return s
}

func (s *sp) lines(kind, from, to, bulk string, dual bool, serial *int) string {
	if s.op == 0 {
		*serial++
		return fmt.Sprintf("M%d %s %s %s %s %s\n", *serial, from, s.gate, to, bulk, kind)
	}
	text := ""
	if (s.op == 'p') != dual {
		for _, k := range s.kids {
			text += k.lines(kind, from, to, bulk, dual, serial)
		}
		return text
	}
	at := from
	for i, k := range s.kids {
		next := to
		if i < len(s.kids)-1 {
			*serial++
			next = fmt.Sprintf("i%d", *serial)
		}
		text += k.lines(kind, at, next, bulk, dual, serial)
		at = next
	}
	return text
}

// shapeName is what a pull-down is called, from how it was made: NAND, NOR, and the sizes of the groups of two levels.
func (s *sp) shapeName() string {
	if s.op == 0 {
		return "inverter"
	}
	var sizes []int
	for _, k := range s.kids {
		n := 1
		if k.op != 0 {
			n = len(k.kids)
			for _, l := range k.kids {
				if l.op != 0 {
					return "static_gate"
				}
			}
		}
		sizes = append(sizes, n)
	}
	slices.Sort(sizes)
	slices.Reverse(sizes)
	if sizes[0] == 1 {
		return map[byte]string{'s': "nand", 'p': "nor"}[s.op] + fmt.Sprint(len(sizes))
	}
	name := map[byte]string{'s': "oai", 'p': "aoi"}[s.op]
	for _, k := range sizes {
		name += fmt.Sprint(k)
	}
	return name
}

// A static gate of any series-parallel form is one gate with all its transistors, and has the name of its form.
func TestSeriesParallelGates(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	seen := map[string]bool{}
	for range 400 {
		n, next, serial := 1+rnd.Intn(8), 0, 0
		s := randomSP(rnd, n, "sp"[rnd.Intn(2)], &next)
		lines := s.lines("nmos", "y", "VSS", "VSS", false, &serial) + s.lines("pmos", "y", "VDD", "VDD", true, &serial)
		all := found(t, lines)
		want := s.shapeName()
		if len(all) != 1 || !strings.HasPrefix(all[0].Pattern.Name, want) || len(all[0].Parts) != 2*n {
			t.Fatalf("%s: found %s\n%s", want, names(all), lines)
		}
		seen[want] = true
	}
	if len(seen) < 20 {
		t.Errorf("only %d forms", len(seen))
	}
}

// A network that is no dual of the other is no static gate.
func TestNoGate(t *testing.T) {
	for _, lines := range []string{
		"M1 y a VSS VSS nmos\nM2 y b VDD VDD pmos",                                           // two inputs, one each
		"M1 y a m VSS nmos\nM2 m b VSS VSS nmos\nM3 y a w VDD pmos\nM4 w b VDD VDD pmos",     // both in series
		"M1 y a VSS VSS nmos\nM2 y a VDD VDD nmos",                                           // no p
		"M1 y a VSS VSS nmos\nM2 y b VSS VSS nmos\nM3 y a VDD VDD pmos\nM4 y b VDD VDD pmos", // both in parallel
		"M1 y y VSS VSS nmos\nM2 y y VDD VDD pmos",                                           // its own input
	} {
		if got := names(found(t, lines)); got != "" {
			t.Errorf("%q is %s", lines, got)
		}
	}
}

const inv = "MN%[1]s %[2]s %[1]s VSS VSS nmos\nMP%[1]s %[2]s %[1]s VDD VDD pmos\n"

// gate is a transmission gate, open while on is high.
func gate(a, b, on, off string) string {
	return fmt.Sprintf("MTN%[1]s%[2]s %[1]s %[3]s %[2]s VSS nmos\nMTP%[1]s%[2]s %[1]s %[4]s %[2]s VDD pmos\n", a, b, on, off)
}

func inverter(in, out string) string { return fmt.Sprintf(inv, in, out) }

func nand(a, b, out string) string {
	return fmt.Sprintf("MA%[3]s %[3]s %[1]s m%[3]s VSS nmos\nMB%[3]s m%[3]s %[2]s VSS VSS nmos\nMC%[3]s %[3]s %[1]s VDD VDD pmos\nMD%[3]s %[3]s %[2]s VDD VDD pmos\n", a, b, out)
}

// latch is a latch of two transmission gates, its state on s and its output on q.
func latch(d, s, q, on, off string) string {
	return gate(d, s, on, off) + inverter(s, q) + inverter(q, "f"+s) + gate("f"+s, s, off, on)
}

// What is kept, when, and by which edge: from how it was built.
func TestStorage(t *testing.T) {
	clocks := inverter("clk", "cn") + inverter("cn", "cp")
	for _, tc := range []struct{ name, lines, want, not string }{
		{"high latch", clocks + latch("d", "s", "q", "cp", "cn"), "latch_high", "flip"},
		{"low latch", clocks + latch("d", "s", "q", "cn", "cp"), "latch_low", "flip"},
		{"rising edge", clocks + latch("d", "m", "mq", "cn", "cp") + latch("mq", "s", "q", "cp", "cn"), "flip_flop_rise", "fall"},
		{"falling edge", clocks + latch("d", "m", "mq", "cp", "cn") + latch("mq", "s", "q", "cn", "cp"), "flip_flop_fall", "rise"},
		{"two latches of one phase", clocks + latch("d", "m", "mq", "cp", "cn") + latch("mq", "s", "q", "cp", "cn"), "latch_high", "flip"},
		{"two clocks", clocks + inverter("ck2", "dn") + inverter("dn", "dp") + latch("d", "m", "mq", "cn", "cp") + latch("mq", "s", "q", "dp", "dn"), "latch_low", "flip"},
		// The state is pulled high while clr is low, by the gate that feeds it back.
		{"latch with an input that forces it", clocks + gate("d", "s", "cp", "cn") + nand("s", "clr", "q") + inverter("q", "fs") + gate("fs", "s", "cn", "cp"), "latch_high_clear", "preset"},
		{"a gate that only drives back", clocks + gate("d", "s", "cp", "cn") + inverter("s", "q") + gate("q", "s", "cn", "cp"), "inverter", "latch"},
		{"no feedback", clocks + gate("d", "s", "cp", "cn") + inverter("s", "q"), "inverter", "latch"},
		{"set and reset", nand("s", "qn", "q") + nand("r", "q", "qn"), "sr_latch_nand2", "latch_h"},
		{"ring of three", inverter("a", "b") + inverter("b", "c") + inverter("c", "a"), "ring_oscillator_3", "cross"},
		{"ring of two", inverter("a", "b") + inverter("b", "a"), "cross_coupled_inverters", "oscillator"},
		{"ring of four", inverter("a", "b") + inverter("b", "c") + inverter("c", "d") + inverter("d", "a"), "inverter_ring_4", "oscillator"},
	} {
		got := names(found(t, tc.lines))
		if !slices.Contains(strings.Fields(got), tc.want) || strings.Contains(got, tc.not) {
			t.Errorf("%s: found %s, want %s and no %s", tc.name, got, tc.want, tc.not)
		}
	}
}

// A group's circuit is what its parts are: laid on them, every terminal lies on the net that the group says.
func TestGroupsAreTheirCircuits(t *testing.T) {
	lines := inverter("clk", "cn") + inverter("cn", "cp") + latch("d", "m", "mq", "cn", "cp") + latch("mq", "s", "q", "cp", "cn") + nand("q", "x", "z")
	d, err := spice.Read("test.sp", strings.NewReader("* test\n.subckt top\n"+lines+"\n.ends\n"), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	g := parts.New(d.Circuit("top"), parts.Known{})
	all, err := Find(t.Context(), g)
	if err != nil {
		t.Fatal(err)
	}
	for _, gr := range all {
		c := gr.Pattern.Circuit
		if len(gr.Parts) != len(c.Devices) || len(gr.Nets) != len(c.Nets) {
			t.Fatalf("%s: %d parts for %d devices, %d nets for %d", gr.Pattern.Name, len(gr.Parts), len(c.Devices), len(gr.Nets), len(c.Nets))
		}
		for i, q := range gr.Parts {
			p, dev := g.Parts[q], c.Devices[i]
			on := func(t int) int32 { return gr.Nets[dev.Terminals[t]] }
			same := p.Nets[0] == on(netlist.Drain) && p.Nets[2] == on(netlist.Source) || p.Nets[2] == on(netlist.Drain) && p.Nets[0] == on(netlist.Source)
			if !same || p.Nets[1] != on(netlist.Gate) || (p.Kind == parts.N) != (dev.Kind == netlist.NMOS) {
				t.Errorf("%s: device %d is not its part", gr.Pattern.Name, i)
			}
		}
	}
	if len(all) < 8 {
		t.Errorf("%d groups", len(all))
	}
}

package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/compare"
)

// change is a kind of single change to a circuit.
type change struct {
	kind string
	// make makes one at random and returns the names that the account of it may give: those of the changed devices and,
	// where their terminals moved, of the nets; nil where it cannot be made at the place the dice chose.
	make func(c *netlist.Circuit, rng *rand.Rand) []string
	// cells says where there is a place for it: 300 cells hold devices, 275 gates on more than one net, 151 transistors
	// in parallel, line by line; counted by a script that knows lines only.
	cells int
}

var changes = []change{
	{"gates swapped", swapGates, 275},
	{"terminal moved", moveTerminal, 300},
	{"turned", turnDevice, 300},
	{"device removed", removeDevice, 300},
	{"device added", addDevice, 300},
	{"device wider", func(c *netlist.Circuit, rng *rand.Rand) []string { return widen(c, rng, false) }, 300},
	{"finger wider", func(c *netlist.Circuit, rng *rand.Rand) []string { return widen(c, rng, true) }, 151},
	{"other kind", otherKind, 300},
}

func swapGates(c *netlist.Circuit, rng *rand.Rand) []string {
	d, e := &c.Devices[rng.IntN(len(c.Devices))], &c.Devices[rng.IntN(len(c.Devices))]
	if !d.Kind.IsMOS() || !e.Kind.IsMOS() || d.Terminals[netlist.Gate] == e.Terminals[netlist.Gate] {
		return nil
	}
	x, y := &d.Terminals[netlist.Gate], &e.Terminals[netlist.Gate]
	*x, *y = *y, *x
	return []string{d.Name, e.Name, c.Nets[*x].Name, c.Nets[*y].Name}
}

// moveTerminal moves a terminal to another net of the circuit, or to a new one.
func moveTerminal(c *netlist.Circuit, rng *rand.Rand) []string {
	d := &c.Devices[rng.IntN(len(c.Devices))]
	n := &d.Terminals[rng.IntN(len(d.Kind.TerminalNames()))]
	old, to := *n, netlist.Net(rng.IntN(len(c.Nets)+1))
	if to == old {
		return nil
	}
	if int(to) == len(c.Nets) {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: "@new"})
	}
	*n = to
	return []string{d.Name, c.Nets[old].Name, c.Nets[to].Name}
}

// turnDevice exchanges two terminals of a device, not source and drain.
func turnDevice(c *netlist.Circuit, rng *rand.Rand) []string {
	d := &c.Devices[rng.IntN(len(c.Devices))]
	k := len(d.Kind.TerminalNames())
	x, y := rng.IntN(k), rng.IntN(k)
	ends := x == netlist.Drain && y == netlist.Source || x == netlist.Source && y == netlist.Drain
	if d.Terminals[x] == d.Terminals[y] || ends && d.Kind.IsMOS() {
		return nil
	}
	d.Terminals[x], d.Terminals[y] = d.Terminals[y], d.Terminals[x]
	return []string{d.Name, c.Nets[d.Terminals[x]].Name, c.Nets[d.Terminals[y]].Name}
}

func removeDevice(c *netlist.Circuit, rng *rand.Rand) []string {
	i := rng.IntN(len(c.Devices))
	name := c.Devices[i].Name
	c.Devices = slices.Delete(c.Devices, i, i+1)
	return []string{name}
}

// addDevice adds a copy of a device, in parallel with it or with one terminal elsewhere.
func addDevice(c *netlist.Circuit, rng *rand.Rand) []string {
	d := c.Devices[rng.IntN(len(c.Devices))]
	t, n := rng.IntN(len(d.Kind.TerminalNames())), netlist.Net(rng.IntN(len(c.Nets)))
	d.Name = fmt.Sprintf("%s_copy_%d_%d", d.Name, t, n)
	d.Terminals[t] = n
	c.Devices = append(c.Devices, d)
	return []string{d.Name}
}

// widen makes a device 5 % wider, or larger, with all that is in parallel; or one of several fingers alone.
func widen(c *netlist.Circuit, rng *rand.Rand, finger bool) []string {
	elems := elements(c)
	of := elems[rng.IntN(len(elems))].devices
	if finger {
		if len(of) < 2 || !c.Devices[of[0]].Kind.IsMOS() {
			return nil
		}
		of = of[rng.IntN(len(of)):][:1]
	}
	var names []string
	for _, i := range of {
		d := &c.Devices[i]
		d.W *= 1.05
		d.Area *= 1.05
		names = append(names, d.Name)
	}
	return names
}

// otherKind makes a device one of the other doping, a transistor in half of the cases with its model kept; the models are
// those of the two libraries.
func otherKind(c *netlist.Circuit, rng *rand.Rand) []string {
	d := &c.Devices[rng.IntN(len(c.Devices))]
	switch d.Kind {
	case netlist.NMOS:
		d.Kind = netlist.PMOS
	case netlist.PMOS:
		d.Kind = netlist.NMOS
	}
	if d.Kind.IsMOS() && rng.IntN(2) == 0 {
		return []string{d.Name}
	}
	old := d.Model
	d.Model = strings.NewReplacer("nfet", "pfet", "pfet", "nfet", "nmos", "pmos", "pmos", "nmos",
		"dantenna", "dpantenna", "dpantenna", "dantenna", "nd2ps", "pd2nw", "pd2nw", "nd2ps").Replace(d.Model)
	if d.Model == old {
		panic("no other model for " + old)
	}
	return []string{d.Name}
}

// netlists calls f for the published netlist of each of the 229 + 84 cells, flat. Names of nets begin with @ and those
// of devices with #, so that no word of a text is taken for one.
func netlists(t testing.TB, f func(c *netlist.Circuit)) {
	root := corpus(t)
	files, err := filepath.Glob(filepath.Join(root, "gf180mcu/*.cdl"))
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range append(files, filepath.Join(root, "ihp-sg13g2/sg13g2_stdcell.cdl")) {
		d := readNetlist(t, file)
		for _, c := range d.Circuits {
			flat, err := netlist.Flatten(d, c)
			if err != nil {
				t.Fatal(err)
			}
			for i := range flat.Nets {
				flat.Nets[i].Name = "@" + flat.Nets[i].Name
			}
			for i := range flat.Devices {
				flat.Devices[i].Name = "#" + flat.Devices[i].Name
			}
			f(flat)
		}
	}
}

// tally counts what became of the changes of one kind.
type tally struct {
	cells                                        int // where at least one change could be made and judged
	made, brute, invariant, isomorphic, unproved int
	named, device                                int // of those that differ: accounts that name the place; the device itself
}

// TestCorpusSeesChanges makes single changes to every published netlist and compares the netlist with what became of it:
// not the same, but where the change gave an isomorphic circuit. Which it is, a complete search tells in circuits of up
// to 8 elements; in others only changes count that an invariant proves not isomorphic. The account must name what was
// changed in its first three lines, in nine of ten cases (a demand of our own). Two places for each cell and kind of
// change, 40 with UNDERMETAL_FULL set.
func TestCorpusSeesChanges(t *testing.T) {
	t.Parallel()
	places := 2
	if os.Getenv("UNDERMETAL_FULL") != "" {
		places = 40
	}
	cells, empty := 0, 0
	tallies := make([]tally, len(changes))
	netlists(t, func(c *netlist.Circuit) {
		cells++
		if len(c.Devices) == 0 {
			empty++
			return
		}
		cell := original{c, elements(c), invariant(elements(c))}
		rng := rand.New(rand.NewPCG(7, uint64(cells)))
		for k, ch := range changes {
			before, seen := tallies[k].made, map[string]bool{}
			for try, left := 0, places; try < 30*places && left > 0; try++ {
				changed := cloneCircuit(c)
				names := ch.make(changed, rng)
				if key := strings.Join(names, " "); names != nil && !seen[key] {
					seen[key] = true
					if judge(t, &tallies[k], ch.kind, cell, changed, names) {
						left--
					}
				}
			}
			if tallies[k].made > before {
				tallies[k].cells++
			}
		}
	})
	if cells != 229+84 || empty != 13 { // counted in the files: no line that begins with M or D
		t.Errorf("%d cells, %d without a device; the corpus has 313 and 13", cells, empty)
	}
	reported(t, tallies)
}

func cloneCircuit(c *netlist.Circuit) *netlist.Circuit {
	s := *c
	s.Nets, s.Devices = slices.Clone(c.Nets), slices.Clone(c.Devices)
	return &s
}

// original is a published netlist with what is needed of it to judge changes.
type original struct {
	c         *netlist.Circuit
	elements  []element
	invariant string
}

// judge compares a circuit with a changed one, in either order, if it can be known what must come out.
func judge(t *testing.T, n *tally, kind string, cell original, changed *netlist.Circuit, names []string) bool {
	elems := elements(changed)
	same := false
	switch {
	case len(cell.elements) <= mostElements && len(elems) <= mostElements:
		if same = isomorphic(cell.elements, elems); !same {
			n.brute++
			break
		}
		n.isomorphic++
		if cell.invariant != invariant(elems) {
			t.Errorf("%s, %s %v: isomorphic, but the invariant differs", cell.c.Name, kind, names)
		}
	case cell.invariant != invariant(elems):
		n.invariant++
	default:
		n.unproved++
		return false
	}
	a, b := cell.c, changed
	if n.made++; n.made%2 == 0 {
		a, b = b, a
	}
	res, err := compare.Compare(context.Background(), a, b, compare.DefaultOptions())
	if err != nil || res.Same != same {
		t.Errorf("%s, %s %v: same is %v, should be %v (%v)", cell.c.Name, kind, names, err == nil && res.Same, same, err)
		return true
	}
	if same {
		return true
	}
	if namesOneOf(res, names, "#") {
		n.device++
	}
	if namesOneOf(res, names, "") {
		n.named++
	} else if testing.Verbose() {
		t.Logf("%s, %s %v: not named: %s", cell.c.Name, kind, names, firstLines(res))
	}
	return true
}

// namesOneOf reports whether one of names, of those that begin with prefix, is a word of the first three lines.
func namesOneOf(res *compare.Result, names []string, prefix string) bool {
	words := strings.FieldsFunc(firstLines(res), func(r rune) bool { return strings.ContainsRune(" ,:+()|", r) })
	return slices.ContainsFunc(names, func(name string) bool {
		return strings.HasPrefix(name, prefix) && slices.Contains(words, name)
	})
}

func firstLines(res *compare.Result) string {
	var lines []string
	for _, d := range res.Differences[:min(3, len(res.Differences))] {
		lines = append(lines, d.Text)
	}
	return strings.Join(lines, " | ")
}

func reported(t *testing.T, tallies []tally) {
	var sum tally
	for k, n := range tallies {
		t.Logf("%-14s %5d changes in %d cells: %d proved by search, %d by the invariant, %d isomorphic; %d left out; named %d, the device %d",
			changes[k].kind, n.made, n.cells, n.brute, n.invariant, n.isomorphic, n.unproved, n.named, n.device)
		sum.made += n.made
		sum.isomorphic += n.isomorphic
		sum.named += n.named
		sum.device += n.device
		if n.cells != changes[k].cells {
			t.Errorf("%s: in %d cells, there is a place in %d", changes[k].kind, n.cells, changes[k].cells)
		}
	}
	differ := sum.made - sum.isomorphic
	t.Logf("named in the first three lines: %d of %d, %.2f %%; the device itself: %d", sum.named, differ,
		100*float64(sum.named)/float64(differ), sum.device)
	if sum.named*10 < differ*9 {
		t.Errorf("the account names the place in its first three lines in %d of %d cases only", sum.named, differ)
	}
}

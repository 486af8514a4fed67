package schematic_test

import (
	"bytes"
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/schematic"
)

// build makes a circuit of lines "name kind terminals…", as nets by name.
func build(t testing.TB, name string, ports []string, lines ...[]string) *netlist.Circuit {
	t.Helper()
	c := &netlist.Circuit{Name: name}
	nets := map[string]netlist.Net{}
	net := func(s string) netlist.Net {
		n, ok := nets[s]
		if !ok {
			n = netlist.Net(len(c.Nets))
			nets[s] = n
			c.Nets = append(c.Nets, netlist.NetInfo{Name: s})
		}
		return n
	}
	for _, p := range ports {
		c.Ports = append(c.Ports, net(p))
	}
	kinds := map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS, "r": netlist.Resistor, "c": netlist.Capacitor, "d": netlist.Diode, "i": netlist.CurrentSource}
	for _, l := range lines {
		d := netlist.Device{Name: l[0], Kind: kinds[l[1]], Value: math.NaN()}
		for i := range d.Terminals {
			d.Terminals[i] = netlist.NoNet
		}
		for i, s := range l[2:] {
			d.Terminals[i] = net(s)
		}
		if d.Kind.IsMOS() {
			d.W, d.L = 2000, 500
		}
		c.Devices = append(c.Devices, d)
	}
	return c
}

func pixel(t testing.TB) *netlist.Circuit {
	return build(t, "pixel", []string{"VDD", "RST", "ROW", "COL", "VSS"}, []string{"M1", "n", "VDD", "RST", "pd", "VSS"}, []string{"M2", "n", "VDD", "pd", "x", "VSS"},
		[]string{"M3", "n", "x", "ROW", "COL", "VSS"}, []string{"D1", "d", "VSS", "pd"})
}

func samples(t testing.TB) []*netlist.Circuit {
	return []*netlist.Circuit{
		pixel(t),
		build(t, "inverter", []string{"VDD", "A", "Y", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "VDD"}, []string{"M2", "n", "Y", "A", "VSS", "VSS"}),
		build(t, "mirror", []string{"VDD", "IN", "OUT", "VSS"}, []string{"M1", "n", "IN", "IN", "VSS", "VSS"}, []string{"M2", "n", "OUT", "IN", "VSS", "VSS"}),
		build(t, "nand2", []string{"VDD", "A", "B", "Y", "VSS"}, []string{"M1", "p", "Y", "A", "VDD", "VDD"}, []string{"M2", "p", "Y", "B", "VDD", "VDD"},
			[]string{"M3", "n", "Y", "A", "m", "VSS"}, []string{"M4", "n", "m", "B", "VSS", "VSS"}),
		build(t, "aoi21", []string{"VDD", "A", "B", "C", "Y", "VSS"}, []string{"M1", "p", "q", "A", "VDD", "VDD"}, []string{"M2", "p", "q", "B", "VDD", "VDD"}, []string{"M5", "p", "Y", "C", "q", "VDD"},
			[]string{"M3", "n", "Y", "A", "m", "VSS"}, []string{"M4", "n", "m", "B", "VSS", "VSS"}, []string{"M6", "n", "Y", "C", "VSS", "VSS"}),
		build(t, "twostage", []string{"VDD", "INP", "INN", "BIAS", "OUT", "VSS"}, []string{"M1", "n", "a", "INN", "tail", "VSS"}, []string{"M2", "n", "b", "INP", "tail", "VSS"},
			[]string{"M3", "p", "a", "a", "VDD", "VDD"}, []string{"M4", "p", "b", "a", "VDD", "VDD"}, []string{"M5", "n", "tail", "BIAS", "VSS", "VSS"},
			[]string{"M6", "p", "OUT", "b", "VDD", "VDD"}, []string{"M7", "n", "OUT", "BIAS", "VSS", "VSS"}, []string{"CC", "c", "b", "OUT"}),
		build(t, "sram6t", []string{"VDD", "WL", "BL", "BLB", "VSS"}, []string{"M1", "p", "q", "qb", "VDD", "VDD"}, []string{"M2", "n", "q", "qb", "VSS", "VSS"}, []string{"M3", "p", "qb", "q", "VDD", "VDD"},
			[]string{"M4", "n", "qb", "q", "VSS", "VSS"}, []string{"M5", "n", "BL", "WL", "q", "VSS"}, []string{"M6", "n", "BLB", "WL", "qb", "VSS"}),
		build(t, "latch", []string{"VDD", "D", "CK", "CKB", "Q", "VSS"}, []string{"M1", "p", "a", "D", "VDD", "VDD"}, []string{"M2", "n", "a", "D", "VSS", "VSS"},
			[]string{"M3", "n", "a", "CK", "b", "VSS"}, []string{"M4", "p", "a", "CKB", "b", "VDD"}, []string{"M5", "p", "Q", "b", "VDD", "VDD"}, []string{"M6", "n", "Q", "b", "VSS", "VSS"},
			[]string{"M7", "p", "c", "Q", "VDD", "VDD"}, []string{"M8", "n", "c", "Q", "VSS", "VSS"}, []string{"M9", "n", "c", "CKB", "b", "VSS"}, []string{"M10", "p", "c", "CK", "b", "VDD"}),
		build(t, "pixel4t", []string{"VDD", "RST", "TX", "ROW", "COL", "VSS"}, []string{"M1", "n", "VDD", "RST", "fd", "VSS"}, []string{"M2", "n", "fd", "TX", "pd", "VSS"},
			[]string{"M3", "n", "VDD", "fd", "x", "VSS"}, []string{"M4", "n", "x", "ROW", "COL", "VSS"}, []string{"D1", "d", "VSS", "pd"}),
		build(t, "pump", []string{"VDD", "UP", "DN", "OUT", "VSS"}, []string{"I1", "i", "VDD", "a"}, []string{"M1", "p", "OUT", "UP", "a", "VDD"},
			[]string{"M2", "n", "OUT", "DN", "b", "VSS"}, []string{"I2", "i", "b", "VSS"}, []string{"C1", "c", "OUT", "VSS"}),
		build(t, "dickson", []string{"VDD", "CK", "CKB", "OUT", "VSS"}, []string{"M1", "n", "VDD", "VDD", "a", "VSS"}, []string{"M2", "n", "a", "a", "b", "VSS"},
			[]string{"M3", "n", "b", "b", "OUT", "VSS"}, []string{"C1", "c", "a", "CK"}, []string{"C2", "c", "b", "CKB"}, []string{"C3", "c", "OUT", "VSS"}),
		build(t, "pair", []string{"VDD", "INP", "INN", "BIAS", "OUTP", "OUTN", "VSS"}, []string{"M1", "n", "OUTN", "INP", "tail", "VSS"}, []string{"M2", "n", "OUTP", "INN", "tail", "VSS"},
			[]string{"M3", "n", "tail", "BIAS", "VSS", "VSS"}, []string{"R1", "r", "VDD", "OUTN"}, []string{"R2", "r", "VDD", "OUTP"}),
		build(t, "cascode", []string{"IREF", "OUT", "VSS"}, []string{"M1", "n", "IREF", "IREF", "a", "VSS"}, []string{"M2", "n", "OUT", "IREF", "b", "VSS"},
			[]string{"M3", "n", "a", "a", "VSS", "VSS"}, []string{"M4", "n", "b", "a", "VSS", "VSS"}),
		build(t, "ring", []string{"VDD", "OUT", "VSS"}, []string{"M1", "p", "a", "OUT", "VDD", "VDD"}, []string{"M2", "n", "a", "OUT", "VSS", "VSS"}, []string{"M3", "p", "b", "a", "VDD", "VDD"},
			[]string{"M4", "n", "b", "a", "VSS", "VSS"}, []string{"M5", "p", "OUT", "b", "VDD", "VDD"}, []string{"M6", "n", "OUT", "b", "VSS", "VSS"}),
	}
}

// mirrored returns a circuit with n and p, supplies and grounds exchanged.
func mirrored(c *netlist.Circuit) *netlist.Circuit {
	out := &netlist.Circuit{Name: c.Name + "_p", Ports: c.Ports, Nets: slices.Clone(c.Nets), Devices: slices.Clone(c.Devices)}
	for i := range out.Nets {
		out.Nets[i].Name = map[string]string{"VDD": "VSS", "VSS": "VDD"}[c.Nets[i].Name]
		if out.Nets[i].Name == "" {
			out.Nets[i].Name = c.Nets[i].Name
		}
	}
	for i := range out.Devices {
		d := &out.Devices[i]
		switch d.Kind {
		case netlist.NMOS:
			d.Kind = netlist.PMOS
		case netlist.PMOS:
			d.Kind = netlist.NMOS
		case netlist.Diode:
			d.Terminals[0], d.Terminals[1] = d.Terminals[1], d.Terminals[0]
		}
	}
	return out
}

// soup returns devices of all kinds between random nets: no sensible circuit.
func soup(seed uint64) *netlist.Circuit {
	rng := rand.New(rand.NewPCG(seed, 77))
	c := &netlist.Circuit{Name: "soup"}
	for i := range 4 + rng.IntN(20) {
		n := netlist.NetInfo{At: geom.Point{X: i}}
		switch rng.IntN(3) {
		case 0:
			n.Name = fmt.Sprint("net", i)
		case 1:
			n.Name = []string{"VDD", "VSS", "GND", "VDD", "a name that is quite long", "<&>\"'"}[rng.IntN(6)]
		}
		c.Nets = append(c.Nets, n)
		if rng.IntN(3) == 0 {
			c.Ports = append(c.Ports, netlist.Net(i))
		}
	}
	for i := range 1 + rng.IntN(40) {
		d := netlist.Device{Kind: netlist.Kind(1 + rng.IntN(int(netlist.CurrentSource))), Terminals: [4]netlist.Net{-1, -1, -1, -1}, Value: float64(i + 1)}
		for t := range d.Kind.TerminalNames() {
			d.Terminals[t] = netlist.Net(rng.IntN(len(c.Nets)))
		}
		if d.Kind.IsMOS() {
			d.W, d.L = float64(500+rng.IntN(9000)), 500
		}
		c.Devices = append(c.Devices, d)
	}
	return c
}

// check draws a circuit, and wants a drawing without faults that reads as the same circuit.
func check(t *testing.T, c *netlist.Circuit, opt schematic.Options) *schematic.Drawing {
	t.Helper()
	d, err := schematic.Draw(context.Background(), c, opt)
	if err != nil {
		t.Fatalf("%s: %v", c.Name, err)
	}
	for i, f := range d.Faults() {
		if i < 3 {
			t.Errorf("%s: %s", c.Name, f)
		}
	}
	if text := differs(t, c, d); text != "" {
		t.Errorf("%s: the drawing is another circuit: %s", c.Name, text)
	}
	keep(t, c.Name, d)
	return d
}

// differs says how a drawing differs from its circuit; empty where it does not, its names included.
func differs(t *testing.T, c *netlist.Circuit, d *schematic.Drawing) string {
	t.Helper()
	if text := differsFrom(t, c, d.Read(c)); text != "" {
		return text
	}
	return wrongName(c, d)
}

func differsFrom(t *testing.T, c, read *netlist.Circuit) string {
	t.Helper()
	res, err := compare.Compare(context.Background(), c, read, compare.Options{ToleranceNm: 1, BulkByName: true})
	if err != nil {
		t.Fatalf("%s: %v", c.Name, err)
	}
	if res.Same {
		return ""
	}
	for _, x := range res.Differences {
		return x.Text
	}
	return "without an account"
}

// wrongName tells of a name that stands on another net than that which has it; names of nets without one are not looked at.
func wrongName(c *netlist.Circuit, d *schematic.Drawing) string {
	owner := map[string]netlist.Net{}
	for i, n := range c.Nets {
		if _, twice := owner[n.Name]; n.Name != "" && !twice {
			owner[n.Name] = netlist.Net(i)
		}
	}
	pins, names := d.Joined()
	for si, s := range d.Sheets {
		for i := range s.Symbols {
			y := &s.Symbols[i]
			if y.Device < 0 {
				continue
			}
			for j, q := range y.Pins {
				t := slices.Index(y.Kind.TerminalNames(), q.Terminal)
				for name, n := range owner {
					if number, drawn := names[name]; drawn && (number == pins[si][i][j]) != (c.Devices[y.Device].Terminals[t] == n) {
						return fmt.Sprintf("the name %q stands on another net", name)
					}
				}
			}
		}
	}
	return ""
}

// keep writes the sheets to the folder that UNDERMETAL_PICTURES names, to be looked at.
func keep(t *testing.T, name string, d *schematic.Drawing) {
	dir := os.Getenv("UNDERMETAL_PICTURES")
	if dir == "" {
		return
	}
	for i := range d.Sheets {
		var b bytes.Buffer
		if err := d.WriteSVG(&b, i); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.svg", name, i+1)), b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// TestTextbook: the circuits of textbooks, with n and p as usual and exchanged.
func TestTextbook(t *testing.T) {
	t.Parallel()
	for _, c := range samples(t) {
		check(t, c, schematic.Options{Title: c.Name})
		check(t, mirrored(c), schematic.Options{Title: c.Name})
	}
}

// TestRandom: gates that drive each other, on one sheet and on many, and devices of all kinds between random nets.
func TestRandom(t *testing.T) {
	t.Parallel()
	n := 3
	if os.Getenv("UNDERMETAL_FULL") != "" {
		n = 200
	}
	for seed := range uint64(n) {
		c := gates(int(5+seed%9*15), seed)
		check(t, c, schematic.Options{PerSheet: int(10 + seed%4*20)})
		check(t, soup(seed), schematic.Options{PerSheet: 16})
	}
}

// TestSame: a circuit has one drawing.
func TestSame(t *testing.T) {
	write := func() []byte {
		d, err := schematic.Draw(context.Background(), gates(100, 3), schematic.Options{Title: "twice"})
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		for i := range d.Sheets {
			if err := errors.Join(d.WriteSVG(&b, i), d.WriteText(&b, i)); err != nil {
				t.Fatal(err)
			}
		}
		return b.Bytes()
	}
	if !bytes.Equal(write(), write()) {
		t.Error("two drawings of one circuit differ")
	}
}

// TestSVG: names that are markup stay text; each device is there once, with its id and place.
func TestSVG(t *testing.T) {
	c := build(t, "<script>", []string{"A"}, []string{"M<1>", "n", "<b>\"'&", "A", "VSS", "VSS"}, []string{"R&", "r", "A", "<b>\"'&"})
	d := check(t, c, schematic.Options{Title: "<script>alert(1)</script>", InnerNames: true, Describe: func(i int) (string, string) {
		return fmt.Sprint("id", i), "at <1, 2> µm"
	}})
	var b bytes.Buffer
	if err := d.WriteSVG(&b, 0); err != nil {
		t.Fatal(err)
	}
	ids := map[string]int{}
	var texts strings.Builder
	dec := xml.NewDecoder(&b)
	for {
		tok, err := dec.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			if tok.Name.Local == "script" || tok.Name.Local == "b" {
				t.Errorf("element %s", tok.Name.Local)
			}
			for _, a := range tok.Attr {
				if a.Name.Local == "data-device" {
					ids[a.Value]++
				}
			}
		case xml.CharData:
			texts.Write(tok)
		}
	}
	if len(ids) != 2 || ids["id0"] != 1 || ids["id1"] != 1 {
		t.Errorf("ids %v", ids)
	}
	for _, s := range []string{"M<1>", "R&", "<b>\"'&", "<script>alert(1)</script>", "id0 at <1, 2> µm", "2/0.5"} {
		if !strings.Contains(texts.String(), s) {
			t.Errorf("no text %q", s)
		}
	}
}

// TestFaultsAreSeen: what is spoilt in a drawing is found, by Faults or by reading it.
func TestFaultsAreSeen(t *testing.T) {
	c := samples(t)[5] // of two stages
	for name, spoil := range map[string]func(s *schematic.Sheet){
		"the last wire gone":   func(s *schematic.Sheet) { s.Wires = s.Wires[:len(s.Wires)-1] },
		"a wire less":          func(s *schematic.Sheet) { s.Wires = s.Wires[1:] },
		"a text on a symbol":   func(s *schematic.Sheet) { s.Symbols[0].Text[0].Room = s.Symbols[1].Body },
		"a symbol on another":  func(s *schematic.Sheet) { s.Symbols[0].Body = s.Symbols[1].Body },
		"a wire over symbols":  func(s *schematic.Sheet) { s.Wires = append(s.Wires, across(s, 0)) },
		"a name on another":    func(s *schematic.Sheet) { s.Flags[0].Room = s.Flags[1].Room },
		"another name":         func(s *schematic.Sheet) { s.Flags = rename(s.Flags) },
		"a pin somewhere else": func(s *schematic.Sheet) { s.Symbols[3].Pins[0].At = s.Symbols[4].Pins[0].At },
	} {
		d, err := schematic.Draw(context.Background(), c, schematic.Options{})
		if err != nil {
			t.Fatal(err)
		}
		spoil(d.Sheets[0])
		if len(d.Faults()) == 0 && differs(t, c, d) == "" {
			t.Errorf("%s: not found", name)
		}
	}
}

// across is a wire from one symbol's middle to the next one's.
func across(s *schematic.Sheet, i int) schematic.Wire {
	a, b := s.Symbols[i].At, s.Symbols[i+1].At
	return schematic.Wire{Net: s.Wires[0].Net, Points: []schematic.Point{a, {X: b.X, Y: a.Y}, b}}
}

// rename gives the first two names that are not the same each other's text.
func rename(flags []schematic.Flag) []schematic.Flag {
	for i := range flags {
		for j := range i {
			if a, b := &flags[i], &flags[j]; a.Text != "" && b.Text != "" && a.Text != b.Text {
				a.Text, b.Text = b.Text, a.Text
				return flags
			}
		}
	}
	return flags
}

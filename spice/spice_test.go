package spice

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"undermetal/netlist"
)

// TestNumbers: the table of section 12 of the project's references, each row run in ngspice-39.
func TestNumbers(t *testing.T) {
	for text, want := range map[string]float64{
		"1t": 1e12, "1T": 1e12, "1k": 1e3, "1K": 1e3, "1kohm": 1e3, "1g": 1e9, "1meg": 1e6, "1MEG": 1e6, "1megohm": 1e6,
		"1m": 1e-3, "1M": 1e-3, "1MF": 1e-3, "1mm": 1e-3, "1mil": 25.4e-6, "1MIL": 25.4e-6, "1mils": 25.4e-6,
		"1u": 1e-6, "1uF": 1e-6, "1µ": 1e-6, "1n": 1e-9, "1p": 1e-12, "1f": 1e-15, "1F": 1e-15, "1farad": 1e-15,
		"10V": 10, "10Volts": 10, "1Hz": 1, "1a": 1, "1x": 1, "1_000": 1, "1e3k": 1e6, "1e-3meg": 1e3, "1d3": 1e3,
		".5": 0.5, "5.": 5, "+5": 5, "4k7": 4000, "0x10": 0, "1.2.3": 1.2, "1e": 1,
	} {
		got, err := parseNumber(text)
		if err != nil || math.Abs(got/want-1) > 1e-15 && got != want {
			t.Errorf("%s = %v (%v), want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "k", ".", "-", "abc"} {
		if v, err := parseNumber(text); err == nil {
			t.Errorf("%q is read as %v", text, v)
		}
	}
}

func read(t *testing.T, text string) *netlist.Design {
	t.Helper()
	d, err := Read("deck.sp", strings.NewReader(text), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// TestSyntax: the rules of section 12 (seen in ngspice-39) and the dialect of the published netlists.
func TestSyntax(t *testing.T) {
	d := read(t, `M1 this is the title, even if it looks like an element
.SUBCKT inv A<3> Y vdd! vss
* a comment
MN Y A<3> vss vss sg13_lv_nmos m=1 w=640.00n

   + l = 130.00n ng=1 ; a remark
mp Y A<3> vdd! vdd! fast_p w=1.48u l=0.13u $ another
+ ng=2
d0 vss A<3> dio 0.2052p 1.86u $m=1
DD1 vss Y dio m=2 w=780n l=780n a=608.4f p=3.12u // a third
.ENDS
.model fast_p pmos (level=1)
X1 in out vdd 0 / inv
X2 out gnd vdd 0 inv
.end
whatever follows .end is not read
`)
	if len(d.Circuits) != 2 {
		t.Fatalf("%d circuits, want 2", len(d.Circuits))
	}
	c := d.Circuit("inv")
	if len(c.Ports) != 4 || len(c.Devices) != 4 || len(c.Nets) != 4 {
		t.Fatalf("%d ports, %d devices, %d nets; want 4 each", len(c.Ports), len(c.Devices), len(c.Nets))
	}
	n, p, d0, d1 := c.Devices[0], c.Devices[1], c.Devices[2], c.Devices[3]
	if n.Kind != netlist.NMOS || n.W != 640 || n.L != 130 || n.Fingers > 1 {
		t.Errorf("MN: %+v", n)
	}
	if p.Kind != netlist.PMOS || p.W != 1480 || p.L != 130 || p.Fingers != 2 {
		t.Errorf("mp: %+v", p)
	}
	if d0.Area != 205200 || d0.Perim != 1860 || d1.Area != 2*608400 || d1.Perim != 2*3120 {
		t.Errorf("diodes: %+v %+v", d0, d1)
	}
	top := d.Circuit("deck")
	flat, err := netlist.Flatten(d, top)
	if err != nil {
		t.Fatal(err)
	}
	if len(flat.Devices) != 8 || len(flat.Nets) != 4 || flat.Devices[4].Name != "X2/MN" {
		t.Errorf("flat: %d devices, %d nets, %q; gnd is node 0", len(flat.Devices), len(flat.Nets), flat.Devices[4].Name)
	}
}

func TestShorts(t *testing.T) {
	d := read(t, `* two names for one net
.subckt tie A B
R0 B A lvsres w=2.6e-07 l=6e-07
.ends
.subckt top P Q
X1 P x tie
X2 x Q tie
M1 P x Q Q nfet w=1u l=1u
.ends
`)
	flat, err := netlist.Flatten(d, d.Circuit("top"))
	if err != nil {
		t.Fatal(err)
	}
	if len(flat.Devices) != 1 || len(flat.Nets) != 1 || flat.Devices[0].Terminals != [4]netlist.Net{} || flat.Ports[0] != flat.Ports[1] {
		t.Errorf("P, x and Q must be one net: %+v", flat)
	}
}

func TestMessages(t *testing.T) {
	for text, want := range map[string]string{
		"*\nM1 a b c\n":                        "deck.sp:2: element M1: a transistor has four nodes and a model\n    M1 d g s b model W=… L=…",
		"*\nM1 a b c d m w=x\n":                "deck.sp:2: element M1: w: \"x\" is no number",
		"*\nM1 a b c d m w=640\n":              "deck.sp:2: element M1: w = 640 is no size of a device\n    lengths are in metres",
		"*\nR1 a\n":                            "deck.sp:2: element R1 has two nodes",
		"*\nR1 a b\n":                          "deck.sp:2: element R1 has neither a value nor a model",
		"*\nZ1 a b\n":                          "deck.sp:2: element Z1: no device begins with Z here\n    elements that are read: M, D, R, C, L, V, I, X",
		"*\nR1 a b 1\n\nr1 a b 2\n":            "deck.sp:4: element r1 is there already, on line 2",
		"*\nX1 a nothing\n":                    "deck.sp:2: X1 uses subcircuit nothing, which the file does not define\n    add its .subckt",
		"*\n.subckt a x\nX1 x a\n.ends\n":      "deck.sp:2: subcircuit a contains itself: a → a",
		"*\n.subckt a x\n":                     "deck.sp:2: subcircuit a has no .ends",
		"*\n.subckt a x\n.ends\nX1 p q a\n":    "deck.sp:4: X1 gives 2 nets to subcircuit a, which has 1 ports",
		"*\n.subckt a x\n.ends\n.subckt A y\n": "deck.sp:4: subcircuit A is there already, on line 2",
		"*\n.global VDD\n":                     "deck.sp:2: .global is not read here\n    give the net to each subcircuit as a port",
		"*\n.option scale=1u\n":                "deck.sp:2: .option scale=1u is not read here",
		"*\n.include /etc/passwd\n":            "deck.sp:2: .include is refused: a netlist opens no other file",
		"*\n.control\nshell rm\n.endc\n":       "deck.sp:2: a .control section is refused: a netlist runs no commands",
		"*\nM1 a b c d x m=0.5\n":              "deck.sp:2: element M1: m = 0.5 must be a whole number from 1 up",
	} {
		_, err := Read("deck.sp", strings.NewReader(text), ReadOptions{})
		if err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q:\ngot  %v\nwant %s", text, err, want)
		}
	}
}

// TestNames: what cannot stand in a netlist is replaced, and names stay distinct when case is ignored.
func TestNames(t *testing.T) {
	c := &netlist.Circuit{}
	for _, n := range []string{"A<3>", "a<3>", "net[3]", "a/b", "vdd!", "x\n.control", "0", "GND", "gnd", "", "n1", "a b", "a,b", "$x", "VSS"} {
		c.Nets = append(c.Nets, netlist.NetInfo{Name: n})
	}
	got, err := NetNames(c, "VSS")
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"A<3>", "a<3>_2", "net[3]", "a/b", "vdd!", "x_.control", "0_", "GND_", "gnd__2", "n2", "n1", "a_b", "a_b_2", "_x", "0"}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	if _, err := NetNames(c, "nowhere"); err == nil {
		t.Error("a ground that is no net is accepted")
	}
}

// again writes a design and reads it back.
func again(d *netlist.Design) (*netlist.Design, error) {
	var b bytes.Buffer
	if err := Write(&b, d, WriteOptions{Models: true, Places: true}); err != nil {
		return nil, err
	}
	return Read("again.sp", &b, ReadOptions{Polarity: func(string) netlist.Kind { return netlist.MOS }})
}

// shape is what of a circuit must survive writing and reading.
func shape(d *netlist.Design) []string {
	var out []string
	for _, c := range d.Circuits {
		for _, p := range c.Ports {
			out = append(out, "port", c.Nets[p].Name)
		}
		for _, x := range c.Devices {
			for i, n := range x.Terminals {
				if i < len(x.Kind.TerminalNames()) {
					out = append(out, c.Nets[n].Name)
				}
			}
			out = append(out, x.Kind.String(), fmt.Sprintf("%.12g %.12g %.12g %.12g %.12g", x.W, x.L, x.AS, x.Area, x.Perim))
		}
		for _, in := range c.Instances {
			for _, n := range in.Nets {
				out = append(out, c.Nets[n].Name)
			}
		}
	}
	return out
}

// FuzzRead: nothing crashes the reader, and what it reads can be written, read again and written the same.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"t\n.subckt a x y\nM1 x y x x nfet w=1u l=0.5u as=1p\n.ends\nX1 p q a\nX2 q p / a\n",
		"*\nD1 a 0 dio 1p 2u $m=1\nR1 a b 1k\nC1 a b 1p\nV1 a 0\n.model dio d\n",
		"*\n.subckt s A B\nR0 A B lvsres\n.ends\nX1 a b s\n", "*\nM1 a b c d m {w} w={1u} l='2u'\n+ ng=3\n", "\x00\xff\n+\n+ +\n", ".end",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read("fuzz.sp", bytes.NewReader(data), ReadOptions{})
		if err != nil {
			return
		}
		for _, c := range d.Circuits {
			seen := map[netlist.Net]bool{}
			for _, p := range c.Ports {
				if seen[p] {
					return // two ports on one net cannot be written
				}
				seen[p] = true
			}
		}
		one, err := again(d)
		if err != nil {
			t.Fatalf("what was read cannot be written and read: %v", err)
		}
		two, err := again(one)
		if err != nil {
			t.Fatal(err)
		}
		if a, b := shape(one), shape(two); !reflect.DeepEqual(a, b) {
			t.Errorf("read again it is another design:\n%q\n%q", a, b)
		}
	})
}

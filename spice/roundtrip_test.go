package spice

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"undermetal/netlist"
	"undermetal/spice/simulate/simulatetest"
)

// describeDesign says what of a design must survive writing and reading: circuits, ports, devices and instances with
// their nets, but no names; nets and models are numbered as they first occur. Sizes to 0.001 nm.
func describeDesign(d *netlist.Design) string {
	var s strings.Builder
	index := map[*netlist.Circuit]int{}
	models := map[string]int{}
	number := func(m map[string]int, key string) int {
		if _, ok := m[key]; !ok {
			m[key] = len(m)
		}
		return m[key]
	}
	for i, c := range d.Circuits {
		index[c] = i
		nets := map[string]int{}
		net := func(n netlist.Net) {
			if n == netlist.NoNet {
				s.WriteString(" -")
			} else if info := c.Nets[n]; info.Global && info.Name == "0" {
				s.WriteString(" 0")
			} else if info.Global {
				fmt.Fprintf(&s, " global%d", number(models, "global "+folded(info.Name)))
			} else {
				fmt.Fprintf(&s, " n%d", number(nets, fmt.Sprint(n)))
			}
		}
		fmt.Fprintf(&s, "circuit %d:", i)
		for _, p := range c.Ports {
			net(p)
		}
		s.WriteByte('\n')
		for k := range c.Devices {
			x := &c.Devices[k]
			kind := x.Kind
			model := x.Model
			if kind == netlist.MOS && folded(model) == UnknownMOS {
				model = ""
			}
			if kind == netlist.MOS && model != "" {
				kind = netlist.NMOS // so says the placeholder card
			}
			s.WriteString(kind.String())
			for _, n := range x.Terminals {
				net(n)
			}
			switch {
			case model == "" && modelTypes[x.Kind].unnamed == "":
				s.WriteString(" -")
			case model == "":
				fmt.Fprintf(&s, " m%d", number(models, x.Kind.String()+" "+modelTypes[x.Kind].unnamed))
			default:
				fmt.Fprintf(&s, " m%d", number(models, x.Kind.String()+" "+folded(model)))
			}
			for _, v := range []float64{x.W, x.L, x.PS, x.PD, x.Perim, x.AS, x.AD, x.Area} {
				fmt.Fprintf(&s, " %.3f", v)
			}
			fmt.Fprintf(&s, " %v\n", x.Value)
		}
		for _, in := range c.Instances {
			fmt.Fprintf(&s, "instance of %d", index[in.Of])
			for _, n := range in.Nets {
				net(n)
			}
			s.WriteByte('\n')
		}
	}
	return s.String()
}

// nastyName draws names that a stranger's file may hold.
var nastyName = rapid.OneOf(
	rapid.SampledFrom([]string{"", "", "0", "gnd", "GND", "null", "A<3>", "a<3>", "net[3]", "a/b", "n#1", "vdd!", "VDD!", "a b", "a_b", "x\n.control\nshell rm -rf /\n.endc", "µm", "$x",
		"n1", "n2", ".end", "*", "+1", "params:", "nfet", "{1}", "'", "\"", "a=b", "a;b", "a//b", "/", "1k", "m1", "M1", "X1", "\x00\x1b[2J", "a\\", "\u2028.end", "`x`", "off", "lvsres",
		"temper", "a/temper", "save", "time", "hertz", "thermal", "tnodeout", "2u", "1e3", "2n2222", "@x", "^", "a-b", "_", "__", "a_2", "A_2", "0_", "mos_unknown", "nmos_unnamed", "gnd_"}),
	rapid.StringN(0, 6, 20),
)

// anyDesign draws hierarchical designs; every circuit but the last may or may not be used.
var anyDesign = rapid.Custom(func(t *rapid.T) *netlist.Design {
	d := &netlist.Design{}
	for i := range rapid.IntRange(1, 4).Draw(t, "circuits") {
		c := &netlist.Circuit{Name: nastyName.Draw(t, "circuit name")}
		n := rapid.IntRange(1, 6).Draw(t, "nets")
		for range n {
			c.Nets = append(c.Nets, netlist.NetInfo{Name: nastyName.Draw(t, "net name")})
		}
		for k, name := range []string{"0", "vdd!"} {
			if k < n && rapid.IntRange(0, 3).Draw(t, "global") == 0 {
				c.Nets[k] = netlist.NetInfo{Name: name, Global: true}
			}
		}
		net := rapid.Custom(func(t *rapid.T) netlist.Net { return netlist.Net(rapid.IntRange(0, n-1).Draw(t, "net")) })
		c.Ports = rapid.SliceOfN(net, 0, 5).Draw(t, "ports")
		for range rapid.IntRange(0, 4).Draw(t, "devices") {
			c.Devices = append(c.Devices, anyDevice(t, net))
		}
		for range rapid.IntRange(0, 3).Draw(t, "instances") {
			if i > 0 {
				of := d.Circuits[rapid.IntRange(0, i-1).Draw(t, "of")]
				c.Instances = append(c.Instances, netlist.Instance{Name: nastyName.Draw(t, "instance name"), Of: of, Nets: rapid.SliceOfN(net, len(of.Ports), len(of.Ports)).Draw(t, "given")})
			}
		}
		d.Circuits = append(d.Circuits, c)
	}
	return d
})

func anyDevice(t *rapid.T, net *rapid.Generator[netlist.Net]) netlist.Device {
	length := rapid.Custom(func(t *rapid.T) float64 {
		return float64(rapid.Int64Range(0, 1e9).Draw(t, "thousandths")) / 1000
	})
	kind := netlist.Kind(rapid.IntRange(int(netlist.NMOS), int(netlist.CurrentSource)).Draw(t, "kind"))
	d := netlist.Device{Name: nastyName.Draw(t, "device name"), Kind: kind, Value: math.NaN(), Terminals: [4]netlist.Net{-1, -1, -1, -1}}
	for k := range kind.TerminalNames() {
		if kind != netlist.Bipolar || k < 3 || rapid.Bool().Draw(t, "substrate") {
			d.Terminals[k] = net.Draw(t, "terminal")
		}
	}
	if kind != netlist.VoltageSource && kind != netlist.CurrentSource {
		d.Model = nastyName.Draw(t, "model")
	}
	switch {
	case kind.IsMOS():
		d.W, d.L, d.AS, d.AD, d.PS, d.PD = length.Draw(t, "w"), length.Draw(t, "l"), length.Draw(t, "as"), length.Draw(t, "ad"), length.Draw(t, "ps"), length.Draw(t, "pd")
		d.Fingers = int32(rapid.IntRange(0, 5).Draw(t, "fingers"))
	case kind == netlist.Diode:
		d.Area, d.Perim = length.Draw(t, "area"), length.Draw(t, "perimeter")
	default:
		if d.Model == "" || rapid.Bool().Draw(t, "value too") {
			d.Value = float64(rapid.Float32Range(1e-18, 1e12).Draw(t, "value"))
		}
		if kind == netlist.Resistor || kind == netlist.Capacitor {
			d.W, d.L = length.Draw(t, "w"), length.Draw(t, "l")
		}
	}
	return d
}

// TestWriteReadEqual: what is written reads back as the same design, whatever the names, and is written the same again.
func TestWriteReadEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := anyDesign.Draw(t, "design")
		var b bytes.Buffer
		remark := nastyName.Draw(t, "remark")
		if err := Write(&b, d, WriteOptions{Models: true, Places: true, Comment: func(int) string { return remark }}); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		again, err := Read("again.sp", &b, ReadOptions{})
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		if got, want := describeDesign(again), describeDesign(d); got != want {
			t.Fatalf("read back\n%s\nwant\n%s\nwritten as\n%s", got, want, text)
		}
	})
}

// TestSimulatorReadsAnything: ngspice builds the circuit of random designs with nasty names, without a complaint: 25 of
// them, 3000 with UNDERMETAL_FULL set.
func TestSimulatorReadsAnything(t *testing.T) {
	simulatetest.Path(t)
	n := 25
	if os.Getenv("UNDERMETAL_FULL") != "" {
		n = 3000
	}
	for seed := range n {
		d := anyDesign.Example(seed)
		// one more circuit that uses all
		top := &netlist.Circuit{Name: "top", Nets: []netlist.NetInfo{{Name: "a"}, {Name: "b"}}}
		for _, c := range d.Circuits {
			in := netlist.Instance{Of: c}
			for k := range c.Ports {
				in.Nets = append(in.Nets, netlist.Net(k%2))
			}
			top.Instances = append(top.Instances, in)
		}
		d.Circuits = append(d.Circuits, top)
		text := write(t, d, WriteOptions{Models: true, Places: true, Comment: func(int) string { return "a \"remark\" {of' $some ; kind" }})
		if said, err := run(t, text+"\nV1 zz 0 1\nR1 zz 0 1k\nX1 "+nameOfLast(text)+"\n", "listing expand"); err != nil {
			t.Errorf("seed %d: %v\n%s\n%s", seed, err, said, text)
		}
	}
}

// nameOfLast returns the name of the last subcircuit of a text.
func nameOfLast(text string) string {
	return strings.Fields(text[strings.LastIndex(text, ".ends "):])[1]
}

// FuzzRead: nothing crashes the reader, and what it reads can be written and reads again as equal.
func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"t\n.subckt a x y\nM1 x y x x nfet w=1u l=0.5u as=1p\n.ends\nX1 p q a\nX2 q p / a\n",
		"*\nD1 a 0 dio 1p 2u $m=1\nR1 a b 1k\nC1 a b 1p\nV1 a 0\n.model dio d\n",
		"*\n.subckt s A B\nR0 A B lvsres\n.ends\nX1 a b s\n", "*\nM1 a b c d m {w} w={1u} l='2u'\n+ ng=3\n", "\x00\xff\n+\n+ +\n", ".end",
		"*\n.param x={y*2} y=1k\n.subckt s a w=1u m=2\nM1 a a a a n w={w/2+1u} l=w ng=m\n.ends\nX1 q s w=2u\nX2 q s m=3\n.options scale=1u\n",
		"*\n.global vdd! VSS\n.subckt s a vss\nM1 a vdd! vss gnd p\nR1 a 0 lvsres\n.ends\nX1 a vss s\n",
		"*\nQ1 c b e q 2\nQ2 c b e s 2n2222 area=2\nJ1 d g s j m=2\nI1 a b dc 1 ac 1\nL1 a b 1n\nV1 a b pulse(0 1)\n.model q npn\n",
		"*\n.subckt a\n.subckt b x\nR1 x y 1\n.ends b\nX1 q b m=2\n.ends a\n.subckt b\n.ends\n",
		"*\nR1 a b 1k 1 k\n", "*\nX1 a b\n.subckt b x=\n.ends", "*\nR1 a b (1+(2*3))\nR2 a b r=(1+(2*3))\nR3 a b '-(1'\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Read("fuzz.sp", bytes.NewReader(data), ReadOptions{})
		if err != nil {
			return
		}
		for _, c := range d.Circuits {
			netlist.Flatten(d, c) // must not crash; may refuse
		}
		var b bytes.Buffer
		if err := Write(&b, d, WriteOptions{Models: true, Places: true}); err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		text := b.String()
		again, err := Read("again.sp", &b, ReadOptions{})
		if err != nil {
			t.Fatalf("what was written cannot be read: %v\n%s", err, text)
		}
		if got, want := describeDesign(again), describeDesign(d); got != want {
			t.Errorf("read back\n%s\nwant\n%s\nwritten as\n%s", got, want, text)
		}
	})
}

package spice

import (
	"math"
	"strings"
	"testing"

	"undermetal/netlist"
)

func TestModelFile(t *testing.T) {
	const good = `* models of somebody
.param vt=0.6 twice={2*vt}
.model nfet nmos (level=1 vto=vt kp = 100u
+ tox=14n lambda='0.02+0.01')
.model Dph d is=1e-20
.subckt pfet d g s b w=1u l=1u
M1 d g s b inner w={w} l={l}
.model inner pmos level=1 vto=-0.7 kp=40u
.ends pfet
`
	f, err := ReadModels("my.lib", strings.NewReader(good))
	if err != nil {
		t.Fatal(err)
	}
	c := &netlist.Circuit{Nets: []netlist.NetInfo{{Name: "a"}, {Name: "b"}, {Name: "0", Global: true}}, Devices: []netlist.Device{
		{Kind: netlist.MOS, Model: "NFET", W: 1000, L: 500, Terminals: [4]netlist.Net{0, 1, 2, 2}, Value: math.NaN()},
		{Kind: netlist.PMOS, Model: "pfet", W: 1000, L: 500, AS: 1e6, Terminals: [4]netlist.Net{2, 1, 2, 2}, Value: math.NaN()},
		{Kind: netlist.Diode, Model: "dph", Area: 1e6, Terminals: [4]netlist.Net{2, 0, netlist.NoNet, netlist.NoNet}, Value: math.NaN()}}}
	p, _ := Preset("0.5um")
	l, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p, Models: f})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(l.Text, "M1 a b 0 0 NFET W=1u L=0.5u\nXM2 0 b 0 0 pfet W=1u L=0.5u\nD3 0 a dph AREA=1p\n") {
		t.Errorf("lines\n%s", l.Text)
	}
	said := accept(t, "t\n"+l.Text+l.Cards+"Va a 0 2\nVb b 0 1.6\n.options gmin=1e-15\n", "op\nprint i(va)")
	// v = 1 V, β = 200 µA/V², λ = 0.03: 100 µA · 1.06; the p-channel is off.
	if got := -printed(t, said, "i(va)"); !near(got, 106e-6, 1e-5) {
		t.Errorf("current %g A", got)
	}
	c.Devices[0].Model = "other"
	if _, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p, Models: f}); err == nil || !strings.Contains(err.Error(), `has the model "other", which my.lib does not hold`) {
		t.Errorf("error %v", err)
	}
	c.Devices[0].Model, c.Devices[0].Kind = "nfet", netlist.PMOS
	if _, err := List(c, ListOptions{Ground: netlist.NoNet, Process: p, Models: f}); err == nil || !strings.Contains(err.Error(), "which is of type nmos in my.lib") {
		t.Errorf("error %v", err)
	}
}

func TestModelFileRefuses(t *testing.T) {
	const ok = ".model n nmos level=1\n"
	for text, want := range map[string]string{
		ok + ".include /etc/passwd":                     "x:2: .include is refused: a model file opens no other file",
		ok + ".LIB 'a.lib' tt":                          "x:2: .lib is refused",
		ok + ".control\nshell rm x\n.endc":              "x:2: a .control section is refused",
		ok + "+ vto={1}\n.tran 1n 1u":                   `x:3: ".tran" is refused`,
		ok + "R1 a 0 1k":                                "x:2: \"R1 a 0 1k\" stands outside any subcircuit",
		ok + ".subckt s a b\nB1 a b v=1\n.ends":         "x:3: no element begins with B here",
		ok + ".subckt s a b\nA1 a b file\n.ends":        "x:3: no element begins with A here",
		ok + ".subckt s a b\nR1 a b 1k":                 "x:2: subcircuit s has no .ends",
		ok + ".ends":                                    "x:2: .ends without .subckt",
		ok + ".model `touch` nmos":                      "x:2: a model's name is",
		ok + ".model f filesource file=\"/etc/passwd\"": `x:2: model f is of type "filesource", which is not taken`,
		ok + ".model m nmos vto=`touch`":                "x:2: vto = \"`touch`\" is no value",
		ok + ".model m nmos file=\"/etc/passwd\"":       "x:2: file = ",
		ok + ".subckt s a b\nX1 a b `touch`\n.ends":     "x:3: ",
		ok + ".model N nmos":                            "x:2: model N is there already",
		"":                                              "x: holds no .model and no .subckt",
		"* only a comment":                              "x: holds no .model and no .subckt",
		"my title\n" + ok:                               `x:1: "my title" stands outside`,
		ok + ".subckt s a\n.subckt t a\n.ends\n.ends":   "x:3: subcircuit s holds a subcircuit",
		ok + ".model a\rshell nmos":                     "x:2: the control character",
		ok + "set x = 1":                                "x:2: \"set x = 1\" stands outside any subcircuit",
	} {
		if _, err := ReadModels("x", strings.NewReader(text)); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%q: error %v\nwant %s", text, err, want)
		}
	}
}

// FuzzModels: what is let through holds only words that were looked at, and reads again as the same.
func FuzzModels(f *testing.F) {
	f.Add(".model n nmos (level=1 vto='a+b')\n.subckt s a b w=1\nM1 a b 0 0 n w={w}\n.ends\n.param a=1")
	f.Add(".control\nshell x\n.endc")
	f.Add(".model n nmos\n+ a={b\n")
	f.Fuzz(func(t *testing.T, text string) {
		m, err := ReadModels("x", strings.NewReader(text))
		if err != nil {
			return
		}
		for _, line := range strings.Split(strings.TrimSuffix(m.Text(), "\n"), "\n") {
			first := strings.ToLower(strings.Fields(line)[0])
			if first[0] == '.' && first != ".model" && first != ".subckt" && first != ".ends" && first != ".param" {
				t.Errorf("line %q", line)
			}
			if strings.ContainsAny(line, "`$\\;\"'\r\v\f\x00") {
				t.Errorf("line %q", line)
			}
		}
		again, err := ReadModels("x", strings.NewReader(m.Text()))
		if err != nil || again.Text() != m.Text() {
			t.Errorf("again: %v\n%s\n%s", err, m.Text(), again.Text())
		}
	})
}

package simulate_test

import (
	"context"
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/spice/simulate"
	"undermetal/spice/simulate/simulatetest"
)

// attacks are what somebody might put into a name, a model, a stack or a model file so that the simulator does more than
// simulate. CANARY is where a file would appear.
var attacks = []string{
	"\n.control\nshell touch CANARY\n.endc\n",
	"\n*#shell touch CANARY\n",
	"\r\n.control\r\nshell touch CANARY\r\n.endc\r\n",
	"\r.control\rshell touch CANARY\r.endc\r",
	"\u0085.control\u0085shell touch CANARY\u0085.endc\u0085",
	"\u2028.control\u2028shell touch CANARY\u2028.endc\u2028",
	"\v.control\vshell touch CANARY\v.endc\v", "\f.control\fshell touch CANARY\f.endc\f",
	"\n.include CANARY\n", "\n.inc CANARY\n", "\n  .LIB CANARY tt\n", "\n.exec touch CANARY\n",
	"`touch CANARY`", "$(touch CANARY)", "; shell touch CANARY", "| touch CANARY", "> CANARY",
	"\n*ng_script\nshell touch CANARY\n",
	"\nshell touch CANARY\n",
	"\n.end\n*ng_script\nshell touch CANARY\n",
	"\nA1 [a b] m\n.model m d_source(input_file=\"CANARY\")\n",
	"\n.options abstol=`touch CANARY`\n",
	"\n.save `touch CANARY`\n", "\n.print tran > CANARY\n", "\n.meas tran x param='1'\n",
	"\x00\n.control\nshell touch CANARY\n.endc\n", "\xff\n.control\nshell touch CANARY\n.endc\n",
	"{`touch CANARY`}", "'\n.control\nshell touch CANARY\n.endc\n'", "\n+ .control\n+ shell touch CANARY\n",
}

// TestSafeRefuses: of each attack that is more than one word in a line, none passes as text of a model file.
func TestSafeRefuses(t *testing.T) {
	for _, a := range attacks {
		if !strings.ContainsAny(a, "\n\r\v\f`\u0085\u2028") {
			continue // part of a card, as such harmless: tried in TestAttacks
		}
		if strings.Contains(a, "$(") {
			continue
		}
		body := ".model n nmos vto=0.7" + a + "\nm1 d g 0 0 n w=1u l=1u\n"
		var unsafe *simulate.Unsafe
		if err := simulate.Safe(body); !errors.As(err, &unsafe) || unsafe.Line < 1 {
			t.Errorf("%q: %v", body, err)
		}
		d := deckOf(body)
		if got, err := (&simulate.Runner{Program: "/bin/false"}).Run(context.Background(), d); !errors.Is(err, simulate.ErrDeck) || got != nil {
			t.Errorf("Run of %q: %v", body, err)
		}
	}
	for _, tc := range []struct{ body, says string }{
		{".include models.lib", "copy the models themselves"},
		{"r1 a 0 1k\n  .Include x", "line 2"},
		{"*#shell x", "a command"},
		{"   *#shell x", "a command"},
		{"*NG_SCRIPT", "a command"},
		{"shell touch x", "no name"},
		{"a1 x y z", "no element"},
		{"u1 x y z", "no element"},
		{"n1 x y z", "no element"},
		{"?", "no element"},
		{"+ a", "continues nothing"},
		{"r1 a 0 `1k`", "backquote"},
		{".param x=`1`", "backquote"},
		{"v1 a 0 1 wavefile = \"x\"", "opens a file"},
		{".model m filesource(file=\"x\")", "opens a file"},
		{".model m spice2poly(coef=1)", `type "spice2poly"`},
		{".model m", "a name and a type"},
		{".options scriptname=x", `"scriptname"`},
		{".options reltol=1e-4 sourcepath=(x)", `"sourcepath"`},
		{".options reltol=1e-4\n+ rawfile=x", `"rawfile"`},
		{".control", ".control"}, {".endc", ".endc"}, {".end", ".end"}, {".tran 1n 1u", ".tran"}, {".plot", ".plot"},
		{".title x", ".title"}, {".csparam x=1", ".csparam"}, {".if (x)", ".if"}, {".", "."},
		{"r1 a\r 0 1k", "no text"}, {"r1 a 0 1k\x1b[2J", "no text"}, {"r1 a\u00a00 1k", "no text"}, {"r1 µ 0 1k", "beyond ASCII"},
		{"r1 a 0 1k " + strings.Repeat("x", 1<<16), "longer"},
	} {
		if err := simulate.Safe(tc.body); err == nil || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%q: %v, want %q", tc.body, err, tc.says)
		}
	}
}

// TestSafeAccepts: what netlists and model files of the trade hold.
func TestSafeAccepts(t *testing.T) {
	for _, body := range []string{
		"", "\n\n", "; `remark`\n$ .include x\n// é\n", "* a comment with `backquotes`, .control, µm and \"quotes\"\n", "r1 a 0 1k ; from 3.5, 2 um\r\nc1 a 0 1p\r\n",
		".subckt inv a y vdd vss\nM1 y a vss vss n W=1u L=0.5u AD=1p AS=1p PD=3u PS=3u\n+ M=2 $ comment\n.ends inv\nx1 a b c d inv\n",
		".model n NMOS(LEVEL=1 VTO=0.7 KP=1e-4\n+ GAMMA=0.5 PHI=0.6)\n\t.model dd D IS=1e-14\n.MODEL n nmos level=14\n",
		".param w = 1u\n.param p='2*w' q={w+1}\n.options reltol = 1e-4 abstol=1p scale=1u\n+ method=gear ; a remark about rawfile\n.global vdd\n.ic v(a)=1\n.nodeset v(a)=1\n.temp 27\n",
		"b1 a 0 i=v(a)*1e-3\ne1 a 0 vol='v(b)*2'\ns1 a b c d sw1\n.model sw1 sw vt=0.5\ni1 0 a pulse(0 1n 0 1n 1n 1u 2u)\nv1 a<1> net[3]/x 3.3\n",
	} {
		if err := simulate.Safe(body); err != nil {
			t.Errorf("%q: %v", body, err)
		}
	}
}

// FuzzSafe: no panic, and of what passes no line, wherever a program may see a line's end, begins with anything that is
// not on the list.
func FuzzSafe(f *testing.F) {
	for _, a := range attacks {
		f.Add("r1 a 0 1k" + a)
	}
	f.Add(".options reltol=1\n+ ; x\n.model n nmos (\n+)\n.temp 27 $\n")
	f.Fuzz(func(t *testing.T, body string) {
		if simulate.Safe(body) != nil {
			return
		}
		for _, line := range strings.FieldsFunc(body, func(r rune) bool { return strings.ContainsRune("\n\r\v\f\x00\u0085\u2028\u2029", r) }) {
			line = strings.ToLower(strings.TrimSpace(line))
			first, _, _ := strings.Cut(strings.ReplaceAll(line, "\t", " "), " ")
			for _, bad := range []string{"*#", "*ng_script", ".control", ".inc", ".lib", ".exec", "`", "a", "u", "n"} {
				if strings.HasPrefix(line, bad) {
					t.Fatalf("%q passes with the line %q", body, line)
				}
			}
			if first == "shell" || first == "source" || first == ".end" || first == ".endc" {
				t.Fatalf("%q passes with the line %q", body, line)
			}
		}
	})
}

func TestSafeName(t *testing.T) {
	for _, name := range []string{"a", "net[3]", "a<1>", "a/b", "vdd!", "n-1", "#1", "0"} {
		if err := simulate.SafeName(name); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	for _, a := range append([]string{"", "a b", "a\tb", "a=1", "a,b", "(a", ".a", "*a", "+a", "a;b", "a$b", "a//b", "a\nb", "µ", "a\"", "a'"}, attacks...) {
		if err := simulate.SafeName(a); err == nil {
			t.Errorf("%q passes", a)
		}
	}
}

// TestCommands: commands are ours, but hold names of others.
func TestCommands(t *testing.T) {
	good := func() *simulate.Deck { return deckOf("v1 a 0 1") }
	for _, spoil := range []func(d *simulate.Deck){
		func(d *simulate.Deck) { d.Analyses = nil },
		func(d *simulate.Deck) { d.Analyses[0].Name = "../../etc/x" },
		func(d *simulate.Deck) { d.Analyses[0].Name = "" },
		func(d *simulate.Deck) { d.Analyses[0].Name = "a b" },
		func(d *simulate.Deck) { d.Analyses[0].Name = "deck" },
		func(d *simulate.Deck) { d.Analyses = append(d.Analyses, d.Analyses[0]); d.Analyses[1].Name = "OP" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "shell touch x" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "op\nshell touch x" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "op; shell touch x" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "op > /tmp/x" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "tran `touch x`" },
		func(d *simulate.Deck) { d.Analyses[0].Command = "dc $x 0 1 1" },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"shell touch x"} },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"source x"} },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"alter v1 dc = `x`"} },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"alter v1\nshell x"} },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"set sourcepath = ( /tmp )"} },
		func(d *simulate.Deck) { d.Analyses[0].Before = []string{"set rawfile=x"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = nil },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a)\n.control"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(`touch x`)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a) v(b)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a\x00)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a\u2028)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a\x1b[2J)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"v(a)-v(b)"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{"@m1"} },
		func(d *simulate.Deck) { d.Analyses[0].Save = []string{""} },
	} {
		d := good()
		spoil(d)
		if got, err := (&simulate.Runner{Program: "/bin/false"}).Run(context.Background(), d); !errors.Is(err, simulate.ErrDeck) || got != nil {
			t.Errorf("%+v: %v", d.Analyses, err)
		}
	}
	d := good()
	d.Analyses[0].Before = []string{"alter v1 dc = 3", "altermod n vto = 0.5", "set temp = 30", "option reltol = 1e-4", "alter @v1[pulse] = [ 0 1 2 ]", "reset"}
	if _, err := (&simulate.Runner{Program: "/no/such"}).Run(context.Background(), d); !errors.Is(err, simulate.ErrMissing) {
		t.Errorf("good commands: %v", err)
	}
}

func deckOf(body string) *simulate.Deck {
	return &simulate.Deck{Body: body, Analyses: []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(a)"}}}}
}

// TestAttacks: every attack in every name of a circuit, written as netlists are, and in the deck's title, run for real and
// by hand: no file appears but the waveforms. Whatever passes Safe as part of a model file is run, too.
func TestAttacks(t *testing.T) {
	ngspice := simulatetest.Path(t)
	for i, a := range attacks {
		dir := t.TempDir()
		canary := filepath.Join(dir, "canary")
		a = strings.ReplaceAll(a, "CANARY", canary)
		c := &netlist.Circuit{
			Name: "top" + a, Ports: []netlist.Net{0, 1},
			Nets: []netlist.NetInfo{{Name: "in" + a}, {Name: a}, {Name: a + "x"}},
			Devices: []netlist.Device{
				{Name: "m" + a, Kind: netlist.MOS, Model: "nmos" + a, Terminals: [4]netlist.Net{0, 1, 2, 2}, W: 1000, L: 1000, Value: math.NaN()},
				{Name: a, Kind: netlist.Resistor, Model: a, Terminals: [4]netlist.Net{0, 2, netlist.NoNet, netlist.NoNet}, Value: 1000},
			},
		}
		var b strings.Builder
		if err := spice.Write(&b, &netlist.Design{Circuits: []*netlist.Circuit{c}},
			spice.WriteOptions{Models: true, Places: true, Comment: func(int) string { return a }}); err != nil {
			t.Fatalf("%q: %v", a, err)
		}
		d := deckOf(b.String() + "v1 a 0 1\nr1 a 0 1\n")
		d.Title = a
		if err := simulate.Safe(d.Body); err != nil {
			t.Errorf("attack %d in names: what spice.Write makes of it is refused: %v\n%s", i, err, b.String())
		}
		if _, err := new(simulate.Runner).Run(context.Background(), d); err != nil {
			t.Errorf("attack %d in names: %v\n%s", i, err, d.Text())
		}
		byHand(t, ngspice, dir, d)
		for _, body := range []string{".model n nmos vto=0.7" + a + "\n", "* " + a + "\n", "r9 b 0 1 ; " + a + "\n", "r9 b" + a + " 0 1\n"} {
			d := deckOf(body + "v1 a 0 1\nr1 a 0 1\n")
			if simulate.Safe(d.Body) == nil {
				byHand(t, ngspice, dir, d)
			}
		}
		if _, err := os.Stat(canary); err == nil {
			t.Errorf("attack %d got through: %q", i, a)
		}
	}
}

// TestCanary: the attacks are real: unchecked, the first does what it says.
func TestCanary(t *testing.T) {
	ngspice := simulatetest.Path(t)
	dir := t.TempDir()
	canary := filepath.Join(dir, "canary")
	byHand(t, ngspice, dir, deckOf("v1 a 0 1"+strings.ReplaceAll(attacks[0], "CANARY", canary)))
	if _, err := os.Stat(canary); err != nil {
		t.Error("ngspice did not run the shell: TestAttacks proves nothing")
	}
}

func byHand(t *testing.T, ngspice, dir string, d *simulate.Deck) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, "deck.sp"), []byte(d.Text()), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(ngspice, "-b", "deck.sp")
	cmd.Dir = dir
	_ = cmd.Run() // it may well refuse the deck
	files, _ := os.ReadDir(dir)
	for _, f := range files {
		if n := f.Name(); n != "deck.sp" && n != "op.raw" && n != "canary" {
			t.Errorf("%q appeared; the deck:\n%s", n, d.Text())
		}
	}
}

package stack

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout"
)

// roundTrip writes a stack and reads it again.
func roundTrip(t rapid.TB, s *Stack) {
	t.Helper()
	text := s.TOML()
	again, err := Parse("written.toml", text)
	if err != nil {
		t.Fatalf("what was written does not parse: %v\n%s", err, text)
	}
	if !reflect.DeepEqual(again, s) {
		t.Fatalf("read back:\n%+v\nwritten:\n%+v\n%s", again, s, text)
	}
}

// TestWritten: a small stack, written by hand as it should look, comes out as it went in.
func TestWritten(t *testing.T) {
	want := `name = "a \"b\" \\ µ"

[[layer]]
name = "diffusion"
role = "diffusion"
gds  = ["22/0", "22/4"]

[[layer]]
name      = "poly"
role      = "gate"
labels    = ["30/10"]
color     = "#d55e00"
sheet_ohm = 7.5

[[layer]]
name = "poly2"
role = "gate"

[[layer]]
name = "nwell"
role = "well"

[[layer]]
name  = "contact"
role  = "contact"
joins = ["poly", "diffusion"]

[[mos]]
model = "nfet"
type  = "n"
gate  = "poly"
where = ["!nwell"]
bulk  = "substrate"

[[mos]]
model = "pfet"
type  = "p"
where = ["nwell"]
bulk  = "unknown"

[[tap]]
where = ["nwell"]
ties  = "nwell"

[[diode]]
model = "d"
type  = "n"
body  = "diffusion"
to    = "substrate"

[[capacitor]]
model       = "c"
plates      = ["poly2", "poly"]
area_af_um2 = 860
edge_af_um  = 1e-05

[[resistor]]
model     = "r"
body      = "poly"
where     = ["nwell"]
sheet_ohm = 200

[substrate]
type   = "n"
net    = "VSS"
labels = ["64/59"]

[process]
gate_oxide_nm = 12.5
`
	s, err := Parse("x", []byte(want))
	if err != nil {
		t.Fatal(err)
	}
	if got := string(s.TOML()); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got, want := quoteTOML("two\nlines\x7f"), `"two\u000Alines\u007F"`; got != want {
		t.Errorf("control characters leave the line: %s, want %s", got, want)
	}
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { roundTrip(t, randomStack(t)) })
}

// randomStack draws a stack as Parse would give it: rules only where the layers that they need are there.
func randomStack(t *rapid.T) *Stack {
	s := &Stack{Name: rapid.StringMatching(`[ -~µ→]{0,40}`).Draw(t, "name")}
	next := int16(0) // pairs stay distinct
	pairs := func() (ps []Pair) {
		for range rapid.IntRange(0, 2).Draw(t, "pairs") {
			next++
			ps = append(ps, Pair{next * 250, 32767 - next})
		}
		return ps
	}
	roles := rapid.SampledFrom([]Role{Diffusion, Diffusion, Gate, Gate, Metal, Contact, Well, Pad, Mark})
	for i, r := range rapid.SliceOfN(roles, 1, 24).Draw(t, "roles") {
		s.Layers = append(s.Layers, Layer{Name: fmt.Sprintf("%s%d", rapid.StringMatching(`[A-Za-z_.-]{0,9}-`).Draw(t, "layer"), i), Role: r, GDS: pairs(), Labels: pairs(),
			Color: rapid.StringMatching(`(#[0-9a-fA-F]{6})?`).Draw(t, "color"), SheetOhm: amount(t), AreaAFUm2: amount(t), EdgeAFUm: amount(t), ThicknessNm: amount(t)})
	}
	for i := range s.Layers {
		if s.Layers[i].Role != Contact {
			continue
		}
		if s.Layers[i].Joins = some(t, 2, layersOf(s, conductors...)); s.Layers[i].Joins == nil {
			s.Layers[i].Role = Mark // too few to join
		}
	}
	randomRules(t, s)
	s.Substrate = Substrate{Net: rapid.StringMatching(`([A-Za-z0-9_.-]{1,64}!?)?`).Draw(t, "net"), Type: polarityOf(t), Labels: pairs()}
	s.Process = Process{amount(t), amount(t), amount(t)}
	return s
}

func randomRules(t *rapid.T, s *Stack) {
	all, diffusions, gates := layersOf(s), layersOf(s, Diffusion), layersOf(s, Gate)
	upper, lower := layersOf(s, conductors...), layersOf(s, Metal, Gate, Diffusion, Well)
	ties := []Tie{ToSubstrate}
	for _, l := range layersOf(s, Well) {
		ties = append(ties, ToWell(l))
	}
	model := rapid.StringMatching(`[A-Za-z0-9_.-]{1,64}`)
	where := func() (cs []Condition) {
		for _, l := range some(t, 0, all) {
			cs = append(cs, Condition{l, rapid.Bool().Draw(t, "not")})
		}
		return cs
	}
	sorted := func(ls []layout.Layer) []layout.Layer { return slices.Sorted(slices.Values(some(t, 1, ls))) }
	for range rapid.IntRange(0, 3).Draw(t, "rules") {
		if len(diffusions) > 0 && len(gates) > 0 {
			s.MOS = append(s.MOS, MOSRule{model.Draw(t, "model"), polarityOf(t), where(), sorted(gates), sorted(diffusions), rapid.SampledFrom(append(ties, Tie{})).Draw(t, "bulk")})
		}
		if len(diffusions) > 0 {
			s.Taps = append(s.Taps, TapRule{where(), sorted(diffusions), rapid.SampledFrom(ties).Draw(t, "ties")})
		}
		if bodies := layersOf(s, Diffusion, Well); len(bodies) > 0 {
			s.Diodes = append(s.Diodes, DiodeRule{model.Draw(t, "model"), polarityOf(t), rapid.SampledFrom(bodies).Draw(t, "body"), where(), rapid.SampledFrom(ties).Draw(t, "to")})
		}
		if len(upper) > 0 && len(lower) > 0 {
			if u, l := rapid.SampledFrom(upper).Draw(t, "upper"), rapid.SampledFrom(lower).Draw(t, "lower"); u != l {
				s.Capacitors = append(s.Capacitors, CapacitorRule{model.Draw(t, "model"), u, l, where(), amount(t), amount(t)})
			}
		}
		if len(lower) > 0 {
			s.Resistors = append(s.Resistors, ResistorRule{model.Draw(t, "model"), rapid.SampledFrom(lower).Draw(t, "body"), where(), amount(t)})
		}
	}
}

func polarityOf(t *rapid.T) string { return rapid.SampledFrom([]string{"n", "p"}).Draw(t, "type") }

func amount(t *rapid.T) float64 {
	whole := rapid.Map(rapid.IntRange(0, 1e6), func(n int) float64 { return float64(n) })
	return rapid.OneOf(rapid.Just(0.0), rapid.Just(maxAmount), rapid.Float64Range(0, maxAmount), rapid.Float64Range(0, 1e-300), whole).Draw(t, "amount")
}

// layersOf returns the layers of the given roles, all if there are none given.
func layersOf(s *Stack, roles ...Role) []layout.Layer {
	var ls []layout.Layer
	for i := range s.Layers {
		if len(roles) == 0 || slices.Contains(roles, s.Layers[i].Role) {
			ls = append(ls, layout.Layer(i))
		}
	}
	return ls
}

// some draws n to n+4 different layers in any order; nil for none, or if there are fewer than n.
func some(t *rapid.T, n int, ls []layout.Layer) []layout.Layer {
	if len(ls) < n {
		return nil
	}
	count := rapid.IntRange(n, min(len(ls), n+4)).Draw(t, "count")
	if count == 0 {
		return nil
	}
	return rapid.Permutation(ls).Draw(t, "order")[:count]
}

// FuzzParse: nothing panics; what parses is written and parses to the same stack; what does not comes as problems.
func FuzzParse(f *testing.F) {
	files, err := filepath.Glob("testdata/*.toml")
	if err != nil || len(files) == 0 {
		f.Fatal("no test sources", err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, name := range []string{"cmos-1p1m", "cmos-2p2m-well-split"} {
		s, _ := Builtin(name)
		f.Add(s.TOML())
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse("fuzz", data)
		if err == nil {
			roundTrip(t, s)
			return
		}
		for _, p := range problems(t, err) {
			if p.Text == "" || p.Remedy == "" {
				t.Errorf("a problem without text or remedy: %#v", p)
			}
		}
	})
}

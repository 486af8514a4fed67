package stack

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
)

// TestMistakes parses testdata/*.toml, where a comment `# ERROR "text|text"` marks each line that is wrong. Each of the
// texts must stand in the message or the remedy of a problem at that line, and there must be no problem without one.
func TestMistakes(t *testing.T) {
	files, err := filepath.Glob("testdata/*.toml")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d test sources, %v", len(files), err)
	}
	mark := regexp.MustCompile(`# ERROR "(.*)"$`)
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		s, err := Parse(f, data)
		if s != nil {
			t.Errorf("%s: a stack came back beside the error", f)
		}
		said := map[int][]string{} // by line
		for _, p := range problems(t, err) {
			if p.File != f || p.Line == 0 || p.Column == 0 || p.Key == "" || p.Text == "" || p.Remedy == "" {
				t.Errorf("%s: a problem needs place, key, text and remedy: %#v", f, p)
			}
			said[p.Line] = append(said[p.Line], p.Text+"\n"+p.Remedy)
		}
		for i, line := range strings.Split(string(data), "\n") {
			var want []string
			if m := mark.FindStringSubmatch(line); m != nil {
				want = strings.Split(m[1], "|")
			}
			matchMessages(t, fmt.Sprintf("%s:%d", f, i+1), want, said[i+1])
		}
	}
}

func matchMessages(t *testing.T, at string, want, said []string) {
	t.Helper()
	for _, w := range want {
		if !slices.ContainsFunc(said, func(s string) bool { return strings.Contains(s, w) }) {
			t.Errorf("%s: no message with %q, but %q", at, w, said)
		}
	}
	for _, s := range said {
		if !slices.ContainsFunc(want, func(w string) bool { return strings.Contains(s, w) }) {
			t.Errorf("%s: unexpected: %s", at, s)
		}
	}
}

// problems takes a joined error apart.
func problems(t *testing.T, err error) []*Problem {
	t.Helper()
	j, ok := err.(interface{ Unwrap() []error })
	if !ok {
		t.Fatalf("want joined problems, got %v", err)
	}
	var ps []*Problem
	for _, e := range j.Unwrap() {
		var p *Problem
		if !errors.As(e, &p) {
			t.Fatalf("%v is no Problem", e)
		}
		ps = append(ps, p)
	}
	return ps
}

// TestMessage holds whole messages, as people see them, against what was written down by hand.
func TestMessage(t *testing.T) {
	for _, tc := range []struct{ name, source, want string }{
		{"misspelt layer", `[[layer]]
name = "diffusion"
role = "diffusion"
[[layer]]
name = "metal1"
role = "metal"
[[layer]]
name  = "contact"
role  = "contact"
joins = ["metal1", "difusion"]
`, `kiln.stack.toml:10:20: layer "contact": joins "difusion", which is no layer
    did you mean "diffusion"? this stack has diffusion, metal1, contact`},
		{"in the order of the file, at key or value", `substrate.net = "V SS"
[[layer]]
rolle = "metal"
name = "metal1"
`, `kiln.stack.toml:1:17: substrate: "V SS" cannot be a net name, because it is written into SPICE
    letters, digits, _ . and - will do, 1 to 64 of them, with a ! behind them if need be
kiln.stack.toml:3:1: layer "metal1": there is no key "rolle" here
    did you mean "role"? the keys are name, role, joins, gds, labels, color, sheet_ohm, area_af_um2, edge_af_um, thickness_nm`},
		{"inline tables", `layer = [{name = "metal1", role = "metal"}, {name = "metal2", role = "mettal"}]`,
			`kiln.stack.toml:1:70: layer "metal2": "mettal" is no role
    did you mean "metal"? roles are diffusion, gate, metal, contact, well, pad, mark`},
		{"byte order mark and CRLF", "\ufeffname = \"x\"\r\n[[layer]]\r\nname = \"m\"\r\nrole = 'x'\r\n",
			`kiln.stack.toml:4:8: layer "m": "x" is no role
    roles are diffusion, gate, metal, contact, well, pad, mark`},
		{"a key of the file itself, a table for a misspelt one", "name = \"x\"\nnotes = 1\n[[laier]]\nname = \"m\"\n",
			`kiln.stack.toml:2:1: there is no key "notes" here
    the keys are name, layer, mos, tap, diode, capacitor, resistor, substrate, process
kiln.stack.toml:3:3: there is no key "laier" here
    did you mean "layer"? the keys are name, layer, mos, tap, diode, capacitor, resistor, substrate, process`},
		{"nothing", "", `kiln.stack.toml: the stack has no layer
    add a [[layer]] with name and role for each thing that is drawn`},
		{"no TOML", "[[layer]]\nname = metal1\n", `kiln.stack.toml:2:8: not TOML: unexpected character U+006D 'm' at start of value
    texts stand in quotes, lists in [ ], each key once in its table: role = "gate", gds = ["30/0"], sheet_ohm = 7.5`},
		{"key twice", "name = \"a\"\nname = \"b\"\n", `kiln.stack.toml:2:1: not TOML: key name is already defined
    texts stand in quotes, lists in [ ], each key once in its table: role = "gate", gds = ["30/0"], sheet_ohm = 7.5`},
		{"another file", "\x00\x06\x00\x02", `kiln.stack.toml: this is no stack file: it is no UTF-8 text
    a stack file is a TOML text with a [[layer]] for each layer of the process`},
		{"too long", strings.Repeat("#\n", 1<<19) + "\n", `kiln.stack.toml: this is no stack file: it is longer than 1 MB
    a stack file is a TOML text with a [[layer]] for each layer of the process`},
	} {
		_, err := Parse("kiln.stack.toml", []byte(tc.source))
		if err == nil || err.Error() != tc.want {
			t.Errorf("%s: got\n%v\nwant\n%s", tc.name, err, tc.want)
		}
	}
}

func TestTooManyLayers(t *testing.T) {
	source := func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "[[layer]]\nname = \"l%d\"\nrole = \"metal\"\n", i)
		}
		return b.String() + "[[resistor]]\nmodel = \"r\"\nbody = \"l63\"\n"
	}
	if s, err := Parse("x", []byte(source(64))); err != nil || len(s.Layers) != 64 || s.Resistors[0].Body != 63 {
		t.Errorf("64 layers are allowed, got %v", err)
	}
	_, err := Parse("x", []byte(source(65)))
	want := "x:193:3: the stack has 65 layers, 64 is the most\n    leave out layers that no rule needs" // 64 × 3 lines before it
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}

const oneLayer = "[[layer]]\nname = \"metal1\"\nrole = \"metal\"\n"

func manyKeys(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d = 1\n", i)
	}
	return b.String()
}

// TestManyMistakes: thousands of mistakes end in a list that can be read.
func TestManyMistakes(t *testing.T) {
	for name, tc := range map[string]struct {
		source string
		more   bool
	}{
		"conditions": {oneLayer + "[[resistor]]\nmodel = \"r\"\nbody = \"metal1\"\nwhere = [" + strings.Repeat("\"metaal\",", 2000) + "]\n", true},
		"keys":       {oneLayer + manyKeys(maxProblems+10), true},
		"just 50":    {oneLayer + manyKeys(maxProblems), false},
	} {
		_, err := Parse("x", []byte(tc.source))
		ps := problems(t, err)
		more := ps[0].Error() == "x: more than 50 mistakes: only those that were found first are listed\n    mend these and look again"
		if more {
			ps = ps[1:]
		}
		if len(ps) != maxProblems || more != tc.more {
			t.Errorf("%s: %d problems, %d wanted; says that there are more: %v", name, len(ps), maxProblems, more)
		}
	}
}

// TestSubstrateLabelsNeedALayer: labels of the substrate take the place after the last layer.
func TestSubstrateLabelsNeedALayer(t *testing.T) {
	var layers strings.Builder
	for i := range layout.MaxLayers {
		fmt.Fprintf(&layers, "[[layer]]\nname = \"l%d\"\nrole = \"metal\"\n", i)
	}
	_, err := Parse("x", []byte(layers.String()+"[substrate]\nlabels = [\"64/59\"]\n"))
	want := "x:194:1: substrate: the stack has 64 layers, so there is none left for labels of the substrate\n    leave out a layer that no rule needs"
	if err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	if _, err := Parse("x", []byte(layers.String())); err != nil {
		t.Error(err)
	}
}

// TestHostileFiles: files that are made to take long, up to the size that is allowed. Each is done in a
// moment; without the limit that it tries it takes minutes, or more memory than there is.
func TestHostileFiles(t *testing.T) {
	long := strings.Repeat("k", 60)
	var wells, where strings.Builder
	for i := range layout.MaxLayers {
		fmt.Fprintf(&wells, "[[layer]]\nname = \"%s%d\"\nrole = \"well\"\n", long, i)
	}
	for where.Len() < 900_000 {
		fmt.Fprintf(&where, "\"%sxx\",", long)
	}
	for name, source := range map[string]string{
		"near names":  wells.String() + "[[resistor]]\nmodel = \"r\"\nbody = \"" + long + "0\"\nwhere = [" + where.String() + "]\n",
		"long header": "[" + strings.Repeat("a.", 1<<16) + "a]\n" + manyKeys(20000),
		"long key":    oneLayer + strings.Repeat("a.", 1<<16) + "a = 1\n",
		"nesting":     oneLayer + "a = " + strings.Repeat("[", 9000) + strings.Repeat("]", 9000) + "\n",
		"brackets":    oneLayer + "a = " + strings.Repeat("[", 900_000) + "\n",
	} {
		if _, err := Parse("x", []byte(source)); err == nil {
			t.Errorf("%s: was accepted", name)
		}
	}
}

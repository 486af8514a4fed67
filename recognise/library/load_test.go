package library

import (
	"strings"
	"testing"
	"testing/fstest"
)

const good = `* name: my_mirror
* title: a mirror
* what: copies a current
* ports: vss=ground in=input out=output
* source: a test
.subckt my_mirror vss in out
M1 in in vss vss nmos
M2 out in vss vss nmos
.ends
`

// edit replaces a piece of the good pattern, which must be there.
func edit(t *testing.T, from, to string) string {
	t.Helper()
	if !strings.Contains(good, from) {
		t.Fatalf("%q is not in the pattern", from)
	}
	return strings.Replace(good, from, to, 1)
}

// Each malformed pattern is named with line and reason and left out; the good ones beside it are taken.
func TestMalformedPatterns(t *testing.T) {
	for _, tc := range []struct{ name, text, want string }{
		{"no header", good[strings.Index(good, ".subckt"):], `bad.sp: the header lacks "name"`},
		{"no source", edit(t, "* source: a test\n", ""), `bad.sp: the header lacks "source"`},
		{"misspelt key", edit(t, "* source: a test", "* source: a test\n* opional: M1"), `bad.sp:6: the header has no key "opional"`},
		{"empty", edit(t, "* title: a mirror", "* title:"), `bad.sp:2: "title" has no value`},
		{"no pair", edit(t, "in=input", "in"), `bad.sp:4: "in" of "ports" is no pair`},
		{"no role", edit(t, "in=input", "in=inlet"), `bad.sp:4: port in has the role "inlet", which there is none of`},
		{"port missing", edit(t, " in=input", ""), `bad.sp:4: port in of the subcircuit has no role`},
		{"port too many", edit(t, "in=input", "in=input foo=bias"), `bad.sp:4: foo is no port of the subcircuit`},
		{"two roles", edit(t, "in=input", "in=input in=bias"), `bad.sp:4: port in has two roles`},
		{"another name", edit(t, ".subckt my_mirror", ".subckt other"), `bad.sp: circuit other is there beside the pattern my_mirror`},
		{"two words", edit(t, "* name: my_mirror", "* name: my mirror"), `bad.sp:1: the name "my mirror" is more than one word`},
		{"no device", edit(t, "* source: a test", "* source: a test\n* optional: M7"), `bad.sp:6: "optional" names M7, and there is no such device`},
		{"no polarity", strings.Replace(edit(t, "* source: a test", "* source: a test\n* either: R1"), "M2 out", "R1 in out 5k\nM2 out", 1), `bad.sp:6: R1 is no transistor`},
		{"all optional", edit(t, "* source: a test", "* source: a test\n* optional: M1 M2"), `bad.sp: no device of it must be there`},
		{"flavour", edit(t, "* source: a test", "* source: a test\n* flavours: n q"), `bad.sp:6: "q" is no flavour`},
		{"series", edit(t, "* source: a test", "* source: a test\n* series: loose"), `bad.sp:6: "loose" says nothing of series`},
		{"joins", edit(t, "* source: a test", "* source: a test\n* joins: in=foo"), `bad.sp:6: foo, which may be joined, is no port`},
		{"shorted", edit(t, "M2 out in vss", "M2 out in out"), `bad.sp:8: device M2 has both ends on one net`},
		{"parallel", edit(t, "M2 out in vss", "M2 vss in in"), `bad.sp:8: devices M1 and M2 are parallel`},
		{"apart", edit(t, "M2 out in vss", "M2 out b vss"), `bad.sp:8: only supplies join M1 and M2`},
		{"no netlist", edit(t, "M2 out in vss vss nmos", "M2 out in"), `bad.sp:8: `},
		{"cut short", edit(t, ".ends\n", ""), `bad.sp:6: subcircuit my_mirror has no .ends`},
		{"net 0 for ground", edit(t, "M2 out in vss", "M2 out in 0"), `bad.sp:8: device M2 is on net 0, which is global but no port`},
		{"a global net", edit(t, "M2 out in vss", "M2 out in vee") + ".global vee\n", `bad.sp:8: device M2 is on net vee, which is global but no port`},
		{"optional twice", strings.ReplaceAll(edit(t, "* source: a test", "* source: a test\n* optional: M2 M2"), "my_mirror", "third_mirror"), ""},
		{"an instance", edit(t, "M2 out in vss vss nmos", "X1 out in foo\n.subckt foo a b\nR1 a b 1\n.ends"), `bad.sp:`},
		{"empty file", "", `bad.sp: the header lacks "name"`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			patterns, faults := Load(fstest.MapFS{
				"a.sp":        {Data: []byte(good)},
				"bad.sp":      {Data: []byte(tc.text)},
				"sub/more.sp": {Data: []byte(strings.ReplaceAll(good, "my_mirror", "other_mirror"))},
				"note.txt":    {Data: []byte("not a pattern")},
			})
			if tc.want == "" {
				if len(faults) > 0 {
					t.Errorf("faults %v", faults)
				}
				return
			}
			if len(patterns) != 2 || patterns[0].Name != "my_mirror" || patterns[1].Name != "other_mirror" {
				t.Errorf("%d patterns are taken", len(patterns))
			}
			if len(faults) != 1 || !strings.HasPrefix(faults[0].String(), tc.want) {
				t.Errorf("faults %v, want %q", faults, tc.want)
			}
		})
	}
}

func TestTwoOfOneName(t *testing.T) {
	patterns, faults := Load(fstest.MapFS{"a.sp": {Data: []byte(good)}, "b.sp": {Data: []byte(good)}})
	if len(patterns) != 1 || len(faults) != 1 || faults[0].String() != "b.sp: pattern my_mirror is in a.sp already\n    give it another name" {
		t.Errorf("%d patterns, faults %v", len(patterns), faults)
	}
}

func TestLargeFile(t *testing.T) {
	_, faults := Load(fstest.MapFS{"a.sp": {Data: []byte(good + strings.Repeat("* filler\n", 200_000))}})
	if len(faults) != 1 || !strings.Contains(faults[0].Reason, "bytes") {
		t.Errorf("faults %v", faults)
	}
}

// What is part of the program is complete: every topology that was asked for, each with its source, and alternatives that exist.
func TestEmbedded(t *testing.T) {
	byName := map[string]*Pattern{}
	groups := map[string]int{}
	for _, p := range Embedded() {
		byName[p.Name] = p
		groups[p.Group]++
		if p.File != p.Name+".sp" {
			t.Errorf("%s is in %s", p.Name, p.File)
		}
		for _, text := range []string{p.Title, p.What, p.Source} {
			if len(text) < 3 {
				t.Errorf("%s says %q of itself", p.Name, text)
			}
		}
	}
	known := func(name string) bool {
		return byName[name] != nil || strings.HasPrefix(name, "cross_coupled_inverters")
	}
	for _, p := range Embedded() {
		for _, a := range p.Alternatives {
			if !known(a) {
				t.Errorf("%s names the alternative %s, which there is none of", p.Name, a)
			}
		}
	}
	for _, g := range []string{"pixel", "column", "row", "analog", "digital", "protection"} {
		if groups[g] == 0 {
			t.Errorf("no pattern of group %s", g)
		}
	}
	for _, p := range Embedded() {
		if p.Group == "pixel" && !p.Mirror {
			t.Errorf("%s has no p flavour", p.Name)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add(good)
	for _, p := range Embedded()[:5] {
		text, err := files.ReadFile("patterns/" + p.File)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := Parse("fuzz.sp", text)
		if err == nil && (p.Circuit == nil || len(p.Ports) != len(p.Circuit.Ports)) {
			t.Error("a pattern without its circuit")
		}
	})
}

package stack

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"undermetal/layout"
)

// TestCorpusStacks reads the stack files beside the published layouts. What is wanted was read off the files by eye.
func TestCorpusStacks(t *testing.T) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published layouts are not here to check against")
	}
	for _, tc := range []struct {
		file, name, models, where string
		layers                    int
		metal1                    Layer
	}{
		{"gf180mcu/gf180mcu.stack.toml", "gf180mcu 5 V cells: n-well CMOS, one poly, metal1 only", "nfet_05v0 pfet_05v0 diode_nd2ps_06v0 diode_pd2nw_06v0",
			"nplus !nwell", 8, Layer{Name: "metal1", Role: Metal, GDS: []Pair{{34, 0}}, Labels: []Pair{{34, 10}}}},
		{"ihp-sg13g2/ihp-sg13g2.stack.toml", "SG13G2 low-voltage CMOS, metal1 to metal4", "sg13_lv_nmos sg13_lv_pmos dantenna dpantenna",
			"!psd !nwell", 13, Layer{Name: "metal1", Role: Metal, GDS: []Pair{{8, 0}}, Labels: []Pair{{8, 25}}}},
	} {
		s, err := Load(filepath.Join(root, tc.file))
		if err != nil {
			t.Error(err)
			continue
		}
		if len(s.Layers) != tc.layers || len(s.MOS) != 2 || len(s.Taps) != 2 || len(s.Diodes) != 2 {
			t.Errorf("%s: %d layers, %d mos, %d taps, %d diodes; want %d, 2, 2, 2", tc.file, len(s.Layers), len(s.MOS), len(s.Taps), len(s.Diodes), tc.layers)
			continue
		}
		nwell, _ := s.LayerNamed("nwell")
		metal1, _ := s.LayerNamed("metal1")
		contact, _ := s.LayerNamed("contact")
		got := []any{s.Name, s.MOS[0].Model + " " + s.MOS[1].Model + " " + s.Diodes[0].Model + " " + s.Diodes[1].Model, names(s, s.Layers[contact].Joins),
			conditions(s, s.MOS[0].Where), fmt.Sprint(s.Layers[metal1]), s.MOS[0].Type + s.MOS[1].Type, s.MOS[0].Bulk, s.MOS[1].Bulk, s.Taps[0].Ties, s.Taps[1].Ties,
			s.Diodes[1].To, names(s, s.MOS[0].Gates), names(s, s.Taps[0].Diffusions), names(s, []layout.Layer{s.Diodes[0].Body}), s.Substrate.Type}
		want := []any{tc.name, tc.models, "metal1 poly diffusion", tc.where, fmt.Sprint(tc.metal1), "np", ToSubstrate, ToWell(nwell), ToWell(nwell), ToSubstrate,
			ToWell(nwell), "poly", "diffusion", "diffusion", "p"}
		for i := range want {
			if got[i] != want[i] {
				t.Errorf("%s: got %v, want %v", tc.file, got[i], want[i])
			}
		}
		roundTrip(t, s)
	}
}

func names(s *Stack, ls []layout.Layer) string {
	var list []string
	for _, l := range ls {
		list = append(list, s.Layers[l].Name)
	}
	return strings.Join(list, " ")
}

func conditions(s *Stack, where []Condition) string {
	var list []string
	for _, c := range where {
		name := s.Layers[c.Layer].Name
		if c.Not {
			name = "!" + name
		}
		list = append(list, name)
	}
	return strings.Join(list, " ")
}

// TestOptionalKeys: what rules mean when a key is left out, and what lists are for.
func TestOptionalKeys(t *testing.T) {
	s, err := Parse("x", []byte(`
layer = [
  {name = "nd", role = "diffusion"}, {name = "pd", role = "diffusion"}, {name = "od", role = "diffusion"},
  {name = "poly", role = "gate"}, {name = "poly2", role = "gate"}, {name = "pw", role = "well"},
  {name = "bond", role = "pad"},
]
mos = [
  {model = "a", type = "n", bulk = "unknown"},
  {model = "b", type = "p", bulk = "pw", gate = "poly2", diffusion = ["od", "nd"]},
]
tap = [{ties = "pw"}, {ties = "substrate", diffusion = "pd"}]
diode = [{model = "d", type = "p", body = "pw", to = "substrate"}]
substrate = {net = "gnd!", type = "n", labels = ["64/59"]}
process = {gate_oxide_nm = 12.5, supply_v = 5, min_feature_nm = 350}
`))
	if err != nil {
		t.Fatal(err)
	}
	for i, got := range [][2]string{
		{names(s, s.MOS[0].Gates), "poly poly2"}, {names(s, s.MOS[0].Diffusions), "nd pd od"},
		{names(s, s.MOS[1].Gates), "poly2"}, {names(s, s.MOS[1].Diffusions), "nd od"},
		{names(s, s.Taps[0].Diffusions), "nd pd od"}, {names(s, s.Taps[1].Diffusions), "pd"},
		{fmt.Sprint(s.MOS[0].Bulk == Tie{}, s.MOS[1].Bulk == ToWell(5), s.Taps[1].Ties == ToSubstrate), "true true true"},
		{names(s, []layout.Layer{s.Diodes[0].Body}), "pw"}, {s.Layers[6].Role.String(), "pad"},
		{fmt.Sprint(s.Substrate, s.Process), "{gnd! n [64/59]} {12.5 5 350}"},
	} {
		if got[0] != got[1] {
			t.Errorf("%d: got %q, want %q", i, got[0], got[1])
		}
	}
	if s, err := Parse("x", []byte("[[layer]]\nname = \"m\"\nrole = \"metal\"\n")); err != nil || s.Substrate.Type != "p" {
		t.Errorf("the substrate is of type p if nothing is said: %v, %v", s, err)
	}
	if _, ok := s.LayerNamed("nowhere"); ok {
		t.Error("a layer was found that is not there")
	}
	if got := Role(9).String(); got != "Role(9)" {
		t.Errorf("a role that is none reads %q", got)
	}
}

func TestLongName(t *testing.T) {
	for letters, good := range map[int]bool{200: true, 201: false} {
		source := "name = \"" + strings.Repeat("µ", letters) + "\"\n[[layer]]\nname = \"m\"\nrole = \"metal\"\n"
		if _, err := Parse("x", []byte(source)); (err == nil) != good {
			t.Errorf("a name of %d letters: %v", letters, err)
		}
	}
}

func TestLoad(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	for _, f := range []string{"my.toml", "cmos-1p1m"} {
		if err := os.WriteFile(f, []byte("[[layer]]\nname = \"mine\"\nrole = \"metal\"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for path, first := range map[string]string{"my.toml": "mine", "./cmos-1p1m": "mine", "cmos-1p1m": "diffusion"} {
		if s, err := Load(path); err != nil || s.Layers[0].Name != first {
			t.Errorf("%s: %v, want a stack that begins with layer %q", path, err, first)
		}
	}
	var p *Problem
	_, err := Load("cmos-2p3m-wel")
	if !errors.As(err, &p) || p.Text != "there is no such stack file, and no built-in stack of that name" ||
		p.Remedy != `did you mean "cmos-2p3m-well"? built in: `+BuiltinPattern {
		t.Errorf("an unknown name lists the built-in stacks, got %v", err)
	}
	for path, near := range map[string]string{"my.tml": "my.toml", dir + "/mi.toml": dir + "/my.toml"} {
		if _, err := Load(path); !errors.As(err, &p) || !strings.HasPrefix(p.Remedy, fmt.Sprintf("did you mean %q? built in: ", near)) {
			t.Errorf("%s: the file beside it is proposed, got %v", path, err)
		}
	}
	if _, err := Load("elsewhere/my.toml"); !errors.As(err, &p) || !strings.HasPrefix(p.Remedy, "built in: ") {
		t.Errorf("nothing is near to what is in a folder that is not there, got %v", err)
	}
	if _, err := Load(dir); err == nil || err.Error() != dir+": is a folder, not a stack file\n    give the file in it" {
		t.Errorf("a folder is no stack file, got %v", err)
	}
	if _, err := Load("my.toml/x"); err == nil || !strings.HasPrefix(err.Error(), "stack file: open my.toml/x") {
		t.Errorf("a file is no folder, got %v", err)
	}
}

// TestNearest: a misspelt layer is found, another layer is not one.
func TestNearest(t *testing.T) {
	s := &Stack{Layers: []Layer{{Name: "diffusion"}, {Name: "poly"}, {Name: "metal1"}, {Name: "metal2"}}}
	for name, want := range map[string]string{"difusion": "diffusion", "POLLY": "poly", "meatl2": "metal2", "metl1": "metal1",
		"metal3": "", "metal": "", "resistor": "", "": ""} {
		if got := s.Nearest(name); got != want {
			t.Errorf("%q: got %q, want %q", name, got, want)
		}
	}
}

// TestLoadLong: a drawing that was taken for a stack file is not read as a whole.
func TestLoadLong(t *testing.T) {
	path := filepath.Join(t.TempDir(), "big.toml")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 256<<20); err != nil { // takes no room on the disk
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := Load(path)
	runtime.ReadMemStats(&after)
	if n := after.TotalAlloc - before.TotalAlloc; err == nil || !strings.Contains(err.Error(), "longer than 1 MB") || n > 16<<20 {
		t.Errorf("%v, and %d bytes taken", err, n)
	}
}

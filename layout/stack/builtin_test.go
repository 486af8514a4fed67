package stack

import (
	"fmt"
	"strings"
	"testing"
)

// TestBuiltins holds every built-in stack against what the comment of Builtins says.
func TestBuiltins(t *testing.T) {
	seen := map[string]bool{}
	for _, n := range Builtins() {
		seen[n] = true
	}
	if len(Builtins()) != 40 || len(seen) != 40 {
		t.Errorf("%d built-in stacks of %d names, want 5 metals × 2 polys × well or not × split or not = 40", len(Builtins()), len(seen))
	}
	for polys := 1; polys <= 2; polys++ {
		for metals := 1; metals <= 5; metals++ {
			for _, suffix := range []string{"", "-well", "-split", "-well-split"} {
				name := fmt.Sprintf("cmos-%dp%dm%s", polys, metals, suffix)
				if s, ok := Builtin(name); ok {
					checkLayers(t, name, s, polys, metals, suffix)
					checkRules(t, name, s, polys, suffix)
					roundTrip(t, s) // Parse also checks that no pair is used twice
				} else {
					t.Errorf("%s is not built in", name)
				}
			}
		}
	}
	if _, ok := Builtin("cmos-3p1m"); ok {
		t.Error("cmos-3p1m is none")
	}
}

func checkLayers(t *testing.T, name string, s *Stack, polys, metals int, suffix string) {
	t.Helper()
	below := "poly diffusion"
	if strings.HasSuffix(suffix, "-split") {
		below = "poly ndiffusion pdiffusion"
	}
	if polys == 2 {
		below = "poly2 " + below
	}
	want := map[string]string{"contact": "metal1 " + below} // joins by contact
	for n := 2; n <= metals; n++ {
		want[fmt.Sprintf("via%d", n-1)] = fmt.Sprintf("metal%d metal%d", n, n-1)
	}
	for i, l := range s.Layers {
		if joins := names(s, l.Joins); joins != want[l.Name] {
			t.Errorf("%s: %s joins %q, want %q", name, l.Name, joins, want[l.Name])
		}
		delete(want, l.Name)
		if !goodColor.MatchString(l.Color) || len(l.GDS) != 1 || (len(l.Labels) == 1) != (l.Role != Contact) {
			t.Errorf("%s: layer %d: %+v lacks colour, GDSII pair or labels", name, i, l)
		}
	}
	if len(want) > 0 {
		t.Errorf("%s lacks %v", name, want)
	}
	if _, well := s.LayerNamed("nwell"); well != strings.HasPrefix(suffix, "-well") {
		t.Errorf("%s: has a well: %v", name, well)
	}
}

func checkRules(t *testing.T, name string, s *Stack, polys int, suffix string) {
	t.Helper()
	gates := map[int]string{1: "poly", 2: "poly poly2"}[polys]
	want := map[string]string{
		"":       "",
		"-well":  "nfet n (!nwell) " + gates + " over diffusion substrate; pfet p (nwell) " + gates + " over diffusion nwell; ",
		"-split": "nfet n () " + gates + " over ndiffusion unknown; pfet p () " + gates + " over pdiffusion unknown; ",
		"-well-split": "nfet n (!nwell) " + gates + " over ndiffusion substrate; pfet p (nwell) " + gates + " over pdiffusion nwell; " +
			"tap (nwell) ndiffusion nwell; tap (!nwell) pdiffusion substrate; ",
	}[suffix]
	tie := func(t Tie) string {
		if l, ok := t.Well(); ok {
			return s.Layers[l].Name
		}
		return map[bool]string{true: "substrate", false: "unknown"}[t.Substrate()]
	}
	var b strings.Builder
	for _, r := range s.MOS {
		fmt.Fprintf(&b, "%s %s (%s) %s over %s %s; ", r.Model, r.Type, conditions(s, r.Where), names(s, r.Gates), names(s, r.Diffusions), tie(r.Bulk))
	}
	for _, r := range s.Taps {
		fmt.Fprintf(&b, "tap (%s) %s %s; ", conditions(s, r.Where), names(s, r.Diffusions), tie(r.Ties))
	}
	if got := b.String(); got != want {
		t.Errorf("%s: rules %q, want %q", name, got, want)
	}
}

// TestBuiltinNumbers: a layer has the same GDSII pairs in every variant, those of the table in the comment of Builtins.
func TestBuiltinNumbers(t *testing.T) {
	numbers := map[string]int16{"diffusion": 1, "ndiffusion": 1, "pdiffusion": 2, "nwell": 3, "contact": 10, "poly": 11, "poly2": 12,
		"via1": 21, "via2": 22, "via3": 23, "via4": 24, "metal1": 31, "metal2": 32, "metal3": 33, "metal4": 34, "metal5": 35}
	met := map[string]bool{}
	for _, n := range Builtins() {
		s, _ := Builtin(n)
		for _, l := range s.Layers {
			met[l.Name] = true
			number := numbers[l.Name]
			if l.GDS[0] != (Pair{number, 0}) || len(l.Labels) > 0 && l.Labels[0] != (Pair{number, 1}) {
				t.Errorf("%s: %s has %v and labels %v, want number %d", n, l.Name, l.GDS, l.Labels, number)
			}
		}
	}
	if len(met) != len(numbers) {
		t.Errorf("met %v", met)
	}
}

// TestBuiltinIsACopy: what a caller does to a built-in stack stays with the caller, and with the rule it is done to.
func TestBuiltinIsACopy(t *testing.T) {
	a, _ := Builtin("cmos-1p1m-well")
	gate := a.MOS[0].Gates[0]
	a.Layers[0].Name, a.Layers[0].GDS[0], a.MOS[0].Gates[0] = "changed", Pair{99, 0}, 0
	b, _ := Builtin("cmos-1p1m-well")
	if b.Layers[0].Name != "diffusion" || b.Layers[0].GDS[0] != (Pair{1, 0}) || b.MOS[0].Gates[0] != gate || a.MOS[1].Gates[0] != gate {
		t.Error("a change in one place shows in another")
	}
}

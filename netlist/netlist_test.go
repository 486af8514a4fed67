package netlist

import (
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func compareNatural(a, b string) int {
	switch {
	case NaturalLess(a, b):
		return -1
	case NaturalLess(b, a):
		return 1
	}
	return 0
}

func TestNaturalLess(t *testing.T) {
	want := []string{"", "A", "A<2>", "A<10>", "A<10>x", "B1", "B01", "B2", "a9", "a10b2", "a10b10", "a99999999999999999999999", "a100000000000000000000000"}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, compareNatural)
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	for _, a := range want {
		if NaturalLess(a, a) {
			t.Errorf("%q is less than itself", a)
		}
	}
}

// TestNaturalLessIsAnOrder: of two different names one comes first, and what comes before what comes before c comes
// before c. A sort relies on both.
func TestNaturalLessIsAnOrder(t *testing.T) {
	name := rapid.StringMatching(`[a0-2]{0,4}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := name.Draw(t, "a"), name.Draw(t, "b"), name.Draw(t, "c")
		if NaturalLess(a, b) == NaturalLess(b, a) && a != b {
			t.Fatalf("%q and %q have no order", a, b)
		}
		if NaturalLess(a, b) && NaturalLess(b, c) && !NaturalLess(a, c) {
			t.Fatalf("%q < %q < %q, but not %q < %q", a, b, c, a, c)
		}
	})
}

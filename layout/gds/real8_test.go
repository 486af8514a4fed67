package gds

import (
	"bytes"
	"encoding/hex"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The bytes were encoded by a program that is not this one from the IEEE double of the decimal; 1e-3 and 1e-9 are
// also what the published layouts in the corpus hold.
var real8Table = []struct {
	value float64
	bytes string
}{
	{1e-3, "3E 41 89 37 4B C6 A7 F0"}, {1e-9, "39 44 B8 2F A0 9B 5A 54"},
	{1e-6, "3C 10 C6 F7 A0 B5 ED 8D"}, {0.1, "40 19 99 99 99 99 99 9A"},
	{1, "41 10 00 00 00 00 00 00"}, {-1, "C1 10 00 00 00 00 00 00"},
	{2, "41 20 00 00 00 00 00 00"}, {0.5, "40 80 00 00 00 00 00 00"},
	{0.25, "40 40 00 00 00 00 00 00"}, {1.5, "41 18 00 00 00 00 00 00"},
	{45, "42 2D 00 00 00 00 00 00"}, {90, "42 5A 00 00 00 00 00 00"},
	{180, "42 B4 00 00 00 00 00 00"}, {270, "43 10 E0 00 00 00 00 00"},
	{16, "42 10 00 00 00 00 00 00"}, {256, "43 10 00 00 00 00 00 00"},
	{255, "42 FF 00 00 00 00 00 00"}, {1000, "43 3E 80 00 00 00 00 00"},
	{5e-4, "3E 20 C4 9B A5 E3 53 F8"}, {5e-10, "39 22 5C 17 D0 4D AD 2A"},
	{1e-8, "3A 2A F3 1D C4 61 18 74"}, {0, "00 00 00 00 00 00 00 00"},
}

func TestReal8Table(t *testing.T) {
	for _, tc := range real8Table {
		want, err := hex.DecodeString(strings.ReplaceAll(tc.bytes, " ", ""))
		if err != nil {
			t.Fatal(err)
		}
		if got := appendReal8(nil, tc.value); !bytes.Equal(got, want) {
			t.Errorf("%g: encoded % X, want % X", tc.value, got, want)
		}
		if got := real8(want); got != tc.value {
			t.Errorf("% X: decoded %.17g, want %.17g", want, got, tc.value)
		}
	}
}

// The ends of the range follow from the definition: 16^63 (1 - 2^-56), which rounds to 16^63, and 16^-65.
func TestReal8Range(t *testing.T) {
	largest := real8([]byte{0x7F, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})
	if largest != math.Ldexp(1, 252) || math.Abs(largest/7.237e75-1) > 1e-4 {
		t.Errorf("largest is %g, want 2^252 = 7.237e75", largest)
	}
	smallest := []byte{0, 0x10, 0, 0, 0, 0, 0, 0}
	if x := real8(smallest); x != math.Ldexp(1, -260) || math.Abs(x/5.398e-79-1) > 1e-4 {
		t.Errorf("smallest normalised is %g, want 2^-260 = 5.398e-79", x)
	} else if got := appendReal8(nil, x); !bytes.Equal(got, smallest) {
		t.Errorf("%g: encoded % X, want % X", x, got, smallest)
	}
	if got := appendReal8(nil, math.Ldexp(1, -270)); !bytes.Equal(got, make([]byte, 8)) {
		t.Errorf("2^-270 encoded % X, want zero", got)
	}
	// A fraction that is not normalised has a value all the same: 1/256 · 16² = 1.
	if got := real8([]byte{0x42, 0x01, 0, 0, 0, 0, 0, 0}); got != 1 {
		t.Errorf("unnormalised 1 decoded as %g", got)
	}
	for _, x := range []float64{math.Ldexp(1, 252), math.Inf(1), math.NaN()} {
		if !panics(func() { appendReal8(nil, x) }) {
			t.Errorf("encoding %g did not panic", x)
		}
	}
}

func panics(f func()) (did bool) {
	defer func() { did = recover() != nil }()
	f()
	return false
}

func TestReal8RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := math.Ldexp(rapid.Float64Range(-2, 2).Draw(t, "fraction"), rapid.IntRange(-200, 200).Draw(t, "exponent"))
		if math.Abs(x) < 1e-70 {
			x = 0
		}
		if got := real8(appendReal8(nil, x)); got != x {
			t.Fatalf("%.17g came back as %.17g", x, got)
		}
	})
}

func TestGrid(t *testing.T) {
	for _, tc := range []struct {
		unitNm   float64
		num, den int // 0: not allowed
	}{
		{1, 1, 1}, {1 + 1e-15, 1, 1}, {real8(real1e_9) * 1e9, 1, 1}, {real8(real5e_10) * 1e9, 1, 2},
		{real8(real1e_8) * 1e9, 10, 1}, {0.1, 1, 10}, {2.5, 5, 2}, {25.4, 127, 5}, {1e-4, 1, 10000}, {1e5, 100000, 1},
		{1.0 / 3, 1, 3}, {math.Pi, 0, 0}, {1 + 1e-9, 0, 0}, {0, 0, 0}, {-1, 0, 0}, {math.NaN(), 0, 0}, {math.Inf(1), 0, 0},
		{0.9e-4, 0, 0}, {1.1e5, 0, 0},
	} {
		g, ok := newGrid(tc.unitNm)
		if ok != (tc.den != 0) || g != (grid{tc.num, tc.den}) {
			t.Errorf("%g nm: got %v, %t; want %d/%d", tc.unitNm, g, ok, tc.num, tc.den)
		}
	}
	for _, tc := range []struct {
		g     grid
		units int
		nm    int
		whole bool
	}{
		{grid{1, 2}, 6, 3, true}, {grid{1, 2}, 7, 3, false}, {grid{1, 2}, -7, -3, false}, {grid{10, 1}, -3, -30, true},
		{grid{127, 5}, 10, 254, true}, {grid{999_999_999, 10_000}, math.MinInt32, 0, false},
	} {
		nm, whole := tc.g.nm(tc.units)
		if whole != tc.whole || whole && nm != tc.nm {
			t.Errorf("%v: %d units are %d nm (whole %t), want %d (%t)", tc.g, tc.units, nm, whole, tc.nm, tc.whole)
		}
	}
}

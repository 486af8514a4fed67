package main

import (
	"math"
	"strings"
	"testing"
)

// TestQuantity: lengths by the definitions of their units: 1 mm = 1000 µm = 1000000 nm. What has the usual unit, or none,
// is kept to the bit.
func TestQuantity(t *testing.T) {
	for _, tc := range []struct {
		text, unit string
		want       float64
	}{{"0.0691", "µm", 0.0691}, {"0.0691um", "µm", 0.0691}, {"0.0691 µm", "µm", 0.0691}, {"0.0691μm", "µm", 0.0691}, {"69.1nm", "µm", 0.0691}, {"1.2mm", "µm", 1200},
		{"550", "nm", 550}, {"550nm", "nm", 550}, {"0.55um", "nm", 550}, {"2mm", "nm", 2e6}, {"0.9", "", 0.9}, {" 1e-3 ", "", 0.001}, {"-5", "µm", -5}} {
		if got, err := parseQuantity(tc.text, tc.unit); err != nil || math.Abs(got-tc.want) > 1e-15*math.Abs(tc.want) {
			t.Errorf("%q in %q: %g, %v; want %g", tc.text, tc.unit, got, err, tc.want)
		}
	}
	for _, tc := range []struct{ text, unit, want string }{
		{"0,9", "", "write a decimal point, as in 0.9"}, {"0,55um", "nm", "write a decimal point, as in 0.55"},
		{"0.9nm", "", "give a number, as in 0.9"}, {"", "", "give a number, as in 0.9"}, {"NaN", "µm", "give a number of µm"}, {"Inf", "nm", "give a number of nm"}, {"1e999", "nm", "give a number of nm"},
		{"5 m", "µm", "as in 3.45, or one with nm, um or mm behind it, as in 3450nm"}, {"um", "µm", "give a number of µm"}, {"1,2,3", "µm", "give a number of µm"}, {"5px", "µm", "give a number of µm"},
	} {
		if got, err := parseQuantity(tc.text, tc.unit); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%q in %q: %g, %v; want %q", tc.text, tc.unit, got, err, tc.want)
		}
	}
}

func TestWord(t *testing.T) {
	for text, want := range map[string]string{"kiln.dossier": "kiln.dossier", "step 2": "'step 2'", "": "''", "it's": `'it'\''s'`, "$HOME": "'$HOME'", "50×": "50×"} {
		if got := word(text); got != want {
			t.Errorf("%q: %s, want %s", text, got, want)
		}
	}
}

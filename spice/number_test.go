package spice

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// numbers are suffixes and odd spellings, each of which was run in ngspice-39 (TestNumbersInSimulator does so again).
var numbers = map[string]float64{
	"1t": 1e12, "1T": 1e12, "1k": 1e3, "1K": 1e3, "1kohm": 1e3, "1g": 1e9, "1meg": 1e6, "1MEG": 1e6, "1megohm": 1e6,
	"1m": 1e-3, "1M": 1e-3, "1MF": 1e-3, "1mm": 1e-3, "1mil": 25.4e-6, "1MIL": 25.4e-6, "1mils": 25.4e-6,
	"1u": 1e-6, "1uF": 1e-6, "1µ": 1e-6, "1n": 1e-9, "1p": 1e-12, "1f": 1e-15, "1F": 1e-15, "1farad": 1e-15,
	"10V": 10, "10Volts": 10, "1Hz": 1, "1a": 1, "1x": 1, "1_000": 1, "1e3k": 1e6, "1e-3meg": 1e3, "1d3": 1e3,
	".5": 0.5, "5.": 5, "+5": 5, "4k7": 4000, "0x10": 0, "1.2.3": 1.2, "1e": 1,
}

func TestNumbers(t *testing.T) {
	for text, want := range numbers {
		got, err := parseNumber(text)
		if err != nil || !near(got, want, 1e-15) {
			t.Errorf("%s = %v (%v), want %v", text, got, err, want)
		}
	}
	// the float nearest to the decimal (IEEE 754), not a product
	for text, want := range map[string]float64{"0.13u": 1.3e-7, "640.00n": 6.4e-7, "1.12u": 1.12e-6, "608.4f": 6.084e-13, "7.1e-07": 7.1e-7,
		"-3.3e-1k": -330, "1E+3": 1000, "2.5\xb5": 2.5e-6, "1μ": 1e-6, "1e-99999999999999999999": 0} {
		if got, err := parseNumber(text); err != nil || got != want {
			t.Errorf("%s = %v (%v), want %v", text, got, err, want)
		}
	}
	for text, want := range map[string]string{"": `"" is no number`, "k": `"k" is no number`, ".": `"." is no number`, "-": `"-" is no number`,
		"abc": `"abc" is no number`, "1+2": `"1+2" is no number`, "1 k": `"1 k" is no number`, "1e999": `"1e999" is too large a number`,
		"1e99999999999999999999": `"1e99999999999999999999" is too large a number`} {
		if _, err := parseNumber(text); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// TestNumbersInSimulator lets ngspice read the same table.
func TestNumbersInSimulator(t *testing.T) {
	var deck, commands strings.Builder
	var texts []string
	for text := range numbers {
		texts = append(texts, text)
	}
	texts = append(texts, "'1k'", "{2k}")
	deck.WriteString("numbers\n")
	commands.WriteString("op\nset numdgt=12\n")
	for i, text := range texts {
		fmt.Fprintf(&deck, "V%d a%d 0 %s\n", i, i, text)
		fmt.Fprintf(&commands, "print v(a%d)\n", i)
	}
	said := accept(t, deck.String(), commands.String())
	for i, text := range texts {
		want, err := (&scope{}).value(strings.Trim(text, "'{}"))
		if got := printed(t, said, fmt.Sprintf("v(a%d)", i)); err != nil || !near(got, want, 1e-11) {
			t.Errorf("%s is %v to ngspice, %v (%v) here", text, got, want, err)
		}
	}
}

// TestNanometres: 6.4e-7 m is exactly 640 nm, and so is every length of the grid.
func TestNanometres(t *testing.T) {
	for _, tc := range []struct {
		text string
		nm   float64
	}{{"6.4e-07", 640}, {"640.00n", 640}, {"0.64u", 640}, {"1.215e-06", 1215}, {"8.15e-07", 815}, {"0.0000005u", 0.0005}, {"10", 1e10}} {
		v, err := parseNumber(tc.text)
		if err != nil || nm(v) != tc.nm {
			t.Errorf("%s m is %v nm (%v), want %v", tc.text, nm(v), err, tc.nm)
		}
	}
	for text, want := range map[string]float64{"0.2052p": 205200, "608.4f": 608400, "37p": 37e6, "1e-6": 1e12, "12345.678901p": 12345678901} {
		if v, err := parseNumber(text); err != nil || nm2(v) != want {
			t.Errorf("%s m² is %v nm² (%v), want %v", text, nm2(v), err, want)
		}
	}
}

// TestWrittenSizesReadBack: whatever length or area is written to 0.001 nm reads back as that very float64.
func TestWrittenSizesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := float64(rapid.Int64Range(0, 999_999_999_999_999).Draw(t, "thousandths")) / 1000
		for _, tc := range []struct {
			places int
			suffix string
			back   func(float64) float64
		}{{3, "u", nm}, {6, "p", nm2}} {
			text := shifted(x, tc.places) + tc.suffix
			if v, err := parseNumber(text); err != nil || tc.back(v) != x {
				t.Fatalf("%v is written %s and read %v (%v)", x, text, tc.back(v), err)
			}
		}
	})
	for _, tc := range []struct {
		x      float64
		places int
		want   string
	}{{640, 3, "0.64"}, {0, 3, "0"}, {0.001, 3, "0.000001"}, {1e6, 3, "1000"}, {205200, 6, "0.2052"}, {1, 6, "0.000001"}, {0.0004, 3, "0"}, {123456789.125, 6, "123.456789125"}} {
		if got := shifted(tc.x, tc.places); got != tc.want {
			t.Errorf("%v, %d places: %s, want %s", tc.x, tc.places, got, tc.want)
		}
	}
	if nm(math.Inf(1)) != math.Inf(1) {
		t.Error("an infinite length becomes finite")
	}
}

func TestExpressions(t *testing.T) {
	s := newScope([]param{{name: "W", text: "2*l"}, {name: "l", text: "{"}, {name: "L", text: "0.5u"}, {name: "a", text: "b+1", line: 7}, {name: "b", text: "a", line: 8}, {name: "z", text: "0"}}, nil)
	inner := newScope([]param{{name: "x", text: "w-l"}, {name: "l", text: "7"}}, s)
	for text, want := range map[string]float64{"1+2*3": 7, "(1+2)*3": 9, "2-3-4": -5, "8/4/2": 1, "-2*-3": 6, " 1 + 2 ": 3, "w": 1e-6, "W/L": 2, "2k*2": 4000,
		"1e-3*2": 2e-3, "+-+3": -3, "((((5))))": 5, ".5*4": 2} {
		if got, err := s.value(text); err != nil || !near(got, want, 1e-15) {
			t.Errorf("%s = %v (%v), want %v", text, got, err, want)
		}
	}
	if got, err := inner.value("x+l"); err != nil || !near(got, 1e-6, 1e-9) {
		t.Errorf("an inner l hides the outer one, but not from w: x+l = %v (%v)", got, err)
	}
	for text, want := range map[string]string{
		"":                       `"" ends where a number is missing`,
		"1+":                     `"1+" ends where a number is missing`,
		"1 2":                    `"1 2" is no expression from "2" on; numbers, parameters, + - * / and parentheses are read`,
		"2^3":                    `"2^3" is no expression from "^3" on; numbers, parameters, + - * / and parentheses are read`,
		"2**3":                   `"2**3" is no expression from "*3" on; numbers, parameters, + - * / and parentheses are read`,
		"(1":                     `"(1" lacks a )`,
		"1/z":                    `"1/z" divides by zero`,
		"q":                      `"q" is neither a number nor a parameter`,
		"sqrt(2)":                `"sqrt" is no function that is read; numbers, parameters, + - * / and parentheses are`,
		"1e300*1e300":            `"1e300*1e300" has no finite value`,
		"a":                      `parameter a, line 7: parameter b, line 8: parameter a is defined by itself, on line 7`,
		strings.Repeat("(", 300): `"` + strings.Repeat("(", 60) + `"… nests more than 200 deep`,
		strings.Repeat("-", 300): `"` + strings.Repeat("-", 60) + `"… nests more than 200 deep`,
	} {
		if v, err := s.value(text); err == nil || err.Error() != want {
			t.Errorf("%s = %v, %v\nwant %s", text, v, err, want)
		}
	}
}

// TestDeepParameters: a chain of parameters as long as a file may be is refused, not followed to the end of the stack.
func TestDeepParameters(t *testing.T) {
	var chain []param
	for i := range 100_000 {
		chain = append(chain, param{name: fmt.Sprint("p", i), text: fmt.Sprint("p", i+1), line: 1})
	}
	if _, err := newScope(chain, nil).value("p0"); err == nil || !strings.Contains(err.Error(), "nests more than 200 deep") {
		t.Error("no error, or another one")
	}
}

package spice

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// suffixes are the powers of ten that may follow a number, longest first; letters after them are a unit and ignored.
var suffixes = []struct {
	text  string
	value float64
}{{"meg", 1e6}, {"mil", 25.4e-6}, {"t", 1e12}, {"g", 1e9}, {"k", 1e3}, {"m", 1e-3}, {"u", 1e-6}, {"µ", 1e-6}, {"n", 1e-9}, {"p", 1e-12}, {"f", 1e-15}}

// parseNumber reads a SPICE number: digits, an exponent (e or d), a suffix, a unit. Case is ignored, and m is milli.
func parseNumber(s string) (float64, error) {
	t := strings.ToLower(s)
	n := mantissa(t)
	if n == 0 {
		return 0, fmt.Errorf("%q is no number", s)
	}
	head, rest := t[:n], t[n:]
	if k := exponent(rest); k > 0 {
		head += "e" + rest[1:k]
		rest = rest[k:]
	}
	exp := 0
	for _, x := range suffixes {
		if strings.HasPrefix(rest, x.text) {
			if x.text == "mil" {
				v, err := strconv.ParseFloat(head, 64)
				return v * x.value, err
			}
			exp = int(math.Round(math.Log10(x.value)))
			break
		}
	}
	v, err := strconv.ParseFloat(head, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no number that fits", s)
	}
	if exp != 0 { // through decimal, so that 0.13u is the float nearest to 1.3e-7
		if !strings.Contains(head, "e") {
			return strconv.ParseFloat(head+"e"+strconv.Itoa(exp), 64)
		}
		return v * math.Pow10(exp), nil
	}
	return v, nil
}

// mantissa returns the length of sign, digits and point at the beginning of s, 0 without a digit.
func mantissa(s string) int {
	i, digits, point := 0, 0, false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for ; i < len(s); i++ {
		switch {
		case s[i] >= '0' && s[i] <= '9':
			digits++
		case s[i] == '.' && !point:
			point = true
		default:
			if digits == 0 {
				return 0
			}
			return i
		}
	}
	if digits == 0 {
		return 0
	}
	return i
}

// exponent returns the length of an exponent at the beginning of s, 0 if there is none.
func exponent(s string) int {
	if len(s) < 2 || s[0] != 'e' && s[0] != 'd' {
		return 0
	}
	i := 1
	if s[i] == '+' || s[i] == '-' {
		i++
	}
	j := i
	for j < len(s) && s[j] >= '0' && s[j] <= '9' {
		j++
	}
	if j == i {
		return 0
	}
	return j
}

// nm turns metres into nanometres, to a millionth of one: what a decimal means, without its binary noise.
func nm(metres float64) float64 { return math.Round(metres*1e15) / 1e6 }

// nm2 turns square metres into nm², to a millionth.
func nm2(m2 float64) float64 { return math.Round(m2*1e24) / 1e6 }

package spice

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// number reads the number that s begins with and returns its value and its length in bytes: digits, an exponent (e or
// d), a suffix, a unit. The length is 0 without a digit; the value is infinite where it does not fit a float64.
//
// Case is ignored, so M is milli and F is femto. The unit is whatever letters and digits follow, and means nothing: 4k7
// is 4000 and 0x10 is 0 (SPICE3; seen in ngspice-39).
func number(s string) (float64, int) {
	n := mantissa(s)
	if n == 0 {
		return 0, 0
	}
	head, power := s[:n], 0
	if k := exponent(s[n:]); k > 0 {
		p, err := strconv.Atoi(s[n+1 : n+k])
		if err != nil { // so many digits that only the sign matters
			p = 9999
			if s[n+1] == '-' {
				p = -p
			}
		}
		power = p
		n += k
	}
	scale, times, k := suffix(s[n:])
	n += k
	for n < len(s) && isUnit(s[n]) {
		n++
	}
	v, err := strconv.ParseFloat(head, 64)
	if power += scale; power != 0 { // through the decimal, so that 0.13u is the float nearest to 1.3e-7
		v, err = strconv.ParseFloat(head+"e"+strconv.Itoa(power), 64)
	}
	if err != nil {
		v = math.Inf(1)
	}
	return v * times, n
}

// parseNumber reads a text that is a number and nothing else.
func parseNumber(s string) (float64, error) {
	v, n := number(s)
	switch {
	case n == 0 || n < len(s):
		return 0, fmt.Errorf("%s is no number", quote(s))
	case math.IsInf(v, 0):
		return 0, fmt.Errorf("%s is too large a number", quote(s))
	}
	return v, nil
}

// isArea reports whether s can be the area of a Q. Unlike other numbers it has no digits behind its unit, because many
// models are called 2n2222 and the like.
func isArea(s string) bool {
	n := mantissa(s)
	n += exponent(s[n:])
	_, k := number(s)
	return k > 0 && k == len(s) && !strings.ContainsAny(s[n:], "0123456789")
}

// mantissa returns the length of sign, digits and point at the beginning of s, 0 without a digit.
func mantissa(s string) int {
	i, digits, point := 0, 0, false
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	for ; i < len(s); i++ {
		if isDigit(s[i]) {
			digits++
		} else if s[i] == '.' && !point {
			point = true
		} else {
			break
		}
	}
	if digits == 0 {
		return 0
	}
	return i
}

// exponent returns the length of an exponent at the beginning of s, 0 if there is none.
func exponent(s string) int {
	if len(s) < 2 || lower(s[0]) != 'e' && lower(s[0]) != 'd' {
		return 0
	}
	i := 1
	if s[i] == '+' || s[i] == '-' {
		i++
	}
	j := i
	for j < len(s) && isDigit(s[j]) {
		j++
	}
	if j == i {
		return 0
	}
	return j
}

// suffix returns the power of ten and the further factor that s begins with, and the length in bytes of the suffix.
func suffix(s string) (power int, times float64, length int) {
	if s == "" {
		return 0, 1, 0
	}
	switch lower(s[0]) {
	case 't':
		return 12, 1, 1
	case 'g':
		return 9, 1, 1
	case 'k':
		return 3, 1, 1
	case 'm':
		switch {
		case len(s) >= 3 && strings.EqualFold(s[:3], "meg"):
			return 6, 1, 3
		case len(s) >= 3 && strings.EqualFold(s[:3], "mil"):
			return 0, 25.4e-6, 3
		}
		return -3, 1, 1
	case 'u', 0xb5: // µ in Latin-1
		return -6, 1, 1
	case 'n':
		return -9, 1, 1
	case 'p':
		return -12, 1, 1
	case 'f':
		return -15, 1, 1
	}
	if strings.HasPrefix(s, "µ") || strings.HasPrefix(s, "μ") { // the micro sign and the Greek letter
		return -6, 1, 2
	}
	return 0, 1, 0
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

func isLetter(c byte) bool { return lower(c) >= 'a' && lower(c) <= 'z' }

func isUnit(c byte) bool { return isLetter(c) || isDigit(c) || c == '_' || c == '.' || c >= 0x80 }

func lower(c byte) byte {
	if c >= 'A' && c <= 'Z' {
		return c + ('a' - 'A')
	}
	return c
}

// fold appends s to buf with A to Z in lower case: what names are compared by.
func fold(buf []byte, s string) []byte {
	n := len(buf)
	buf = append(buf, s...)
	for i, c := range buf[n:] {
		buf[n+i] = lower(c)
	}
	return buf
}

// folded returns s with A to Z in lower case.
func folded(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] >= 'A' && s[i] <= 'Z' {
			var b strings.Builder
			b.Grow(len(s))
			for k := 0; k < len(s); k++ {
				b.WriteByte(lower(s[k]))
			}
			return b.String()
		}
	}
	return s
}

// quote quotes a text for a message, and cuts it where it is long.
func quote(s string) string {
	const most = 60
	if len(s) > most {
		return strconv.Quote(strings.ToValidUTF8(s[:most], "")) + "…"
	}
	return strconv.Quote(s)
}

// nm turns metres into nanometres, to a millionth of one: what a decimal means, without its binary noise.
func nm(metres float64) float64 { return withoutNoise(metres * 1e9) }

// nm2 turns square metres into nm², to a millionth.
func nm2(m2 float64) float64 { return withoutNoise(m2 * 1e18) }

// withoutNoise rounds to a millionth, or to 15 digits where a float64 does not hold that many.
func withoutNoise(x float64) float64 {
	if math.Abs(x) < 1e9 {
		return math.Round(x*1e6) / 1e6
	}
	v, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'e', 14, 64), 64) // reads what was just written: no error
	return v
}

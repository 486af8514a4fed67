package svg

import (
	"fmt"
	"math"
	"strconv"
)

// scanner takes numbers out of an attribute: path data, points, transforms.
type scanner struct {
	s  string
	at int
}

// syntaxError is a fault of an attribute, at a character of it.
type syntaxError struct {
	at   int
	text string
}

func (e *syntaxError) Error() string { return fmt.Sprintf("character %d: %s", e.at+1, e.text) }

func (s *scanner) fail(format string, args ...any) error {
	return &syntaxError{s.at, fmt.Sprintf(format, args...)}
}

// found says what stands at the scanner's place.
func (s *scanner) found() string {
	if s.at >= len(s.s) {
		return "it ends"
	}
	end := min(len(s.s), s.at+12)
	return fmt.Sprintf("found %q", s.s[s.at:end])
}

func (s *scanner) space() {
	for s.at < len(s.s) {
		switch s.s[s.at] {
		case ' ', '\t', '\n', '\r', '\f':
			s.at++
		default:
			return
		}
	}
}

// separator skips white space with at most one comma in it, and says whether there was one.
func (s *scanner) separator() (comma bool) {
	s.space()
	if s.at < len(s.s) && s.s[s.at] == ',' {
		s.at++
		s.space()
		return true
	}
	return false
}

func (s *scanner) done() bool { return s.at >= len(s.s) }

func digit(c byte) bool { return c >= '0' && c <= '9' }

// more reports whether a number begins here.
func (s *scanner) more() bool {
	if s.done() {
		return false
	}
	c := s.s[s.at]
	return digit(c) || c == '.' || c == '-' || c == '+'
}

// number reads one number. It ends where the next character cannot belong to it, so that 10-20 and .5.5 are two each.
func (s *scanner) number() (float64, error) {
	i := s.at
	if i < len(s.s) && (s.s[i] == '+' || s.s[i] == '-') {
		i++
	}
	digits := 0
	for i < len(s.s) && digit(s.s[i]) {
		i++
		digits++
	}
	if i < len(s.s) && s.s[i] == '.' {
		i++
		for i < len(s.s) && digit(s.s[i]) {
			i++
			digits++
		}
	}
	if digits == 0 {
		return 0, s.fail("a number is missing, %s", s.found())
	}
	if i < len(s.s) && (s.s[i] == 'e' || s.s[i] == 'E') { // an exponent only with digits: 1em is a length
		k := i + 1
		if k < len(s.s) && (s.s[k] == '+' || s.s[k] == '-') {
			k++
		}
		if k < len(s.s) && digit(s.s[k]) {
			for k < len(s.s) && digit(s.s[k]) {
				k++
			}
			i = k
		}
	}
	v, err := strconv.ParseFloat(s.s[s.at:i], 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, s.fail("%.20q is beyond what a number can be", s.s[s.at:i])
	}
	s.at = i
	return v, nil
}

// numbers reads n numbers with separators between them.
func (s *scanner) numbers(v []float64) error {
	for i := range v {
		if i > 0 {
			s.separator()
		}
		var err error
		if v[i], err = s.number(); err != nil {
			return err
		}
	}
	return nil
}

// flag reads 0 or 1, which needs no separator behind it.
func (s *scanner) flag() (bool, error) {
	if s.done() || s.s[s.at] != '0' && s.s[s.at] != '1' {
		return false, s.fail("a flag of an arc is missing, 0 or 1; %s", s.found())
	}
	s.at++
	return s.s[s.at-1] == '1', nil
}

// list reads numbers up to the end.
func (s *scanner) list() (v []float64, err error) {
	for s.space(); !s.done(); {
		x, err := s.number()
		if err != nil {
			return nil, err
		}
		v = append(v, x)
		if s.separator() && s.done() {
			return nil, s.fail("a number is missing behind the comma")
		}
	}
	return v, nil
}

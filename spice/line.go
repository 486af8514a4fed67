package spice

import (
	"bufio"
	"fmt"
	"io"
	"strings"
)

// maxLine is the length of a line with its continuations above which a file is not taken for a netlist.
const maxLine = 1 << 20

// Error is something in a netlist that cannot be read.
type Error struct {
	File   string
	Line   int    // from 1
	Text   string // what was found, and what is allowed
	Remedy string // what to do next; may be empty
}

func (e *Error) Error() string {
	s := fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Text)
	if e.Remedy != "" {
		s += "\n    " + e.Remedy
	}
	return s
}

// card is a logical line: its words, and where it begins.
type card struct {
	line  int
	words []string
}

// cards splits a file into logical lines and calls f for each. Comments are dropped, continuation lines joined.
func cards(name string, r io.Reader, f func(card) error) error {
	sc := bufio.NewScanner(r)
	sc.Buffer(make([]byte, 0, 1<<16), maxLine)
	var text strings.Builder
	start, n := 0, 0
	flush := func() error {
		defer text.Reset()
		if words := fields(text.String()); len(words) > 0 {
			return f(card{start, words})
		}
		return nil
	}
	for sc.Scan() {
		n++
		line := stripComment(strings.TrimSuffix(sc.Text(), "\r"))
		trimmed := strings.TrimLeft(line, " \t")
		if trimmed == "" {
			continue
		}
		if trimmed[0] == '+' {
			if text.Len()+len(trimmed) > maxLine {
				return &Error{name, n, "the line with its continuations is longer than a netlist's can be", "is this a SPICE netlist?"}
			}
			text.WriteByte(' ')
			text.WriteString(trimmed[1:])
			continue
		}
		if err := flush(); err != nil {
			return err
		}
		start = n
		text.WriteString(trimmed)
	}
	if err := sc.Err(); err != nil {
		if err == bufio.ErrTooLong {
			return &Error{name, n + 1, "the line is longer than a netlist's can be", "is this a SPICE netlist?"}
		}
		return fmt.Errorf("%s: %w", name, err)
	}
	return flush()
}

// stripComment drops a comment: a line that begins with *, or what follows ; or // or a $ that stands by itself.
func stripComment(s string) string {
	if t := strings.TrimLeft(s, " \t"); t == "" || t[0] == '*' {
		return ""
	}
	for i := 0; i < len(s); i++ {
		before := i == 0 || s[i-1] == ' ' || s[i-1] == '\t'
		switch {
		case s[i] == ';',
			s[i] == '/' && before && i+1 < len(s) && s[i+1] == '/',
			s[i] == '$' && before && (i+1 == len(s) || s[i+1] == ' ' || s[i+1] == '\t'):
			return s[:i]
		}
	}
	return s
}

// fields splits a logical line into words. Blanks, commas and parentheses separate; name = value becomes name=value; an
// expression in braces or quotes stays together.
func fields(s string) []string {
	var words []string
	i := 0
	for i < len(s) {
		c := s[i]
		switch {
		case isBlank(c) || c == ',' || c == '(' || c == ')':
			i++
		case c == '=':
			i++
			j := skipBlanks(s, i)
			k := wordEnd(s, j)
			if len(words) > 0 {
				words[len(words)-1] += "=" + s[j:k]
			}
			i = k
		default:
			k := wordEnd(s, i)
			words = append(words, s[i:k])
			i = k
		}
	}
	return words
}

func isBlank(c byte) bool {
	return c == ' ' || c == '\t' || c == '\n' || c == '\f' || c == '\v' || c == '\r'
}

func skipBlanks(s string, i int) int {
	for i < len(s) && isBlank(s[i]) {
		i++
	}
	return i
}

func wordEnd(s string, i int) int {
	if i < len(s) {
		closing := map[byte]byte{'{': '}', '\'': '\''}[s[i]]
		if closing != 0 {
			if k := strings.IndexByte(s[i+1:], closing); k >= 0 {
				return i + k + 2
			}
			return len(s)
		}
	}
	for i < len(s) && !isBlank(s[i]) && !strings.ContainsRune(",()=", rune(s[i])) {
		i++
	}
	return i
}

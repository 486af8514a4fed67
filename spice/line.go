package spice

import (
	"fmt"
	"strings"
)

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

// card is a logical line: where it begins, and its text without comments, which holds at least one character that is
// not blank.
type card struct {
	line int
	text string
}

// cards splits a file into logical lines and calls f for each. Comments are dropped, continuation lines joined.
func cards(name, text string, f func(card) error) error {
	var pending card
	var joined strings.Builder
	flush := func() error {
		c := pending
		pending.text = ""
		if joined.Len() > 0 {
			c.text = joined.String()
			joined.Reset()
		}
		if c.text == "" {
			return nil
		}
		return f(c)
	}
	for n := 1; text != ""; n++ {
		line, rest, _ := strings.Cut(text, "\n")
		text = rest
		line, bad := content(strings.TrimSuffix(line, "\r"))
		switch {
		case bad >= 0:
			return &Error{name, n, fmt.Sprintf("the control character 0x%02x has no place in a netlist", line[bad]), "is this a SPICE netlist?"}
		case line == "":
		case line[0] != '+' || n == 1: // whatever stands first may be a title
			if err := flush(); err != nil {
				return err
			}
			pending = card{n, line}
		case pending.text == "":
			return &Error{name, n, "a continuation line with nothing before it", "+ goes on with the element above"}
		default:
			if joined.Len() == 0 {
				joined.WriteString(pending.text)
			}
			joined.WriteByte(' ')
			joined.WriteString(line[1:])
		}
	}
	return flush()
}

// content returns what of a line is not comment or leading blank, and the place of a control character in it, or -1.
func content(s string) (string, int) {
	i := 0
	for i < len(s) && isBlank(s[i]) {
		i++
	}
	s = s[i:]
	if s == "" || s[0] == '*' {
		return "", -1
	}
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == ';', c == '/' && i+1 < len(s) && s[i+1] == '/':
			return trimBlank(s[:i]), -1
		case c == '$' && (i == 0 || isBlank(s[i-1]) || s[i-1] == ',') && !isParameter(s[i+1:]):
			return trimBlank(s[:i]), -1
		case c < ' ' && !isBlank(c) || c == 0x7f:
			return s, i
		}
	}
	return s, -1
}

func trimBlank(s string) string {
	for s != "" && isBlank(s[len(s)-1]) {
		s = s[:len(s)-1]
	}
	return s
}

// isParameter reports whether s, which follows a $, is name= without a blank: CDL's way to hide a parameter from a
// simulator, for which it is a comment.
func isParameter(s string) bool {
	i := 0
	for i < len(s) && (isLetter(s[i]) || i > 0 && isDigit(s[i]) || s[i] == '_') {
		i++
	}
	return i > 0 && i < len(s) && s[i] == '='
}

// word is a word of a card, or a parameter with its value.
type word struct {
	text  string // the word, or the parameter's name without a leading $
	value string // of a parameter; without braces or quotes
	named bool   // a parameter
	expr  bool   // text stood in braces or quotes
}

// split appends the words of a card's text to words. Blanks, commas and parentheses separate, blanks around = do not
// matter, and what stands in braces or quotes is one word. The error is a phrase.
func split(s string, words []word) ([]word, error) {
	for i := 0; i < len(s); {
		c := s[i]
		switch {
		case isBlank(c) || c == ',' || c == '(' || c == ')':
			i++
		case c == '=':
			if len(words) == 0 || words[len(words)-1].named || words[len(words)-1].expr {
				return words, fmt.Errorf("= without a name before it")
			}
			i++
			for i < len(s) && isBlank(s[i]) {
				i++
			}
			k := valueEnd(s, i)
			w := &words[len(words)-1]
			w.named, w.text = true, strings.TrimPrefix(w.text, "$")
			if k == i || w.text == "" {
				return words, fmt.Errorf("%s= without a value", quote(w.text))
			}
			var err error
			if w.value, _, err = unbrace(s[i:k]); err != nil {
				return words, err
			}
			i = k
		default:
			k := wordEnd(s, i)
			text, expr, err := unbrace(s[i:k])
			if err != nil {
				return words, err
			}
			words = append(words, word{text: text, expr: expr})
			i = k
		}
	}
	return words, nil
}

func isBlank(c byte) bool {
	return c == ' ' || c == '\t' || c == '\f' || c == '\v'
}

// wordEnd returns where the word that begins at i ends.
func wordEnd(s string, i int) int {
	if k := braceEnd(s, i); k > i {
		return k
	}
	for i < len(s) && !isBlank(s[i]) && s[i] != ',' && s[i] != '(' && s[i] != ')' && s[i] != '=' {
		i++
	}
	return i
}

// valueEnd returns where the value that begins at i ends: like a word, but parentheses belong to it with what they hold.
func valueEnd(s string, i int) int {
	if k := braceEnd(s, i); k > i {
		return k
	}
	for depth := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '(':
			depth++
		case c == ')':
			if depth--; depth < 0 {
				return i
			}
		case c == '=', depth == 0 && (isBlank(c) || c == ','):
			return i
		}
	}
	return i
}

// braceEnd returns where the braces or quotes end that open at i; i if none do, the length of s if they stay open.
func braceEnd(s string, i int) int {
	if i >= len(s) || s[i] != '{' && s[i] != '\'' && s[i] != '"' {
		return i
	}
	depth := 0
	for k := i; k < len(s); k++ {
		switch {
		case s[i] != '{':
			if k > i && s[k] == s[i] {
				return k + 1
			}
		case s[k] == '{':
			depth++
		case s[k] == '}':
			if depth--; depth == 0 {
				return k + 1
			}
		}
	}
	return len(s)
}

// unbrace takes the braces or quotes off a word that stands in them.
func unbrace(s string) (text string, braced bool, err error) {
	if s[0] != '{' && s[0] != '\'' && s[0] != '"' {
		return s, false, nil
	}
	closing := s[0]
	if closing == '{' {
		closing = '}'
	}
	if len(s) < 2 || s[len(s)-1] != closing {
		return "", false, fmt.Errorf("%s is not closed by %c", quote(s), closing)
	}
	return s[1 : len(s)-1], true, nil
}

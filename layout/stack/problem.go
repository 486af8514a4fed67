package stack

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// Problem is one mistake in a stack file.
type Problem struct {
	File         string
	Line, Column int    // from 1, the column in bytes; both 0 where it concerns the file as a whole
	Key          string // the path of the key, such as layer[2].joins[1], counted from 0
	Text         string // what was found, and what is allowed
	Remedy       string // what to do next
}

// Error renders the problem as "file:line:column: text", with the remedy on a second, indented line.
func (p *Problem) Error() string {
	where := p.File
	if p.Line > 0 {
		where = fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
	}
	s := where + ": " + p.Text
	if p.Remedy != "" {
		s += "\n    " + p.Remedy
	}
	return s
}

// maxProblems is how many mistakes are listed; a file of another kind would make thousands.
const maxProblems = 50

// joinProblems returns the problems in the order of the file as one error, nil if there are none.
func joinProblems(problems []*Problem) error {
	slices.SortStableFunc(problems, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	errs := make([]error, len(problems))
	for i, p := range problems {
		errs[i] = p
	}
	return errors.Join(errs...)
}

// quoted renders what stands in the file for a message: in quotes, on one line, the beginning of it if it is long.
func quoted(s string) string {
	const most = 64
	if r := []rune(s); len(r) > most {
		s = string(r[:most]) + "…"
	}
	return fmt.Sprintf("%q", s)
}

// didYouMean returns the name nearest to a misspelt one, or "" if none is near: a third of its letters may be wrong, and
// their case.
func didYouMean(name string, names []string) string {
	if name == "" {
		return ""
	}
	best, least := "", max(len(name)/3, 1)+1
	for _, n := range names {
		if d := editDistance(strings.ToLower(name), strings.ToLower(n)); d < least {
			best, least = n, d
		}
	}
	return best
}

// Nearest returns the layer that a misspelt name most likely means, "" where none is near. Layers that differ in their digits are
// others: metal2 is no misspelt metal1.
func (s *Stack) Nearest(name string) string {
	return didYouMean(name, slices.DeleteFunc(s.LayerNames(), func(l string) bool { return digits(l) != digits(name) }))
}

func digits(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
}

// instead is the remedy for a misspelt name: the nearest one if there is one, then all that would do.
func instead(name string, names []string, all string) string {
	if best := didYouMean(name, names); best != "" {
		return fmt.Sprintf("did you mean %q? %s", best, all)
	}
	return all
}

// editDistance is the number of letters to insert, drop or replace to get from a to b (Levenshtein, by rows). Texts
// longer than any name are far from everything.
func editDistance(a, b string) int {
	const long = 64
	if len(a) > long || len(b) > long {
		return long
	}
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diagonal := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := diagonal
			if a[i-1] != b[j-1] {
				d++
			}
			diagonal = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

package svg

import (
	"errors"
	"fmt"
	"strings"

	"undermetal/layout"
	"undermetal/layout/pen"
)

// Note is something the user should know about what was read, with the first place where it was met.
type Note struct {
	Text    string
	Count   int
	Line    int
	Element string
}

func (n Note) String() string {
	return fmt.Sprintf("%s: %d (first at line %d, %s)", n.Text, n.Count, n.Line, n.Element)
}

// Count is what was read onto one layer.
type Count struct {
	Layer                   string
	Polygons, Wires, Labels int
	Areas                   int // traced areas
}

// Report says what was read, and what was left out or taken differently from what the drawing says.
type Report struct {
	Layers   []Count           // in the library's order
	Unmapped []Unmapped        // left out because nothing says what layer they belong to, if that was allowed
	Notes    []Note            // in the order of their first places
	Stated   layout.Statements // what a drawing of Write says of its shapes, by data-sigma-nm and data-shot
	Held     []bool            // by rule of Options: it decided about something
}

// notes collects notes by text.
type notes struct {
	list []Note
	at   map[string]int
}

// mostNotes bounds the kinds of notes; a drawing may be full of elements that nobody knows.
const mostNotes = 64

func (n *notes) add(text string, el *node) { n.count(text, 1, el) }

func (n *notes) count(text string, count int, el *node) {
	if count == 0 {
		return
	}
	i, ok := n.at[text]
	if !ok {
		if len(n.list) == mostNotes {
			return
		}
		if n.at == nil {
			n.at = map[string]int{}
		}
		i = len(n.list)
		n.at[text] = i
		n.list = append(n.list, Note{text, 0, el.line, el.String()})
	}
	n.list[i].Count += count
}

// lost collects elements that lie where nothing can be placed, so that all of them can be told at once.
type lost struct {
	first *Error
	more  []string // of the others, the first few
	count int
}

// outside is the remedy for what Options.Within refuses; with rules there is another.
const outside = "move it to where it can be, or take it out of the drawing"

// WithRules adds to an error for what Options.Within refuses that a rule may leave that out; how is how rules are given,
// such as by a flag. Any other error stays as it is.
func WithRules(err error, how string) error {
	if e := (*Error)(nil); errors.As(err, &e) && e.Remedy == outside {
		e.Remedy = "move it to where it can be, or leave it out by a rule, as in " + how
	}
	return err
}

// shownLost is how many elements an error lists.
const shownLost = 12

// add keeps the error of an element that cannot be placed; any other it returns.
func (l *lost) add(err error) error {
	var of *Error
	var at *pen.PlaceError
	if !errors.As(err, &of) || !errors.As(err, &at) {
		return err
	}
	if at.Err != nil {
		of.Remedy = outside
	}
	if l.count++; l.first == nil {
		l.first = of
	} else if len(l.more) < shownLost-1 {
		l.more = append(l.more, fmt.Sprintf("line %d, %s: %s", of.Line, of.Element, of.Text))
	}
	return nil
}

// fault is the error where there are any.
func (l *lost) fault() error {
	if l.count > 1 {
		lines := l.more
		if n := l.count - 1 - len(l.more); n > 0 {
			lines = append(lines, fmt.Sprintf("and %d elements more", n))
		}
		l.first.Text += "\n    " + strings.Join(lines, "\n    ")
	}
	return l.first
}

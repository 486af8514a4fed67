package svg

import "fmt"

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
	Layers   []Count    // in the library's order
	Unmapped []Unmapped // left out because nothing says what layer they belong to, if that was allowed
	Notes    []Note     // in the order of their first places
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

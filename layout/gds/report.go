package gds

import (
	"cmp"
	"fmt"
	"slices"
)

// Skipped counts what was left out because its pair is not in the Map.
type Skipped struct {
	Pair
	Shapes, Labels int
}

// Note is something the user should know about what was read, with the first place where it was met.
type Note struct {
	Text   string
	Count  int
	Offset int64
	Cell   string
}

func (n Note) String() string {
	if n.Cell == "" {
		return fmt.Sprintf("%s: %d (first at byte %d)", n.Text, n.Count, n.Offset)
	}
	return fmt.Sprintf("%s: %d (first at byte %d, cell %s)", n.Text, n.Count, n.Offset, n.Cell)
}

// Report says what Read left out or took differently from what the stream says.
type Report struct {
	Skipped []Skipped     // by layer number, then datatype
	Notes   []Note        // in a fixed order; none with Count 0
	Met     map[Pair]bool // the pairs that shapes and labels have
}

type noteKind int

const (
	noteEmpty noteKind = iota
	noteNoWidth
	noteAbsoluteWidth
	noteAbsoluteTransform
	noteReplaced
	noteNoText
	noteKinds
)

var noteTexts = [noteKinds]string{
	noteEmpty:             "shapes that cover nothing, left out",
	noteNoWidth:           "paths of no width, left out",
	noteAbsoluteWidth:     "paths with an absolute width, magnified with their cell all the same",
	noteAbsoluteTransform: "placements with absolute magnification or angle, taken as relative",
	noteReplaced:          "names or texts with unprintable bytes, which became '?'",
	noteNoText:            "texts without a character, left out",
}

func (r *reader) note(k noteKind, at int64) {
	n := &r.notes[k]
	if n.Count == 0 {
		*n = Note{noteTexts[k], 0, at, r.cell}
	}
	n.Count++
}

// skip counts a shape or label whose pair is not in the map.
func (r *reader) skip(p Pair, label bool) {
	s := r.skipped[p]
	if s == nil {
		s = &Skipped{Pair: p}
		r.skipped[p] = s
	}
	if label {
		s.Labels++
	} else {
		s.Shapes++
	}
}

func (r *reader) report() *Report {
	rep := &Report{Met: r.layers.met}
	for _, s := range r.skipped {
		rep.Skipped = append(rep.Skipped, *s)
	}
	slices.SortFunc(rep.Skipped, func(a, b Skipped) int {
		return cmp.Or(cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.Datatype, b.Datatype))
	})
	for _, n := range r.notes {
		if n.Count > 0 {
			rep.Notes = append(rep.Notes, n)
		}
	}
	return rep
}

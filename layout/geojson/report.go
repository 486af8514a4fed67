package geojson

import (
	"fmt"

	"undermetal/layout"
)

// Note is something the user should know about what was read, with the first feature where it was met.
type Note struct {
	Text    string
	Count   int
	Feature int // from 1; 0: the file is a geometry by itself
}

func (n Note) String() string {
	return fmt.Sprintf("%s: %d%s", n.Text, n.Count, firstIn(n.Feature))
}

// Count is what was read onto one layer.
type Count struct {
	Layer                   string
	Polygons, Wires, Labels int
	Areas                   int // traced areas
}

// Unmapped is a value of the property "layer" that is no layer; empty where features do not have the property.
type Unmapped struct {
	Value          string
	Count, Feature int // how many features, and the first of them; 0: the file is a geometry by itself
}

// firstIn says which feature is the first, if there are any.
func firstIn(feature int) string {
	if feature == 0 {
		return ""
	}
	return fmt.Sprintf(" (first in feature %d)", feature)
}

func (u Unmapped) String() string {
	name := fmt.Sprintf("layer %q", u.Value)
	switch {
	case u.Value == "" && u.Feature == 0:
		return "a geometry by itself, which names no layer"
	case u.Value == "":
		name = "no property \"layer\""
	}
	return fmt.Sprintf("%s: %d%s", name, u.Count, firstIn(u.Feature))
}

// Report says what was read, and what was left out or taken differently from what the file says.
type Report struct {
	Layers   []Count           // in the library's order
	Unmapped []Unmapped        // left out because nothing says what layer they belong to, if that was allowed
	Notes    []Note            // in the order in which they were met first
	Stated   layout.Statements // what is said of shapes by the properties sigma_nm and shot
	Renamed  map[string]bool   // the values of Options.Rename that were met
}

func (r *reader) note(text string) {
	for i := range r.notes {
		if r.notes[i].Text == text {
			r.notes[i].Count++
			return
		}
	}
	r.notes = append(r.notes, Note{text, 1, r.number})
}

// mostUnmapped bounds the kinds that are kept.
const mostUnmapped = 1000

func (r *reader) leave(value string) {
	r.left++
	i, ok := r.unmappedAt[value]
	if !ok {
		if len(r.unmapped) == mostUnmapped {
			return
		}
		i = len(r.unmapped)
		r.unmappedAt[value] = i
		r.unmapped = append(r.unmapped, Unmapped{value, 0, r.number})
	}
	r.unmapped[i].Count++
}

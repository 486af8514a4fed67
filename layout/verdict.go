package layout

import "undermetal/layout/geom"

// Verdict is the user's answer to a question. It holds for all placements of the cell that it belongs to.
type Verdict struct {
	Layer   Layer
	At      geom.Point // nm, a place of the cell within what the question is about
	Kind    string     // of question
	Reading string     // the answer
}

// LostVerdict is a verdict whose cell is gone, or that is of no layer.
type LostVerdict struct {
	Verdict
	Cell string // the name that the cell had
}

package svg

import (
	"fmt"
	"strings"
)

// Error is a fault of a drawing, or of a library that cannot be written as one.
type Error struct {
	File         string // empty when writing
	Line, Column int    // of the element, from 1; 0: the file as a whole, or writing
	Element      string // such as path "a7"; when writing the cell
	Text         string // what was found, and what is allowed
	Remedy       string // what to do next
	Err          error  // the cause, if it lies outside the drawing
}

// Error renders place and text in one line, and the remedy in a second, indented one.
func (e *Error) Error() string {
	var place []string
	if e.File != "" {
		at := e.File
		if e.Line > 0 {
			at = fmt.Sprintf("%s:%d:%d", e.File, e.Line, e.Column)
		}
		place = append(place, at)
	}
	if e.Element != "" {
		place = append(place, e.Element)
	}
	text := strings.Join(append(place, e.Text), ": ")
	if e.Remedy != "" {
		text += "\n    " + e.Remedy
	}
	return text
}

// Unwrap returns the cause, if any.
func (e *Error) Unwrap() error { return e.Err }

// Remedies that several errors share.
const (
	getCopy     = "get a complete copy of the file, or save it anew"
	correct     = "correct it, or save the drawing anew as plain SVG"
	moveNearer  = "move the drawing nearer to the origin, or give a smaller unit"
	simplerFile = "save the drawing as plain SVG, without what is not part of it"
)

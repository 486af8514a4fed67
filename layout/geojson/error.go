package geojson

import "fmt"

// Error is a fault of a file, or of a library that cannot be written as one.
type Error struct {
	File    string // empty when writing
	Offset  int64  // of the byte behind what is wrong, from 0; negative when writing
	Feature int    // counted from 1; 0: outside of features
	Text    string // what was found, and what is allowed
	Remedy  string // what to do next
	Err     error  // the cause, if it lies outside the file
}

// Error renders place and text in one line, and the remedy in a second, indented one.
func (e *Error) Error() string {
	text := e.Text
	if e.Feature > 0 {
		text = fmt.Sprintf("feature %d: %s", e.Feature, text)
	}
	if e.Offset >= 0 && e.File != "" {
		text = fmt.Sprintf("byte %d: %s", e.Offset, text)
	}
	if e.File != "" {
		text = e.File + ": " + text
	}
	if e.Remedy != "" {
		text += "\n    " + e.Remedy
	}
	return text
}

// Unwrap returns the cause, if any.
func (e *Error) Unwrap() error { return e.Err }

// Remedies that several errors share.
const (
	getCopy    = "get a complete copy of the file, or write it anew"
	correct    = "correct it, or write the file anew with a program that keeps RFC 7946"
	moveNearer = "move the drawing nearer to the origin; positions are µm in the frame"
)

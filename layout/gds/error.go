package gds

import "fmt"

// Error is a fault of a stream, or of a library that cannot be written as one.
type Error struct {
	File   string // empty when writing
	Offset int64  // of the first byte of what is wrong, from 0; negative when writing
	Cell   string // empty outside a cell
	Text   string // what was found, and what is allowed
	Remedy string // what to do next
	Err    error  // the cause, if it lies outside the stream (a failed disk, a cancelled read)
}

// Error renders place and text in one line, and the remedy in a second, indented one.
func (e *Error) Error() string {
	place := ""
	switch {
	case e.Offset >= 0 && e.Cell != "":
		place = fmt.Sprintf("byte %d, cell %s: ", e.Offset, e.Cell)
	case e.Offset >= 0:
		place = fmt.Sprintf("byte %d: ", e.Offset)
	case e.Cell != "":
		place = fmt.Sprintf("cell %s: ", e.Cell)
	}
	if e.File != "" {
		place = e.File + ": " + place
	}
	text := place + e.Text
	if e.Remedy != "" {
		text += "\n    " + e.Remedy
	}
	return text
}

// Unwrap returns the cause that lies outside the stream, if any.
func (e *Error) Unwrap() error { return e.Err }

// Remedies that several errors share.
const (
	getCopy     = "get a complete copy of the file, or write it anew"
	damaged     = "the file is damaged here: get another copy, or write it anew"
	wrongWriter = "this breaks the order of a GDSII stream: write the file anew with a program that keeps it"
)

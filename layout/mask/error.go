package mask

import "fmt"

// Error is a fault of a mask, or of what is to be written as one.
type Error struct {
	File   string // empty when writing
	Text   string // what was found, where, and what is allowed
	Remedy string // what to do next
	Err    error  // the cause, if it is another's
}

// Error renders place and text in one line, and the remedy in a second, indented one.
func (e *Error) Error() string {
	text := e.Text
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

func fault(file, remedy, format string, args ...any) error {
	e := &Error{File: file, Text: fmt.Sprintf(format, args...), Remedy: remedy}
	for _, a := range args {
		if err, ok := a.(error); ok {
			e.Err = err
		}
	}
	return e
}

package desk

import (
	"image"

	"undermetal/cmd/undermetal/workbench/picture"
)

// Tone says what a stretch of text is, for the screen to choose how it looks. Colour must not be the only sign of it.
type Tone int

// The tones of text.
const (
	Plain   Tone = iota
	Quiet        // of less weight: units, hints
	Strong       // what one looks for first: names, titles
	Good         // done, agreed
	Caution      // deserves a look
	Failure      // did not work
	Marked       // under the cursor, or matched
)

// Span is a stretch of text of one line.
type Span struct {
	Text string
	Tone Tone
}

// Row is a line of a list.
type Row struct {
	Mark  string // one column before the text: what is so of it ("●" lit, "×" hidden …); empty where nothing is
	Text  string
	Note  string // of less weight, at the right
	Layer int    // the layer whose ink it bears, by index in the scene's layers; -1: none
	Place bool   // it lies somewhere, and can be jumped to
}

// List is what is open beside the picture.
type List struct {
	Title    string
	Rows     []Row
	Selected int    // -1: none
	Focus    bool   // keys go to it
	Hint     string // what its keys do
}

// Candidate is what a command line can go on with.
type Candidate struct {
	Text string // the word that it puts in
	Note string
}

// Prompt is the command line.
type Prompt struct {
	Label      string // before the text: ":", "find", "name"
	Text       []rune
	Cursor     int // in Text, 0 to len(Text)
	Candidates []Candidate
	Chosen     int    // of Candidates; -1: none
	Hint       string // what the line wants next
}

// Text is a page over the picture: help, a question in full, what a command said.
type Text struct {
	Title  string
	Lines  [][]Span
	Top    int // the first line that is to be seen
	Hint   string
	Choose []Candidate // answers that can be chosen by Up, Down and Enter; nil: none
	Chosen int
}

// Pane is a part of the picture with a scene of its own. As a rule there is one; while photographs are laid side by side, two.
type Pane struct {
	Box   image.Rectangle // px of all panes together
	Scene picture.Scene   // its View is as large as Box
	Title string
}

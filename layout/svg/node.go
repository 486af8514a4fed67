package svg

import "fmt"

// node is an element of the drawing, with what counts here.
type node struct {
	name         string // "#text": character data, inside of text
	line, column int
	id, label    string // label: an attribute of that name in any name space, which editors give to groups
	href         string
	classes      []string
	attributes   []declaration // presentation attributes
	style        []declaration // of the attribute style, which comes before all rules
	matrix       matrix        // its own transform
	outline      *path         // what it draws, in its own units
	box          *viewport     // of svg, symbol, use and image
	at           *anchor       // of text and tspan
	data         map[string]string
	text         string
	preserve     bool // white space of text counts
	children     []*node
}

// viewport is what an element says of its place.
type viewport struct {
	x, y                float64
	width, height       float64
	hasWidth, hasHeight bool
	view                Box
	hasView             bool
	aspect              string
}

// anchor is where text begins, as far as that is said.
type anchor struct {
	x, y       float64
	hasX, hasY bool
	dx, dy     float64
}

func (n *node) String() string {
	switch {
	case n.id != "":
		return fmt.Sprintf("%s %q", n.name, n.id)
	case n.label != "":
		return fmt.Sprintf("%s %q", n.name, n.label)
	}
	return n.name
}

// Document is a drawing that was read but not yet placed. Its places are in user units of the outermost svg element,
// which are those of its viewBox; y points downward.
type Document struct {
	Name      string  // of the file, for errors
	View      Box     // the viewBox; without one width and height from (0, 0), in px; of no size where neither is said
	UmPerUnit float64 // what the drawing itself says, as those of Write do; 0: nothing
	Images    []Image // the pictures in it, in order

	root  *node
	ids   map[string]*node
	rules []rule
	notes notes
}

func (d *Document) fail(n *node, remedy, format string, args ...any) error {
	e := &Error{File: d.Name, Text: fmt.Sprintf(format, args...), Remedy: remedy}
	if n != nil {
		e.Line, e.Column, e.Element = n.line, n.column, n.String()
	}
	for _, a := range args {
		if err, ok := a.(error); ok {
			e.Err = err
		}
	}
	return e
}

// Image is a picture in the drawing.
type Image struct {
	Href   string // where the picture is; empty where it lies in the drawing itself
	Line   int
	Box    Box // in the element's own units
	aspect string
	matrix matrix // its own units to those of the drawing
}

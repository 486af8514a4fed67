package schematic

import "undermetal/netlist"

// Point is a place on a sheet in grid units, x to the right and y down.
type Point struct{ X, Y int }

func (p Point) add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y} }

// Box is a closed rectangle on a sheet.
type Box struct{ Min, Max Point }

func (b Box) overlaps(c Box) bool {
	return b.Min.X <= c.Max.X && c.Min.X <= b.Max.X && b.Min.Y <= c.Max.Y && c.Min.Y <= b.Max.Y
}

func (b Box) contains(p Point) bool {
	return b.Min.X <= p.X && p.X <= b.Max.X && b.Min.Y <= p.Y && p.Y <= b.Max.Y
}

func (b Box) union(c Box) Box {
	return Box{Point{min(b.Min.X, c.Min.X), min(b.Min.Y, c.Min.Y)}, Point{max(b.Max.X, c.Max.X), max(b.Max.Y, c.Max.Y)}}
}

// Drawing is a circuit on sheets. Names hold across all of them: two flags with the same text are the same net.
type Drawing struct {
	Title  string
	Sheets []*Sheet
	// Bulk holds the net that the bulk of each transistor has whose symbol shows none; NoNet where every symbol shows it.
	BulkN, BulkP         netlist.Net
	BulkNName, BulkPName string
	GroundName           string // of the only ground, whose sign has no text
}

// Sheet is one page.
type Sheet struct {
	Size    Box
	Symbols []Symbol
	Wires   []Wire
	Dots    []Dot
	Flags   []Flag
	Notes   []string // below the drawing
}

// Wire is a line along the axes through two or more points. Net is what it was drawn for.
type Wire struct {
	Net    netlist.Net
	Points []Point
}

// Dot marks where wires of one net meet.
type Dot struct {
	Net netlist.Net
	At  Point
}

// Flag is a name on a net.
type Flag struct {
	Net  netlist.Net
	At   Point // on a pin or a wire of the net
	Side Side  // where the text is, as seen from At
	Kind FlagKind
	Text string
	Room Box // what bar and text take up
}

// FlagKind says how a flag is drawn.
type FlagKind uint8

// The kinds of flag.
const (
	NameFlag   FlagKind = iota // a name beside the end of a wire
	PortFlag                   // the same with an arrow head: a port of the circuit
	SheetFlag                  // a net that goes on on another sheet
	SupplyFlag                 // a bar above
	GroundFlag                 // the sign for ground below
)

// Side is a direction.
type Side uint8

// The sides.
const (
	Left Side = iota
	Right
	Up
	Down
)

var steps = [...]Point{Left: {-1, 0}, Right: {1, 0}, Up: {0, -1}, Down: {0, 1}}

func (s Side) opposite() Side { return s ^ 1 }

func (s Side) upright() bool { return s == Up || s == Down }

// Pin is where a symbol meets its net.
type Pin struct {
	Terminal string
	Net      netlist.Net
	At       Point
	Side     Side // the way out of the symbol
}

// Symbol is one device, instance or missing piece.
type Symbol struct {
	Shape    Shape
	Device   int32 // index into Circuit.Devices, -1 for others
	Instance int32 // index into Circuit.Instances, -1 for others
	At       Point // where the middle of the symbol's local system lies
	Turn     Turn
	Pins     []Pin
	Body     Box // without texts
	Text     []Text
	ID       string // of the device
	Place    string // on the die
	Missing  bool   // drawn dashed: a piece that should be there
	Bulk     bool   // of a transistor: has a pin for its bulk
	Kind     netlist.Kind
}

// Text is a line of letters in a symbol.
type Text struct {
	At   Point // on the middle of the line: where the text begins or ends, or its middle
	Side Side  // Left, Right: it extends to that side; Up: it is centred
	S    string
	Room Box
}

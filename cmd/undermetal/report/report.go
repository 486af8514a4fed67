package report

// Report is what a page tells. Texts are plain; what is empty is left out, and a section without anything in it, too.
type Report struct {
	Title    string
	Subtitle string
	Facts    []Fact   // what there is, in figures
	Remarks  []Remark // what the author pinned to places

	Shots     []Shot
	Blocks    *BlockMap
	Method    []Section // Cautions follow them on every page
	Circuit   []string  // sentences about the circuit as a whole
	Sizes     *Table
	Devices   *Table
	Drawings  []Drawing // of the circuit as a whole
	Groups    []Group
	Partial   *Partial // fits of known circuits but for a piece
	Questions []Question
	Waveforms []Waveform
	Netlist   string

	Left []string // what this report does not hold, and why
}

// Fact is a name and a value.
type Fact struct{ Name, Value string }

// Wide reports whether a fact takes a line of its own.
func (f Fact) Wide() bool { return len([]rune(f.Value)) > 60 }

// Remark is a text at a place.
type Remark struct{ Place, Text string }

// Section is a heading with paragraphs.
type Section struct {
	Heading    string
	Paragraphs []string
}

// Shot is a photograph: as it was taken, and with the tracing over it.
type Shot struct {
	Name     string
	Facts    []Fact
	Note     string
	Pictures []Picture
}

// Table is a table; columns of figures are aligned to the right.
type Table struct {
	Caption string
	Columns []Column
	Rows    [][]string
	Note    string // below it: such as how many rows were left out
}

// Column is the head of a column.
type Column struct {
	Name    string
	Figures bool
	Text    bool // of several words: it takes some room
}

// Drawing is an SVG drawing as a figure.
type Drawing struct {
	SVG     string
	Caption string
}

// Group is a circuit that was recognised.
type Group struct {
	Title, What, Source string
	Count               int
	Arrays              []string // of it, a sentence each
	Members             []string // devices of the first, by the pattern's names for them
	Drawing             *Drawing
	Note                string
}

// Partial are fits that lack pieces, or have some too many: they count as recognised nowhere else.
type Partial struct {
	Note string // what they are, for readers
	Fits []PartialFit
	More string // which were left out; empty: none
}

// PartialFit is one of them.
type PartialFit struct {
	Title, Where, Weight string
	Members              []string
	Pieces               []Piece
}

// Piece is what is missing, or too many.
type Piece struct {
	Text     string // with where to look
	Question string // the id of a question about it; empty: nothing asks
}

// Question is something that has more than one plausible reading, or had.
type Question struct {
	Title    string
	Where    string
	Answer   string // empty: it is open
	Remark   string // that the answer was given with
	Readings []Reading
	For      []string // evidence for the leading reading
	Against  []string
	Unseen   []string
	NextLook string
	Note     string
	Picture  *Picture
}

// Reading is one of its readings.
type Reading struct {
	Name, Odds, Percent string
}

// Waveform is what a simulation gave, beside what was expected.
type Waveform struct {
	Title    string
	Note     string
	Drawing  *Drawing
	Compared []Compared
}

// Compared is a figure as measured in the simulation, and as expected.
type Compared struct {
	What, Measured, Expected string
	Agrees                   bool // of what has an expected figure
}

// BlockMap is the block map beside its photograph.
type BlockMap struct {
	Photo         *Picture // without anything over it; nil: there is none
	Width, Height float64  // of the plane that places are in, from (0, 0) on, y down: that of the photograph
	Die           [][][2]float64
	Blocks        []Block
	Notes         []string
}

// Block is a block of the map.
type Block struct {
	Name, Status, Area, Share, Source, Reason string
	Support                                   []string
	Rings                                     [][][2]float64 // all of its regions, filled by the even-odd rule; none: it has no region
}

// Statuses of blocks that have a look of their own; all others look as the first.
const (
	Seen         = "seen"
	Supposed     = "supposed"
	Contradicted = "contradicted"
)

// Cautions are what every report says of the work it comes from.
var Cautions = []string{
	"Delayering a die uses hydrofluoric, nitric and sulfuric acid. Hydrofluoric acid goes through skin, harms before it hurts, and may kill; the " +
		"others burn, and their fumes, too. Such work belongs into a laboratory that is made for it, under trained supervision, by the local rules and the " +
		"safety data sheets of what is used. This report describes no procedure and replaces none of these.",
	"Some dies carry lasers or are looked at with them. Their light can blind before anybody sees it: the rules for the class of the laser hold.",
	"Whether a die may be opened and its circuit read, published or used depends on the place and the purpose. This report gives no legal advice.",
}

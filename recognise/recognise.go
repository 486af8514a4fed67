package recognise

import (
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise/library"
)

// Options are what a caller may choose.
type Options struct {
	Patterns []*library.Pattern    // nil: library.Embedded()
	Missing  int                   // the largest number of missing and extra pieces of a partial fit; 0: no partial fits
	Looked   func(geom.Point) bool // whether a place, in nm, was traced; nil: all was
	Workers  int                   // 0: as many as there are processors
	Progress func(done float64)    // called now and then with what is done, from 0 to 1, by one goroutine at a time; may be nil
	Supply   []netlist.Net         // supplies that are known beside those found by name and bulk
	Ground   []netlist.Net         // the same of grounds
}

// Result is what groups of devices of a circuit may be.
type Result struct {
	Fits    []Fit         // the best cover: full fits, no device in two of them but for shared ones, in the order of their first members
	Others  []Fit         // full fits that overlap those of the cover, the best first
	Partial []Fit         // fits but for named pieces, the most likely first
	Supply  []netlist.Net // nets taken for supplies, and below for grounds
	Ground  []netlist.Net

	CutShort []string // names of patterns of which not all placements are told, since on large nets there are too many
}

// Fit is a pattern laid onto devices.
type Fit struct {
	Pattern *library.Pattern
	Mirror  bool          // laid on with n and p, supply and ground swapped
	Members []Member      // in the order of the pattern's devices, without optional ones that are not there and without context
	Ports   []netlist.Net // in the order of the pattern's; NoNet where only a missing piece has it
	Inner   []netlist.Net // the pattern's other nets, in the order of Pattern.Circuit.Nets
	Loose   []int         // ports whose nets nothing else touches and that end within the traced area: indices in Ports
	Missing []Piece
	Extra   []Piece
	Weight  float64 // decibans for the fit against devices that are joined by chance; of a partial one its odds: see odds in odds.go
	Box     geom.Rect
}

// Member is a device with its part in the pattern.
type Member struct {
	Device  int32   // index in Circuit.Devices
	Role    string  // the pattern's device
	Fingers []int32 // devices parallel to it that count as one with it, itself not among them
}

// Piece is something that is missing from a fit, or that is there beside it.
type Piece struct {
	Kind     string        // "device", "connection"
	What     string        // of a device its kind: "nmos", …
	Role     string        // the pattern's device
	Between  []netlist.Net // nets it should join or does; NoNet: a net that has nothing else
	Names    []string      // what the pattern calls these
	Device   int32         // an extra device, or the one whose terminal is loose; -1: none
	At       geom.Point    // where to look, in nm
	Looked   bool          // whether that place was traced
	Question string        // id of a question about it; filled in by the caller
	Text     string        // a sentence for people
}

package question

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// The kinds of question.
const (
	TransistorOrCapacitor = "transistor-or-capacitor" // a plate of a gate layer: what does it make with what lies beneath?
	Polarity              = "polarity"                // a transistor of which no rule of the stack says whether it is n or p
	Photodiode            = "photodiode"              // a diffusion far larger than its contacts and gates need
	FloatingGate          = "floating-gate"           // a gate that nothing drives
	Contact               = "contact"                 // a contact that lands on one conductor, on none, or half on two
	NearMiss              = "near-miss"               // two nets that a small gap keeps apart
	SuppliesShorted       = "supplies-shorted"        // two supplies are one net
	SoftTie               = "soft-tie"                // taps of one well or of the substrate on several labelled nets
	Bulk                  = "bulk"                    // a transistor whose bulk is joined to nothing
	OutOfFamily           = "out-of-family"           // W or L far from those of its likes
	Asymmetry             = "asymmetry"               // a pair that should be equal and is not
	WireOrResistor        = "wire-or-resistor"        // a long, narrow conductor between two contacts, or a neck between wide ends: it may be a fuse, too
)

// Question is something that has more than one plausible reading. Its maps of decibans are shared with others of its kind: not to be changed.
type Question struct {
	ID      string // kind, instance and place; the same for the same drawing
	Kind    string
	At      geom.Point // nm in the frame; of the first where Count is more than 1
	Layer   string
	Path    string        // the instance whose drawing it lies in, empty for the top cell
	Devices []int         // their numbers in the circuit; of all places that are folded
	Nets    []netlist.Net // of the first place
	Shots   []string      // left to the caller, who knows what was traced over which photograph
	Count   int           // how many places of the same cell ask the same
	Places  []Place       // where the question was found, in the order of place; what netlist/check has folded has its first place only, a plate that is not listed none
	Prior   map[string]float64
	// Prior is what was believed before anything was looked at, by reading, in decibans: 10·log10 P(reading), up to a
	// common constant.

	Readings []Reading         // the most probable first
	Evidence []Evidence        // in the order of the table of weights
	NextLook Look              // of the looks that were not taken, the one that promises most; Bits is 0 where there is none
	Verdict  string            // the reading that the user has settled on, empty where none is
	Answers  map[string]string // by reading: what a verdict must say for extraction to follow it, where that is another word
	Note     string            // what the odds do not hold
	Box      geom.Rect         // around what it is about, in its first place; that place alone where it has no extent
	By       int               // the index in extract.Result.Verdicts of what Verdict comes from, -1 where there is none

	layer  layout.Layer
	always bool // it is asked whatever the odds
}

// Place is one of the places that are folded into a question.
type Place struct {
	At      geom.Point // nm in the frame, on the question's layer
	Path    string     // the instance whose drawing it lies in, empty for the top cell
	Devices []int      // their numbers in the circuit
	By      []int      // the indexes in extract.Result.Verdicts of all that say here what the question's Verdict says

	box   geom.Rect          // as draft.box
	about []extract.RegionID // as draft.about
}

// Reading is one answer that a question can have.
type Reading struct {
	Reading     string
	OddsDb      float64 // 10·log10(P/(1-P))
	Probability float64
}

// Evidence is an observation, made or not, with the weight that it lends each reading.
type Evidence struct {
	Text     string             // a sentence: what was seen, and why it matters; of what was not seen, how it would be
	Group    string             // observations of one group depend on each other: one of them is weighed
	Observed bool               // it was made
	Weighed  bool               // it counts: made, and the strongest of its group
	Decibans map[string]float64 // of what is weighed its weight, up to a common constant; else 10·log10 P(observation given reading); 0 where it was not made
	Outcome  string             // what was seen, in the words of the table of weights; empty where it was not made

	of *observation
	as *outcome // nil where it was not made
}

// Look is something that could still be done.
type Look struct {
	Text string
	Bits float64 // how much it is expected to tell about the readings
}

// Options are what a caller may choose.
type Options struct {
	// Prior replaces what is believed before anything is looked at, by kind and reading, in decibans. A reading that it does
	// not name keeps the value of the table. Nil: the table's.
	Prior map[string]map[string]float64
	// Traced are the areas that were looked at, as in layout.Library. A layer without any counts as looked at everywhere.
	Traced []layout.Shape
	// Kinds are those to ask; none: all.
	Kinds []string
	// All also lists what the evidence has decided.
	All bool
	// Progress is told now and then how many questions are weighed, of how many; may be nil.
	Progress func(done, total int)
}

// PlausibleDb is the odds, in decibans, below which a second reading is plausible: 20 dB, one in a hundred.
const PlausibleDb = 20

// Leading returns the most probable reading.
func (q *Question) Leading() Reading { return q.Readings[0] }

// On returns the layer that it lies on.
func (q *Question) On() layout.Layer { return q.layer }

// Listed reports whether it is asked without Options.All, too: the evidence has not decided it, or somebody has.
func (q *Question) Listed() bool {
	return q.always || q.Verdict != "" || q.Readings[0].OddsDb < PlausibleDb
}

// Open reports whether a second reading is plausible and nobody has settled on one.
func (q *Question) Open() bool { return q.Verdict == "" && q.Readings[0].OddsDb < PlausibleDb }

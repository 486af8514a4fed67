// Package bench drives recovered circuits: test benches that bind to a circuit by port → net, make a deck for a
// simulator, and hold what comes out against formulas.
//
// In: a flat circuit, and which of its nets are a bench's ports, as far as somebody knows (Setup.Ports). Out: a deck, and
// figures, each with what was measured, what was expected, by which formula and from where.
//  1. view.go      what hangs on which net; supplies, by their names and by what is tied to them
//  2. bench.go     All; Fits: the ports that the caller did not give are found by structure, then by usual names
//  3. template.go  a bench's text (templates/NAME.bench): its ports, its lines, its analyses
//  4. deck.go      the circuit's lines, supplies, ties, and the template with nodes and values put in
//  5. pixel.go …   one file a bench: its search for ports, its values, its figures; wave.go measures on waveforms
//  6. logic.go     what static gates compute, switch by switch: expected truth tables
//
// # Templates
//
//	# a comment
//	bench NAME
//	about what it does, in a line
//	port NAME | what it is | usual names of such nets
//	port NAME? | …                         one that need not be there
//	deck                                   lines of the deck follow
//	Vin <in> 0 {bias}                      <in> is the node of a port, or one of the bench's own; {bias} a value
//	run NAME: COMMAND                      an analysis
//	before COMMAND                         comes before it
//	save VECTOR …                          must come out of it
//	show VECTOR …                          is worth a plot
//
// Every bench has the ports vdd and vss besides; vss is node 0. A line whose value is "-" is left out, and a value may be
// several lines (the stimuli of however many inputs a gate has).
//
// Expected figures are by the level-1 formulas that the cards are for (spice.Level1), and so say whether deck, cards and simulator
// are sound; what they say of the die hangs on the process that was assumed.
package bench

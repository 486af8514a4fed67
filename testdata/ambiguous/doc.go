// Package ambiguous draws structures that are hard to tell apart, each with its truth: is a gate over diffusion a
// transistor or a capacitor, a dummy, or is that poly a resistor?
//
// The drawings are ours, of processes that are nobody's, between 0.5 and 3 µm. Rules of spacing are round numbers of half
// a feature (common practice for scalable processes). Truth is what the drawer knows: nets by name and place, and for each
// channel its border, area and terminals, by arithmetic on the same numbers that it draws with, never by extraction.
//
//   - case.go       Case, Structure, Channel: a drawing and what is true of it
//   - sheet.go      the drawing board: boxes, contacts, wires, in half features; what is noted on the way
//   - floor.go      a row of structures between two supply rails, with taps, wells, feeding metal, labels, pads
//   - switch.go, mesh.go       transistors: combs of fingers, ring gates, waffles
//   - capacitor.go, bank.go    capacitors: source on drain, one-sided, nothing beneath; banks of squares under a zigzag
//   - other.go      inverters, rows with dummies, serpentine resistors, two polys
//   - hand.go       Hand: the hard cases, one by one
//   - generate.go   Generate: random members of both classes
//   - degrade.go, bungle.go    Degrade: what a tracing by hand gets wrong; WithoutContacts
//
// # Shares
//
// Generate asks about a capacitor as often as about a transistor. That is a choice, not a count: on a die ordinary
// transistors outnumber capacitors by thousands, but nobody asks about those; among large gates either is common. Whoever
// needs another base rate weighs the cases. The shares of the kinds (Shares) are by judgement too, as are these:
//
//	nets of a capacitor   supply to supply 50 %, signal to supply 30 %, signal to signal 5 %, pad to supply 15 %
//	nets of a switch      supply to supply 40 %, signal to supply 35 %, pad to supply 25 %
//	stack                 n-well and both diffusions traced 50 %, one diffusion 30 %, no well 20 %; one metal or two, half each
//	neighbours            none to three: inverters 60 %, single transistors 25 %, rows with dummies 15 %, in half of these the gate runs on over the dummies
//
// A gate of a switch is a signal, and in two switches of five the neighbour on the left is an inverter that drives it;
// but half of the fingers and single gates at a pad are clamps, whose gate lies on ground.
package ambiguous

// Package recognise says what groups of devices of a circuit are.
//
// In: a flat netlist.Circuit and the patterns of recognise/library. Out: fits, each a pattern laid on devices.
//
//  1. recognise/parts   makes a graph of the circuit, in which parallel devices and parallel stacks are one part
//  2. plan.go           compiles a pattern: both polarities, all orders of gates where these are free
//  3. index.go          sorts the circuit's parts into classes by what can be seen of each by itself
//  4. order.go          chooses where a search begins, at the pattern's rarest part, and which nets it follows
//  5. search.go         lays the parts one after the other, with backtracking: all placements; candidate.go keeps and weighs them
//  6. recognise/logic   adds static gates, latches, flip-flops and rings, which are recognised by what they compute, in any form
//  7. cover.go          chooses those that explain most together
//  8. partial.go    searches again for patterns that lack pieces or have some too many, from devices that nothing explains; odds.go
//     weighs these, and ends searches that could not be worth it; piece.go says in words what is missing, place.go (with near.go)
//     where to look
//
// From a Result, or beside it, each by itself:
//
//  1. array.go       puts fits on a lattice together: by nets (array_nets.go) or places (array_lattice.go), in order (array_place.go), with
//     odd members (array_odd.go, array_fill.go)
//  2. suggest.go     arrays and fits as a list with ids; roles.go what nets are for; benches.go which test bench drives a fit
//  3. around.go      recognises what lies around a few nets only, in readings of a caller's, for recognise/question
//  4. group.go       the circuit with fits and arrays (group_array.go) as subcircuits; sheet.go what the schematic wants to know
//
// # What a fit is
//
// Every part that the pattern must have lies on a part of its own, of the same kind; source and drain are interchangeable. A net of the
// pattern lies on a net of the circuit, two never on the same but ports that the pattern says may. Inner nets have no further pin and
// are no supply; ports for supplies lie on supplies (parts.RailByName; where no supply is known, on anything); other ports lie on
// no supply unless their role says so. A transistor of unknown polarity may be either. Sizes do not count.
//
// # Evidence
//
// A fit is weighed against devices that are joined by chance, in decibans (weigh in candidate.go). The best cover is the choice of fits
// with the largest sum, no device in two of them but for those that a pattern shares. It is exact in groups of up to 18 fits that stand
// in each other's way; in larger ones it is what taking the best first and then exchanging comes to. So a 3T pixel inside a 4T one, or
// inverters inside a latch, lose: the larger fit has all their joints and more.
//
// # Time
//
// A search never follows a supply, nor a net of more than 2000 pins; where a pattern is joined by such nets only, placements are lost,
// and one that would try more than 200,000 parts from one beginning is cut short, as is a part that would be in more than 64 fits of one
// pattern (Result.CutShort). The rest is n log n as long as nets are small: see the figures in DEVELOPERS.md.
package recognise

// Package sweep turns the outlines of up to 64 layers into trapezoids, each with the set of layers that covers it.
//
// In: polygons on layers, any angle, any orientation, crossing themselves or not.
//
//  1. outline.go  orients the edges of one shape so that what it covers lies left of them; a shape that crosses or
//     touches itself is resolved by non-zero winding first, so that no two shapes can cancel
//  2. node.go     snap-rounds: a slanted edge is led through every grid point at which anything ends or crosses on it
//     (axis-parallel edges never need it)
//  3. strip.go    deals the edges out to vertical strips, which can be swept at the same time; an edge that crosses
//     a strip's border is not cut there, what is seen of it is clipped: strips change no coordinate
//  4. order.go    sorts the edges of a strip by their lower ends, and the places at which they end
//  5. sweep.go    keeps, between two events, the intervals of one strip with their masks, holds a trapezoid open for
//     as long as its two borders and its mask stay the same
//  6. stretch.go  replaces, at an event, the stretches of the line in which anything changes; line.go has the predicates
//  7. tell.go     tells a Sink what lies beside and above what
//
// facing.go says what lies on either side of a border between strips, for sinks that join them. rings.go goes the other
// way, from the edges of an outline to rings.
//
// Out: calls to a Sink. The trapezoids tile the strip, covered or not. No polygon boolean is ever formed: a derived
// region is a question to a mask, its connectivity a union-find in the sink.
//
// Two regions touch where the sink hears of a border of non-zero length between them; a common corner is not
// reported. Time is n log n in edges as long as strips are narrow enough that few edges cross one at a height.
// What conducts and what makes a device is not known here: see netlist/extract.
package sweep

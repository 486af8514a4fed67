// Package check finds what a tracing by hand easily gets wrong, and closes gaps where that is asked for.
//
// In: a drawing with its stack, a tolerance in nm, and where known the outlines of the photographs that shapes were traced
// over, as plain polygons.
//
//  1. shapes.go   the flattened shapes, and their edges, noded and dealt out to strips
//  2. regions.go  the sink of a sweep: connected pieces with their borders, areas and a point within; strips.go joins them
//     where two strips meet
//  3. layers.go   which layers are swept together; devices.go: diffusion and gates; netlist/extract says which net each
//     piece is part of
//  4. grid.go     borders in the bins of a grid, to find what lies near; hull.go: how wide things are
//  5. near.go     near-miss; join.go: near-overlap; sliver.go; contact.go: contact-on-one, contact-on-none;
//     gate.go: gate-ends-inside, short-end-cap; pad.go: pad-without-label; outline.go: crosses-itself; shots.go: off-shot
//  6. fold.go     what is the same in all placements of a cell becomes one finding with a count
//  7. bridge.go   what would close a near miss; heal.go: which of these may be closed
//
// Out: findings in the order of code and place, or the polygons that heal, and those that were refused, with the reason.
// Nothing here changes the drawing.
//
// Coordinates and overlaps are exact. Lengths across slanted edges are rounded to the nearest nm for people; whether they
// are within the tolerance is decided in floating point. Time is n log n in the edges, as long as the tolerance is not
// much larger than what lies between shapes.
package check

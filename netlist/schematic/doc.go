// Package schematic draws a circuit as a textbook would print it.
//
// In: a netlist.Circuit, with what is known of its nets (roles) and devices (names, sizes, places, pieces that are missing). Out: a
// Drawing, sheets of symbols, wires, dots and names on a grid, which WriteSVG prints and Text tells coarsely.
//
//  1. rails.go   which nets are supplies, by name or by what they do; names.go: names, under which every net is told from all others; box.go:
//     instances, and arrays of which one cell is drawn
//  2. rows.go    how high each device sits: a circuit's blocks are solved as if every channel were a resistor between the rails, and
//     what lies between two nets of the same height is drawn sideways, in rows between; level.go: what lies so for other reasons
//  3. order.go   blocks in the order of the signal, in bands, on sheets
//  4. anneal.go, pairs.go  columns: simulated annealing on short wires, straight stacks, facing mirrors, signals from the left and groups
//     that stay together; tail.go: what a pair hangs on, in its middle; try.go: several placements of a small sheet are drawn, and the best is kept
//  5. grid.go    columns and rows become places; names of nets get the room that they need
//  6. route.go   wires, as short as may be, with few bends and crossings; what finds no way gets names instead
//  7. flag.go    where names go; frame.go: lines around groups
//  8. svg.go, text.go  the drawing as a picture, and as characters
//
// read.go takes a drawing apart again: from wires, dots, pins and names alone it tells which pins are joined. Tests compare that with the
// circuit; fault.go lists what a drawing must not have. cut.go makes a circuit of some devices of another.
//
// The same circuit gives the same drawing: what is random has a fixed seed.
package schematic

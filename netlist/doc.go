// Package netlist is the electrical world: circuits of devices joined by nets.
//
// A Design is a set of circuits; a circuit may hold instances of others. Extraction makes a design of one flat circuit,
// a SPICE file gives one with hierarchy, and Flatten turns the second kind into the first. A net is an index into its
// circuit's Nets, a device holds up to four of them: circuits of millions of devices fit in memory.
//
// Lengths are nanometres, areas nm², both float64 because slanted edges give fractions. Nothing here knows SPICE text
// or polygons.
package netlist

// Package spice writes circuits as SPICE netlists and reads them back.
//
//   - number.go  numbers with suffixes
//   - line.go    logical lines: continuation, comments
//   - read.go    cards to a netlist.Design: subcircuits, elements, models, parameters
//   - element.go one element a function
//   - names.go   names that a simulator accepts and that stay distinct when case is ignored
//   - write.go   a design as text
//
// The dialect read is that of SPICE3 with what published netlists add: bus names such as A<3>, a slash before the name
// of the subcircuit, two-terminal shorts. Control sections and includes are refused: a netlist is data.
package spice

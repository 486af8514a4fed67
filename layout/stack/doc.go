// Package stack is the process as far as it is known: layers, what joins what, and what makes a device.
//
// A stack file is TOML (positions.go and parse.go read it; check.go resolves the names in it and says what is wrong,
// with file, line and column). For those who have photographs and no process document, generic
// stacks are built in (builtin.go).
//
// Nothing here builds a circuit: rules are named, netlist/extract applies them.
package stack

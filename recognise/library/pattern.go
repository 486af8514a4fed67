package library

import "undermetal/netlist"

// Roles of ports. A user's pattern may use any of them, or none.
const (
	Supply    = "supply"
	Ground    = "ground"
	Bias      = "bias"
	Clock     = "clock"
	Input     = "input"
	Output    = "output"
	Row       = "row"
	Column    = "column"
	Reset     = "reset"
	Sense     = "sense"
	Transfer  = "transfer"
	Reference = "reference" // a level given from outside, which may be a supply
	Any       = "any"       // nothing is said of it; it may be a supply
)

// Pattern is a known circuit of a few devices.
type Pattern struct {
	Name   string // of the subcircuit; one word
	Title  string // what people call it
	What   string // what it does
	Group  string // pixel, column, row, analog, digital, protection; of a user's pattern any word
	Source string // where the topology was published
	File   string // that it was read from; empty: made by a recogniser

	Ports   []Port           // in the order of Circuit.Ports
	Circuit *netlist.Circuit // flat; bulks are there for simulators, and are not compared

	Optional     []string    // names of devices that need not be there
	Either       []string    // names of transistors that may be of the other polarity
	Shared       []string    // names of devices that several fits of the pattern may have in common
	Context      []string    // names of devices that must be there beside the pattern, but are none of it
	Joins        [][2]string // ports that may be one net; else two ports never are
	Mirror       bool        // the circuit with n and p, supply and ground swapped is meant as well
	SeriesFree   bool        // the order of gates along a series path of transistors is free
	Alternatives []string    // names of patterns that are easily taken for it
}

// Port is a net of the pattern that may touch the rest of a circuit.
type Port struct {
	Name string
	Role string
}

// Fault is a pattern that was not taken, or one line of it.
type Fault struct {
	File   string
	Line   int // 0: the whole file
	Reason string
	Remedy string // may be empty
}

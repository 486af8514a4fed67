// Package library holds the patterns: known circuits of a few devices, kept as SPICE subcircuits, one a file.
//
//  1. patterns/    those that are part of the program; none is made from a cell of a published library
//  2. header.go    reads the comments before a subcircuit, which say what SPICE cannot
//  3. load.go      reads a folder; what is malformed is named with its line and left out, and the rest is taken
//  4. check.go     what makes a pattern impossible to search for
//
// # The header
//
// Lines "* key: value" before .subckt. name, title, what, ports and source must be there; a key may come again and goes on then.
//
//	name          the subcircuit's name
//	title         what people call it
//	what          what it does
//	group         pixel, column, row, analog, digital, protection, or any other word
//	ports         each port of the subcircuit as NAME=ROLE. Roles: supply, ground, bias, clock, input, output, row, column, reset,
//	              sense, transfer, reference, any. A port called supply or ground lies on supplies only; reference, bias and any may;
//	              the others never do. All other nets are inner ones: nothing else touches them
//	source        where the topology was published
//	optional      devices that need not be there: photodiodes that nobody marked, compensation
//	either        transistors that may be n or p
//	shared        devices that several of these have in common: the input side of a mirror
//	context       devices that must be there, but belong to something else: the pixels of a driven row
//	joins         pairs A=B of ports that may be one net; otherwise no two are
//	flavours      "n p": the circuit with n and p, supply and ground swapped is meant as well; what is written is the n flavour
//	series        "free": gates along a path of transistors in series may stand in any order
//	alternatives  names of patterns that are easily taken for it
//
// The subcircuit has M, D, C, R, L, Q, J lines and no instances. Source and drain are interchangeable, sizes and models do not count;
// n and p are told by the model (nmos, pmos, or a .model card). Bulks may be anything.
package library

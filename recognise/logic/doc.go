// Package logic recognises digital circuits by what they compute, whatever their form.
//
// In: a parts.Graph whose supplies are known. Out: groups of parts, each with a pattern that is made for it.
//
//  1. network.go   takes nets that mean a logic level for nodes, and lists all paths of transistors from a node to the supplies and to
//     other nodes. A node whose n paths conduct just where its p paths do not has a static gate (table.go: Boolean functions)
//  2. tree.go      turns such a network into series and parallel; form.go names it: NAND, NOR, AOI, OAI by the sizes of its groups
//  3. gates.go     gates, and those that a clock switches off
//  4. storage.go   a node that at one level of some input is driven to what it already is, and at the other to something else, is a
//     latch, and that input its clock; inputs that force it are found where it keeps itself
//  5. flipflop.go  two latches one after the other at opposite levels of one clock; rings of inverters
//  6. group.go     makes the patterns: groups of one form have the same one. Versions of one name are numbered as they are met
//
// Inverters are followed back to where their chain begins, so that a clock and its inverse are one input. Clear and preset are told by
// where high data would lead the state. Functions of more than 12 inputs, paths of more than 12 transistors in series and nodes of more
// than 64 pins are left alone, and so are latches that win by strength: the patterns of the library have those.
package logic

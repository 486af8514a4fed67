// Package stack is the process as far as it is known: layers, what joins what, and what makes a device.
//
// In: a stack file, which is TOML, or the name of a built-in stack.
//  1. parse.go      decodes the text into plain tables
//  2. positions.go  reads it once more for line and column of every key and value, which the decoder does not give
//  3. table.go      takes values out of a table: unknown keys, missing keys and values of the wrong kind stop here
//  4. check.go      checks the layers, rules.go the device rules: names become numbers, roles are compared
//  5. problem.go    what is said about a mistake, and the nearest name that would have been right
//
// Out: a Stack in which every reference is the number of a layer of the right role, or an error that joins all mistakes
// found, each with file, line, column, key and remedy. write.go writes a Stack in the same dialect again; what it
// writes parses to an equal Stack.
//
// builtin.go has generic stacks for those who have photographs and no process document.
//
// Nothing here builds a circuit: rules are named, netlist/extract applies them.
//
// # The file
//
// Tables [[layer]], [[mos]], [[tap]], [[diode]], [[capacitor]] and [[resistor]] stand once for each layer or rule,
// [substrate] and [process] at most once. A condition list (where) names layers that must be there, with ! those that
// must not. Names of layers and models have letters, digits, _ . and - only, 64 at most, because they are written into
// SPICE later.
//
//	name                                        what the process is called
//	[[layer]]     name, role                    role: diffusion, gate, metal, contact, well, pad or mark
//	              joins                         of a contact: two or more conductors, top to bottom
//	              gds, labels                   GDSII layer/datatype of its shapes, layer/texttype of its texts
//	              color                         "#rrggbb"
//	              sheet_ohm                     ohm per square
//	              area_af_um2, edge_af_um       aF/µm² and aF/µm to what lies below
//	              thickness_nm                  nm
//	[[mos]]       model, type, bulk             type: n or p; bulk: substrate, unknown or a well layer
//	              where, gate, diffusion        gate and diffusion: a layer or a list; all of that role if not given
//	[[tap]]       ties, where, diffusion        ties: substrate or a well layer
//	[[diode]]     model, type, to, where, body  to: as ties; body: a diffusion or well, the only diffusion if not given
//	[[capacitor]] model, plates, where          plates: the upper and the lower layer
//	              area_af_um2, edge_af_um       aF/µm² and aF/µm; the upper layer's if no area figure is given
//	[[resistor]]  model, body, where            body: a conductor or a well, cut where the conditions hold
//	              sheet_ohm                     ohm per square; the layer's if not given
//	[substrate]   net, type, labels             type: p if not given
//	[process]     gate_oxide_nm, supply_v, min_feature_nm
//
// Numbers that are not given are 0, which stands for unknown.
package stack

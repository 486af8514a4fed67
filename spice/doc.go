// Package spice writes circuits as SPICE netlists and reads them back.
//
// In, for Read: text. Out: a netlist.Design, lengths in nm.
//  1. line.go       logical lines: continuation, comments, words
//  2. read.go       dot cards; element lines are kept with the subcircuit that they stand in
//  3. elaborate.go  a circuit for each subcircuit and each set of values of its parameters, callees first
//  4. element.go    one function a kind of element; values.go: sizes, multipliers; expr.go: expressions
//  5. shorts.go     nets that are joined by a mere second name become one
//
// In, for Write: a netlist.Design. Out: text that ngspice accepts.
//  1. names.go      names that a simulator accepts and that stay distinct when case is ignored
//  2. write.go      subcircuits and their ports; device.go: one line a device; models.go: placeholder cards
//
// What was written reads back as an equal design: the same nets, kinds and values, lengths to 0.001 nm. Only the number
// of fingers is lost (a comment tells it, since level-1 models do not take it); and the polarity of transistors is in the
// model cards: without these (WriteOptions.Models) it is what ReadOptions.Polarity makes of a model's name. A transistor of
// unknown polarity that has a model of its own becomes what its model card says.
//
// # The dialect that is read
//
// SPICE3 as ngspice takes it, with what published netlists (CDL) add. Case is ignored; names are kept as written.
//
//   - The first line is the title; but a first line that is a comment or a dot card is read as such, because published
//     netlists have no title, and one that is surely an element (M1 d g s b …) is refused rather than lost.
//   - "+" continues a line, also after blank and comment lines. "*" begins a comment, as do ";" and "//" anywhere and "$"
//     after a blank; but "$m=1" is a parameter m. Blanks, commas and parentheses separate words.
//   - M, D, Q, J, R, C, L, V, I and X are read; of a source only its DC value is kept. Parameters that the model of
//     circuits does not hold (NRD, TEMP …) are passed over.
//   - W is the total over ng (nf) fingers; m counts parallel devices: it multiplies W, areas, perimeters, capacitances and
//     currents, and divides resistances and inductances; without any of these there are m devices, name#2, name#3 … An m on an X line counts for all that is inside.
//   - Areas of diodes are in m², perimeters in m, as published netlists give them: D1 a c model 0.2p 1.8u, area= and pj=
//     (a=, p=), or w= and l= alone. Write gives AREA and PJ in the same units. A simulator's level-1 diode takes AREA as
//     a factor on the currents and capacitances of its model card, so those are per m² (ngspice-39: the current is
//     AREA·IS + PJ·JSW). For Q and J the area is a factor and stands in Device.Value.
//   - .options scale= multiplies W, L, perimeters, and by its square areas. (ngspice-39 leaves a diode's area alone; here
//     it is an area like all others.)
//   - 0 and gnd are one net, called 0, ground in all circuits; .global adds others. Where a port has such a name, each
//     instance must give it that very net: ngspice-39 would pass over any other, and other simulators might not.
//   - A value is a number or an expression of numbers, parameters, + - * / and parentheses, with or without braces or
//     quotes. Parameters come from .param (in any order) and from a subcircuit's header, and an instance may override the
//     latter: a subcircuit used with other values is a circuit of its own, name#2, name#3 … in order of use. A subcircuit
//     defined inside another sees the models and subcircuits around it, but of the parameters only its own and the file's.
//   - .include, .lib, .control and .if are refused: a netlist is data, opens no file and runs nothing. Cards that only
//     steer a simulation (.tran, .ic …) are passed over; any other dot card is an error.
package spice

// Package extract turns a drawing into a circuit: shapes on layers and a stack go in, devices, nets and warnings come
// out.
//
//  1. plan.go     what the stack means: kinds of region (conductors, channels, taps, diodes, wells, contacts, plates,
//     bodies of resistors, pads). Layers that cannot interact are put into different groups, each with a sweep of its
//     own; derive.go says which of its regions a mask of layers stands for
//  2. deal.go     the drawing is walked through once for each band of strips, and its edges are dealt out to these;
//     slanted edges go where a snap rounding of the whole drawing leads them
//  3. collect.go  the sink of one strip: a union-find over regions, and what is measured on the way: areas,
//     perimeters, the edges of channels, how much of a contact lies on what; boxes.go joins the boxes of pieces
//  4. squeeze.go  what is kept of a strip: a node for each region
//  5. stitch.go   strips are joined at their borders; rim.go keeps what lies along them
//  6. join.go     regions become nets: contact.go joins what contacts reach, and groups by the contacts that they share;
//     labels name nets; tap.go joins wells and substrate
//  7. device.go   channels become transistors (joints.go: stretches of their edges), diode regions diodes; passive.go: plates become capacitors, bodies
//     resistors; pad.go says what lies under pads
//  8. observe.go  where Facts are asked for, or a verdict needs them: what was seen beside the circuit (facts.go), with points
//     within (within.go); structures.go puts channels together that belong together
//  9. verdict.go  what verdicts are about, and those that speak of contacts and gaps, which come before nets;
//     decide.go and capacitor.go the others, which change devices; wire.go and wire_cut.go cut wires that are resistors,
//     before all else; neck.go finds what a fuse looks like
//  10. circuit.go nets get numbers, names and ports
//  11. outline.go where they are asked for: the borders of what W and L do not say all of, and junction.go of sources and drains; outline_drawn.go finds the drawn
//     edges that they are parts of
//  12. necks.go    looks for necks, necks_filter.go where there may be any; device_contacts.go counts contacts, both when somebody asks the Result
//
// The rules are those of DEVELOPERS.md, "What makes a device". Everything measured is exact for Manhattan shapes.
// Results depend on neither the order of shapes nor the number of workers: strips follow from the drawing alone, what
// they find is put in the order of place.
package extract

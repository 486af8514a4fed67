// Package extract turns a drawing into a circuit: shapes on layers and a stack go in, devices, nets and warnings come
// out.
//
//  1. plan.go     what the stack means for a mask of layers: regions (conductors, channels, taps, diodes, wells,
//     contacts). Layers that cannot interact are put into different groups, each with a sweep of its own
//  2. deal.go     the flattened drawing is dealt out to the strips of each group; slanted edges are snap-rounded
//  3. collect.go  the sink of one strip: a union-find over regions, and what is measured on the way: areas,
//     perimeters, the edges of channels, how much of a contact lies on what
//  4. stitch.go   strips are joined at their borders, groups by the contacts that they share
//  5. join.go     contacts, labels, taps and wells make nets of the regions
//  6. device.go   channels become transistors, diode regions diodes
//
// The rules are those of DEVELOPERS.md, "What makes a device". Everything measured is exact for Manhattan shapes.
// Results depend on neither the order of shapes nor the number of workers: strips follow from the drawing alone, what
// they find is put in the order of place.
package extract

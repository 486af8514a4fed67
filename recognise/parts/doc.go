// Package parts is a circuit as recognition sees it: a graph of parts and nets, small enough for millions of devices.
//
// In: a flat netlist.Circuit. Out: a Graph.
//  1. rails.go   tells supplies and grounds, by name and by bulk
//  2. merge.go   makes one part of devices that are parallel: the same kind, model and nets, of channels nearly the same L
//  3. stack.go   makes one of parallel stacks: paths of transistors in series whose inner nets nobody else touches, with the
//     same gates in the same order between the same ends
//  4. graph.go   the parts, and for each net the pins on it
//
// Bulks are left out: they say which well a transistor lies in, and no topology asks for that. A transistor whose source is
// its drain is a capacitor. What has all its terminals on one net is no part.
//
// Time n log n in devices, about 60 bytes a device.
package parts

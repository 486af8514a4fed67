// Package compare decides whether two flat circuits are the same up to names, and says where they are not.
//
// In: two circuits without instances. Out: a Result with a mapping of devices and nets, and an account of what differs.
//
// # What is the same
//
// Two circuits are the same if their devices and nets can be mapped one to one, so that every terminal of a device lies
// on the net that its counterpart lies on. Names never decide that: they choose among mappings that are equally good,
// and they are used in texts. Ports are names, too. Nets that no device touches are left aside.
//
//   - Kind and model must agree, case of letters aside; a MOS of unknown polarity is a kind of its own.
//   - Source and drain are interchangeable, and the ends of resistors, capacitors and inductors. All other terminals are
//     not; anode and cathode are not.
//   - Parallel transistors (same model, nets and bulk) are one element. Those of one L, within the tolerance, are a lot:
//     both circuits must have the same lots, each with the same total W; and if both list as many transistors with one
//     finger each, the sorted W must agree one by one. Parallel diodes add up areas and perimeters, parallel capacitors
//     values (without values, their numbers must agree). Everything else stands for itself.
//   - W and L agree within Options.ToleranceNm or within the fraction Options.ToleranceRel of the larger. Areas,
//     perimeters and values agree within 1e-3, or ToleranceRel if that is more. What one circuit does not give agrees
//     only with what the other does not give either; except W and L of resistors, capacitors and the like, which are
//     compared where both give them. Areas and perimeters of sources and drains are not compared.
//   - A device that was solved for (netlist.Device.Ratio) agrees by its simple W or value, or by the effective one: a netlist may
//     hold either. All transistors of one element are taken in the same reading.
//   - With Options.Series, transistors in series of one model, bulk, W and L may stand in any order. What lies between
//     them must be nets that touch nothing else and are no ports.
//
// # Wells
//
// A drawing without taps has wells without names, several of them where the netlist has one, and it cannot know that a
// well is tied to a rail. Therefore, by default, a soft net, one that has no name and touches only bulks, is compared by
// structure: it may stand for any net of the other circuit, and several may stand for the same. It may also stand for
// several nets, if only bulks touch those and no other net is related to them. All this holds in both directions. A
// transistor without bulk terminal agrees with any. Nets that are named, or that something else touches, are mapped one
// to one, so that a wrong bulk among them is found. Where transistors in parallel have several bulks, each must find a
// partner among the others.
//
// The well side of a diode counts as a bulk, too. Nothing in a diode says which end that is; see wellSides for how it is
// found out. With Options.BulkByName all bulks are ordinary terminals.
//
// # How
//
//  1. reduce.go, stack.go  parallel and series devices become elements; wells.go finds soft nets. A bulk that may lie on
//     a soft net is left out of the graph, for its model as a whole, in both circuits.
//  2. graph.go, partition.go, steps.go  one bipartite graph of both circuits, and a partition of its vertices that is
//     refined until the vertices of a cell have the same edges into every other cell (colour refinement, by splitting
//     cells in place; n log n in edges). A cell that one circuit has more of: they differ.
//  3. search.go, components.go, heap.go  where cells stay open, two vertices are made a pair by choice and the rest is
//     refined again. Symmetric circuits allow any choice, so a first descent mostly succeeds; if not, the search goes
//     component by component, complete, and within a bound of steps, beyond which the answer is ErrUndecided.
//  4. sizes.go, sizeclass.go, wellmap.go, wellproof.go  sizes take part as further colours, and pair by pair; wells are
//     checked under the mapping.
//  5. account.go, text.go, sizetext.go  every terminal, size and well is looked at under the mapping: the account of what
//     disagrees. It is empty if, and only if, the answer is that the circuits are the same, whatever hashes did before.
//  6. nearest.go, pairrest.go, improve.go  without any mapping, the best partial one of a few attempts, for the account.
//
// Order of devices and nets, source and drain, splitting of fingers and names change no answer (property_test.go); small
// circuits are held against a complete search (brute_test.go). Two circuits
// of a million devices take about ten seconds if they are the same, up to half a minute after a change, and 1.3 GB.
package compare

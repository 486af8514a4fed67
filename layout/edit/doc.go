// Package edit is the editing model: what a person, or a program for one, does to a drawing in a dossier.
//
// An operation is a function that works in an edit of the dossier (dossier.Dossier.Edit), which is what one undo takes
// back; a caller may do several in one edit. It takes plain values: ids, names of layers, places in nm of the cell. There
// is no second journal here: what an operation changes, the dossier writes down.
//
//  1. draw.go       new shapes: rectangles, polygons, wires, stamps; vertex.go: corners and edges of a shape
//  2. selection.go  what an operation is about; motion.go: move, turn, mirror, duplicate
//  3. combine.go    merge, split, subtract, resolve
//  4. cells.go      cells of what is selected, placements and arrays; explode.go: the way back
//  5. odd.go        one member of an array made a cell of its own; block.go: the others stay exactly where they are
//  6. clip.go       copy, cut, paste
//  7. labels.go, areas.go
//  8. import.go     a drawing from a file, with its cells
//  9. snap.go       what a point is drawn to; nearest.go: what a click means
//
// 10. shape.go      what is checked of each shape that is written; frame.go: that nothing leaves the frame
//
// What is always so after an operation, and is an error that changes nothing otherwise:
//   - Each shape and area that an operation drew or altered is a valid polygon (geom.Polygon.Fault), on a layer of the stack
//     where it is new. What only moves is carried as it was, valid or not: drawings from elsewhere may hold outlines that
//     cross themselves. Merge, Split and Subtract take them for what they cover; Resolve makes them valid.
//   - Nothing of a cell, with all that it places, lies outside the frame, in the cell or wherever it is placed.
//   - No cell contains itself.
//
// An operation that fails may have written already. Its error must end the edit, which then leaves nothing of it.
//
// Provenance (method, shot, file, uncertainty of the edges): new shapes have that of their Origin. A shape whose corners are
// moved, or of which something is cut off, keeps its own, and so do all parts of one that is split, and copies. What is
// turned keeps it; what comes out of a magnified cell has its uncertainty magnified, too. See Merge for shapes put together.
//
// Ids: an altered shape keeps its id. Where one becomes several, the first of them does. Ids of what is gone are used again
// by what comes later.
package edit

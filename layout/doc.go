// Package layout is the drawn world: shapes on layers, cells that are used more than once, and labels.
//
// A Library is what a reader (GDSII, SVG …) or the dossier hands over. Hierarchy stays: a placement of a cell, or an
// array of placements, is one record. Flat turns it into a stream of shapes in the frame, window by window, without
// ever holding the flattened drawing; this is how the engine reads it.
//
// What a layer covers is the union of its shapes, each filled by itself with non-zero winding, whatever the
// orientation of its rings. What layers mean (which conducts, which joins) is not known here: see layout/stack.
package layout

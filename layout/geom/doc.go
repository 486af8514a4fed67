// Package geom is plane geometry on the integer nanometre grid: points, boxes, rings, polygons, transforms, and
// predicates that are exact.
//
// All coordinates are whole nanometres within ±Limit (2^30, about a metre across). Inside that square every
// difference fits 32 bits and every 2×2 determinant of differences 64, so that the sign of an orientation needs no
// more than plain int arithmetic; what needs more (comparing crossing points) uses 128 bits. No result here depends
// on a tolerance.
//
//   - point.go      Point, Vec, Rect
//   - ring.go       Ring and Polygon: area, sense, perimeter, winding, simplicity
//   - predicate.go  side of a line, how two segments meet, where they cross, rounded to the grid
//   - fault.go      what keeps a polygon from being a valid one; status.go is the sweep line's tree
//   - transform.go  placements: mirror, magnification, rotation, move
//
// What a shape covers is decided by non-zero winding, never by the order of its vertices; see Polygon.
package geom

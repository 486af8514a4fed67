// Package region combines polygons: union, difference, parts on either side of a line.
//
// In: polygons of any kind, also such that cross themselves; each is filled by itself with non-zero winding.
//
//  1. cluster.go polygons that are to be united are parted by place: what touches nothing needs no sweep
//  2. sweep.go   one sweep over all of them (layout/sweep snap-rounds first) finds the borders of what is asked for,
//     and which pieces of it hang together by more than a corner
//  3. trace.go   joins the borders to rings, so that a ring never passes from one piece to another in a corner
//  4. pinch.go   a piece that touches itself in a corner, such as one around a hole that reaches its rim in one point,
//     is cut in two through the hole
//  5. region.go  the operations
//
// Out: valid polygons (geom.Polygon.Fault), outer rings counterclockwise, holes clockwise, without points in the middle
// of straight edges, in an order that depends on their places only. No two of them overlap.
//
// Where all edges are parallel to an axis everything is exact. A slanted edge is led through the grid points at which
// it crosses others, and through the corners of others that it passes within half a nanometre; it moves by √2/2 nm at
// most. An edge of a polygon with several rings, or one that crosses itself, may move twice so: that polygon is resolved
// by itself first; and once more each time that a piece is cut in two. What becomes narrower than the grid vanishes.
package region

// Package stroke makes the polygon that a pen covers which is led along a line: a wire, by its centre line and its width.
//
// The outline of a pair of neighbouring segments meets on the mitre; where the mitre's tip would be farther than two
// widths from the bend (a turn of more than 151°), the tip is cut off straight across (bevel). Every corner is rounded
// to the grid, halves up, so a path along the axes keeps its width to the nanometre even where it is odd (it then
// lies half a nanometre higher and further right), and at any other angle a corner is at most 0.71 nm off; a slanted
// path of 1 nm may round to nothing. The first and last point are not joined, even if they are the same. Round ends are
// chords of the circle, see arc; bends inside a path with round ends are mitred like all others. (GDSII does
// not say how bends look: common practice.)
//
// The plain outline goes along one side and back along the other. Cut along the mitre of each bend, it falls into a
// quadrilateral for each segment. While these are all counterclockwise, the outline winds around each point as often
// as it lies in one of them, and non-zero winding fills exactly their union, also where the path crosses itself. And
// while what the mitre cuts off a segment's rectangle on the inner side of a bend lies in the quadrilateral of the
// other segment, that union is what the pen covers. Where a segment is too short for that (a fold back, a small jog,
// a curve of less than 1½ half widths), the polygon is made of one counterclockwise ring for each segment, each join
// and each round end.
package stroke

// Package field finds how well a flat sheet conducts between electrodes along its border: Laplace's equation on a polygon
// with holes. That is the effective W/L of a channel between source and drain, and one over the squares of a resistor.
//
// In: a polygon (geom.Polygon, or any corners in nm), with electrodes along parts of its border. All else is insulated.
//
//  1. shape.go        checks it, and puts it on a grid of 2^26 units each way, on which signs are exact
//  2. triangulate.go  makes triangles of the corners alone
//  3. mesh.go         cuts slender ones, and later all that is too coarse; layers of ever smaller triangles around corners
//  4. basis.go, assemble.go   polynomials of one degree (2 to 10) on the triangles, for the potential and for the stream
//     function; as much current along ways of triangles from one electrode to another as makes the stream function jump
//  5. front.go        eliminates all unknowns but the electrodes' and the ways', triangle by triangle
//  6. solve.go        two bounds of the conductance, one from each; their gap, triangle by triangle
//  7. refine.go       finer where the gap is, and again from 4, until the gap is small enough
//
// Out: the conductance, as the mean of the bounds, and half of the gap as its error. That error is no estimate: the true
// value lies between the bounds, but for rounding, which is measured and added. Nothing is cut off and no shape is special,
// except that rectangles have a short cut.
//
// gradient.go says what the conductance does when the border moves, and so how uncertain it is.
//
// Time goes with the triangles as long as the shape is long or has few holes (a serpentine: any number of legs). Exact
// figures cost more at corners that jut in and where electrodes end, since the field has no bound there: some layers more.
package field

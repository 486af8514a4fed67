// Package pen draws lines on the grid of the frame, for the readers of drawings.
//
//   - flatten.go  edges and curves, in the units of a file, become chains of points of the frame. A curve is cut into
//     chords after it has been mapped, so that the tolerance is in nm whatever the scale, and a straight edge is bent
//     where the map bends it
//   - stroke.go   a wire, that is a centre line with a width, becomes the polygon that a pen of that width covers;
//     pieces.go: one ring for each of its parts, where a single outline will not do
//   - outline.go  points that repeat, outlines that cover nothing
//
// What a file means is not known here: see layout/gds, layout/svg, layout/geojson, layout/mask.
package pen

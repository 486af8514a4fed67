// Package mask reads and writes label masks: pictures whose pixels say which layer covers the die there. A mask is one
// picture a layer, covered where it is bright, or one picture in which every colour stands for layers. A pixel that is
// transparent, with an alpha below half, covers nothing, whatever its colour, and needs no rule; of any other its colour
// counts as if it were opaque, also where a TIFF file holds it multiplied by its alpha.
//
// In: the rows of a picture (layout/shot reads them one by one) and a map from pixels to the frame.
//
//   - read.go   takes rows apart into the places where each layer begins and ends
//   - trace.go  follows the borders between pixels from row to row and keeps what belongs together; chain.go: pieces of border that
//     grow until they close
//   - write.go  the reverse: a PNG, row by row; fill.go: which pixels a polygon covers, in whole numbers
//   - error.go  Error: file, pixel, what is wrong, what to do
//
// Out: one polygon, with its holes, for every region of covered pixels that hang together by their sides. Pixels that only
// meet at a corner are two regions, two shapes that touch in a point, and join nothing, as everywhere in the engine.
// Outlines run exactly along the borders of pixels; every corner of a ring is a corner of the region. (0, 0) is the outer
// corner of the top left pixel, y points downward.
//
// A pixel is written as covered where its centre lies in a shape; borders belong to the shape right of and above them, so
// that shapes that share an edge neither overlap nor leave a gap. A drawing that was read from a mask gives that mask
// again, bit by bit, as long as a pixel is larger than 1.01 nm.
//
// Memory while reading: two rows, the outlines that are not closed yet, and the shapes that were found. Their corners are
// bounded (MaxCorners), since a small file can unpack to noise without end.
package mask

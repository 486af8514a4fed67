// Package shot holds photographs of a die: how they are read, kept, measured and shown.
//
// In: PNG, TIFF and JPEG files, from a snapshot to a mosaic of many hundred megapixels.
//
//  1. read.go, png.go, tiff*.go, jpeg.go  read a file row by row; orientation.go says how it is to be turned
//  2. pyramid.go      halves it again and again while it streams by, and cuts every level into tiles; memory goes with
//     the width of the picture, not with its area
//  3. tile.go         packs a tile without loss, at the depth of the original
//  4. view.go         reads any part of it at any zoom, through orientation and display settings; grey.go: all of it, as
//     large as whoever compares photographs can take
//     cache.go keeps tiles; together.go lays two views on each other
//  5. calibrate.go, micrometer*.go        nanometres per pixel, always with an uncertainty; optics.go: what the
//     microscope can resolve
//  6. scalebar.go, ticks.go, paint.go     what is drawn over a view
//
// Out: tiles for whoever keeps them (layout/dossier), pictures for people.
//
// Pixel coordinates are those of the upright picture: (0, 0) is the outer corner of its top left pixel, whose centre is
// (0.5, 0.5); x to the right, y downward. Tiles are kept as the file stores the picture, so that the original can be had
// back to the bit; only views turn it. Where a pixel lies on the die is not known here: see layout/register.
package shot

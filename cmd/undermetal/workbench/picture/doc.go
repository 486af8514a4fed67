// Package picture draws what a view of the die shows: photographs, what is drawn over them, and marks.
//
// In: a Scene, a plain value: a view.View, one photograph or two with their contrast, drawings by layer, a ruler, arrows. Out:
// an *image.RGBA, for package glyph or package graphics to show.
//
//  1. photo.go     a photograph with its place, and the way from px of the picture to px of a level of its pyramid
//  2. sample.go    draws rows of it, from the tiles that are there; where one is missing, from the nearest above it
//  3. plan.go      what the picture lacks, and what may be seen next; loader.go fetches it, the latest picture's tiles first
//  4. drawing.go   shapes, cells and arrays in boxes in boxes; walk.go finds those that are seen
//  5. plane.go     which layers cover a px, and which have an outline there; ink.go puts that on the picture
//  6. marks.go     ruler, arrows, lines, scale bar
//  7. composer.go  puts all of it together, in stripes, by as many goroutines as there are processors:
//     shots.go the photographs, shapes.go what is drawn
//
// Draw never waits for a tile, so its time goes with the picture's size alone: photographs are read at the level of their
// pyramid that fits, shapes smaller than a px are dots, and a box of such shapes is one dot. Once nothing is missing, a picture is
// the one that layout/shot draws px by px (TestLikeTheSlowWay). What is fetched is kept in one cache for all photographs,
// whose bound holds for everything but the last level of each.
//
// The frame is nm; for a photograph with neither a place nor a scale it is the photograph's own px, y up (Own).
package picture

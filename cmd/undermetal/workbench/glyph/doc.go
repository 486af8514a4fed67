// Package glyph shows a picture in the cells of a terminal that knows no pixels, by block characters in two colours.
//
// In: an *image.RGBA of which Style.Size px make a cell.
//
//  1. style.go     which characters and colours the terminal has
//  2. fit.go       the pattern and the two colours of a cell that are nearest to its px, by least squares
//  3. indexed.go   the nearest of the 256 colours that terminals agree on
//  4. mono.go      no colours at all: ordered dithering
//
// Out: a Grid of runes with colours, to be put on a screen as it is.
//
// A cell of p px has 2^p patterns, of which half are the others with their colours exchanged; for two colours that are the
// means of the px they stand for, the sum of squared differences is least where Σ|S|²/n of the two groups is most, with S
// the sum of a group's px and n their number. It is counted in whole numbers, so that equal cells come out equal, and all
// patterns are tried (TestLeastSquares asks the slow way). Octants are left out: multiplexers drop them, and the rest of the
// line moves.
package glyph

// Package measure says how well the sizes of extracted devices are known.
//
// In: the result of extract; where each shape of the drawing comes from, that is over which photograph it was traced, and
// how uncertain its edges are; how uncertain the scales of the photographs are.
//
//   - uncertainty.go   what that means for W and L
//
// Out: for each device the parts of the standard uncertainty of W and of L. They are kept apart, since edge noise differs
// from edge to edge while the scale is common to a photograph: it cancels in ratios and adds up in sums.
package measure

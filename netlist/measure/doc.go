// Package measure finds the sizes of extracted devices that W and L by the rule do not say, and how well all sizes are known.
//
// In: the result of extract, with the outlines of what is no plain rectangle; where each shape of the drawing comes from, that is
// over which photograph it was traced, and how uncertain its edges are; how uncertain the scales of the photographs are, and
// what is known of layers that lie off alike in them.
//
//  1. correct.go       what is known of layers lying off alike in a photograph
//  2. normal.go        outlines that are equal but for how they lie become equal to the last bit
//  3. solve.go         Laplace's equation in each different one (netlist/measure/field): effective W/L, squares
//  4. uncertainty.go   what uncertain edges, layers that are off, and scales mean for W, L, W/L, ohms, farads; border.go for W and L
//     of what is no rectangle; lines.go tells which edges are one drawn edge
//  5. capacitance.go   formulas for capacitances
//
// Out: Device.Ratio and the values of resistors; for each device the parts of the standard uncertainties. They are kept apart,
// since edge noise differs from edge to edge, a bias is common to a layer in a photograph and the scale to a photograph: it cancels in ratios
// and adds up in sums.
package measure

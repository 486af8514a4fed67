// Package measure finds the sizes of extracted devices that W and L by the rule do not say, and how well all sizes are known.
//
// In: the result of extract, with the outlines of what is no plain rectangle; where each shape of the drawing comes from, that is
// over which photograph it was traced, and how uncertain its edges are; how uncertain the scales of the photographs are.
//
//  1. normal.go        outlines that are equal but for how they lie become equal to the last bit
//  2. solve.go         Laplace's equation in each different one (netlist/measure/field): effective W/L, squares
//  3. uncertainty.go   what uncertain edges, layers that are off, and scales mean for W, L, W/L, ohms, farads
//  4. capacitance.go   formulas for capacitances
//
// Out: Device.Ratio and the values of resistors; for each device the parts of the standard uncertainties. They are kept apart,
// since edge noise differs from edge to edge, a bias is common to a layer and the scale to a photograph: it cancels in ratios
// and adds up in sums.
package measure

// Package plot shows waveforms: as text for a terminal, as SVG and PNG, as CSV.
//
// In: a Figure, panels below each other, each with its axes and series; waveforms.go makes one of what a simulator gave.
//  1. scale.go   ranges, ticks at 1, 2 or 5 times a power of ten, SI prefixes
//  2. thin.go    as many points as can be seen, peaks kept; gaps where a value is no number
//  3. line.go    colours, dashes and marks: no two series of a panel differ in colour alone
//  4. picture.go SVG and PNG through a plotting library; text.go through another; csv.go every point there is
//
// Out: the same bytes for the same figure. Names come from anywhere: what cannot be printed is shown as a blank, and no
// cell of a CSV file begins like a formula.
package plot

// Package squares has the resistances of flat shapes for which there are formulas, in squares: times the sheet resistance they
// are in ohms. One over them is the effective W/L of a channel of that shape (Dykhne's and Keller's duality: a shape whose
// electrodes and insulated edges change places has one over its resistance; textbook). Lengths are in any unit, but all in the same.
//
// For all other shapes there is netlist/measure/field.
package squares

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Bar is a straight bar with electrodes along its whole ends.
func Bar(length, width float64) float64 { return length / width }

// Corner is the corner square of a bend by 90° between two arms of equal width: 1 - 2·ln 2/π = 0.558729. Exact for
// long arms; with arms as long as they are wide, 1e-3 too high (P. M. Hall, Thin Solid Films 1 (1968) 277, from memory).
func Corner() float64 { return 1 - 2*math.Ln2/math.Pi }

// UnequalCorner is the rectangle in the corner of a bend by 90° between long arms of two widths (Hall, as Corner):
// with the ratio a of the widths, 1/a - (2/π)·ln(4a/(a²+1)) + ((a²-1)/(πa))·arccos((a²-1)/(a²+1)). Both orders are the same.
func UnequalCorner(width1, width2 float64) float64 {
	a := width2 / width1
	s := a * a
	return 1/a - 2/math.Pi*math.Log(4*a/(s+1)) + (s-1)/(math.Pi*a)*math.Acos((s-1)/(s+1))
}

// Bend is what a bend by an angle in radians, 0 to π, adds to two long arms of equal width whose lengths are counted
// along the inner edge:
//
//	(2/π)·(γ + 2·ln 2 + ψ((1 + angle/π)/2))
//
// with Euler's γ and the digamma function ψ. Bend(π/2) is Corner. The form was found by comparison with Schwarz-Christoffel
// maps of six angles, with which it agrees to nine digits; it is not from a book.
func Bend(angle float64) float64 {
	const euler = 0.57721566490153286061
	return 2 / math.Pi * (euler + 2*math.Ln2 + mathext.Digamma((1+angle/math.Pi)/2))
}

// Bent is a band of even width with straight parts, cut square at each inner corner, and bends between them, by angles
// in radians: exact as long as the straight parts are long, 1e-4 too high where they are as long as the band is wide.
func Bent(width float64, straight, bends []float64) float64 {
	sum := 0.0
	for _, l := range straight {
		sum += l / width
	}
	for _, a := range bends {
		sum += Bend(a)
	}
	return sum
}

// Step is what a sudden step from one width to another adds to two long bars with one edge in line: with α the smaller
// width over the larger, (1/π)·[((α²+1)/α)·ln((1+α)/(1-α)) - 2·ln(4α/(1-α²))] (the step of a strip line in waveguide
// handbooks, from memory).
func Step(width1, width2 float64) float64 {
	a := min(width1, width2) / max(width1, width2)
	if a == 1 {
		return 0
	}
	return ((a*a+1)/a*math.Log((1+a)/(1-a)) - 2*math.Log(4*a/(1-a*a))) / math.Pi
}

// CentredStep is Step for bars with a common middle line: half of it, since each half is a step of half the widths.
func CentredStep(width1, width2 float64) float64 { return Step(width1, width2) / 2 }

// EndContact is what an electrode along the middle of a bar's end, of some length, adds to a long bar whose electrode takes the
// whole end: (1/π)·ln(1/sin(π·contact/(2·width))) (textbook, from memory).
func EndContact(contact, width float64) float64 {
	return -math.Log(math.Sin(math.Pi*contact/(2*width))) / math.Pi
}

// Cross is a cross of four arms of equal width from face to face of its middle square, two arms open: Through straight on,
// Adjacent around the corner.
const (
	CrossThrough  = 0.5 + math.Ln2/math.Pi
	CrossAdjacent = 0.5
)

// RingRadial is a sector of a ring, by an angle in radians (2π: the whole ring), from its inner arc to its outer one.
func RingRadial(inner, outer, angle float64) float64 { return math.Log(outer/inner) / angle }

// RingAlong is a sector of a ring between its straight ends.
func RingAlong(inner, outer, angle float64) float64 { return angle / math.Log(outer/inner) }

// TaperSlices is a symmetric taper between straight electrodes as if all slices had an even potential: always too low, the more
// the steeper it is (from 1 to 2 over a length of 2 by 1.7 %, over 1 by 5 %).
func TaperSlices(length, width1, width2 float64) float64 {
	d := (width2 - width1) / width1
	if math.Abs(d) < 1e-8 {
		return length / width1 * (1 - d/2)
	}
	return length * math.Log1p(d) / (width2 - width1)
}

// SquareRing is the conductance, not the resistance, of a sheet of even width between a square and one around it, in squares:
// four sides and four corners. Too high by 1e-11 of it where the inner side is 10 times the width, by 8e-8 at 4 times, 8e-5 at
// twice, 0.3 % at once. Below that use netlist/measure/field.
func SquareRing(inner, width float64) float64 { return 4 * (inner/width + Corner()) }

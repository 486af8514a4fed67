package measure

import (
	"fmt"
	"math"
)

const (
	// VacuumPermittivity is ε0 in F/m: CODATA 2018 (E. Tiesinga et al., Rev. Mod. Phys. 93 (2021) 025010, from memory). Simulators of
	// the SPICE family take 8.854214871e-12 for gate oxides, 3e-6 more.
	VacuumPermittivity = 8.8541878128e-12
	// OxidePermittivity and SiliconPermittivity are relative: thermal SiO2 and Si (common practice).
	OxidePermittivity   = 3.9
	SiliconPermittivity = 11.7
	// electronCharge in C, exact by definition of the SI since 2019.
	electronCharge = 1.602176634e-19
)

// OxideAF returns the capacitance of an oxide of so many nm, in aF/µm²: ε0·3.9/t. A layer of 10 nm has 3453.133. Divide by 1000
// for fF/µm². Infinite at 0.
func OxideAF(thicknessNm float64) float64 {
	return VacuumPermittivity * OxidePermittivity / thicknessNm * 1e15 // F/m/nm = 1e9 F/m² = 1e27 aF/m² = 1e15 aF/µm²
}

// PlateAF returns the capacitance of a plate over another, in aF, from its area in µm² with aF/µm², and its edge in µm with
// aF/µm. The edge stands for the field beyond the plate; it is what processes state (common practice).
func PlateAF(areaUm2, areaAFPerUm2, edgeUm, edgeAFPerUm float64) float64 {
	return areaUm2*areaAFPerUm2 + edgeUm*edgeAFPerUm
}

// LineOverPlane returns the capacitance of a long line over a plane, per length and in units of ε of what surrounds it, from
// the width and thickness of the line and how high its lower side lies over the plane, in one unit:
//
//	w/h + 0.77 + 1.06·(w/h)^¼ + 1.06·(t/h)^½
//
// (N. v. d. Meijs, J. T. Fokkema, Integration 2 (1984) 85, from memory). Of three formulas that were compared with boundary
// elements for w/h from 0.5 to 10 and t/h from 0.5 to 1, it has the smallest error: 1.8 % at most. That is all that is known
// of it here, so outside of 0.5 ≤ w/h ≤ 10, 0.5 ≤ t/h ≤ 1 the value comes with an error that says so, a *RangeError.
func LineOverPlane(width, thickness, height float64) (float64, error) {
	w, t := width/height, thickness/height
	if !(w > 0 && t >= 0 && height > 0) || math.IsInf(w, 0) || math.IsInf(t, 0) {
		return math.NaN(), fmt.Errorf("a line %g wide and %g thick, %g over a plane, has no capacitance", width, thickness, height)
	}
	c := w + 0.77 + 1.06*math.Sqrt(math.Sqrt(w)) + 1.06*math.Sqrt(t)
	const slack = 1e-9 // of quotients
	if w < 0.5-slack || w > 10+slack || t < 0.5-slack || t > 1+slack {
		return c, &RangeError{WidthOverHeight: w, ThicknessOverHeight: t}
	}
	return c, nil
}

// LineAF is LineOverPlane in oxide, in aF/µm. The error is that of LineOverPlane.
func LineAF(width, thickness, height float64) (float64, error) {
	c, err := LineOverPlane(width, thickness, height)
	return c * VacuumPermittivity * OxidePermittivity * 1e12, err
}

// RangeError says that a value comes from a formula outside of where it was compared with anything.
type RangeError struct{ WidthOverHeight, ThicknessOverHeight float64 }

func (e *RangeError) Error() string {
	return fmt.Sprintf("width/height is %.3g and thickness/height %.3g: the formula of a line over a plane is known to be good "+
		"to 1.8 %% only from 0.5 to 10 and from 0.5 to 1", e.WidthOverHeight, e.ThicknessOverHeight)
}

// Junction is how the capacitance of a diffusion is stated by SPICE models.
type Junction struct {
	CJ   float64 // of the bottom at no bias, F/m²
	MJ   float64 // its grading coefficient
	CJSW float64 // of the side wall at no bias, F/m
	MJSW float64 // its grading coefficient
	PB   float64 // built-in voltage, V, of both
}

// Farad returns the capacitance of a junction of an area in m² and a perimeter in m at a reverse bias in V:
//
//	CJ·A/(1 + V/PB)^MJ + CJSW·P/(1 + V/PB)^MJSW
//
// (SPICE3f3 manual, MOS and diode models, from memory). It holds for V > -PB/2; with more forward bias models go on by a
// straight line instead, which is not done here: that is an error.
func (j Junction) Farad(areaM2, perimeterM, reverseV float64) (float64, error) {
	if !(j.PB > 0) || !(reverseV > -j.PB/2) {
		return math.NaN(), fmt.Errorf("a junction of built-in voltage %g V at %g V in reverse: the formula holds above -PB/2 only", j.PB, reverseV)
	}
	x := 1 + reverseV/j.PB
	return j.CJ*areaM2*math.Pow(x, -j.MJ) + j.CJSW*perimeterM*math.Pow(x, -j.MJSW), nil
}

// AbruptJunction returns how deep the depletion layer of a one-sided abrupt junction in silicon is, in µm, and its capacitance in
// fF/µm², from the built-in voltage and the reverse bias in V and the doping of the lighter side in cm⁻³:
//
//	√(2ε(Vbi + V)/(qN)) and ε over it
//
// (S. M. Sze, Physics of Semiconductor Devices, from memory). NaN where Vbi + V or N is not positive.
func AbruptJunction(builtInV, reverseV, dopingPerCm3 float64) (depthUm, fFPerUm2 float64) {
	v := builtInV + reverseV
	if !(v > 0 && dopingPerCm3 > 0) {
		return math.NaN(), math.NaN()
	}
	e := VacuumPermittivity * SiliconPermittivity
	w := math.Sqrt(2 * e * v / (electronCharge * dopingPerCm3 * 1e6)) // m
	return w * 1e6, e / w * 1e3                                       // F/m² = 1000 fF/µm²
}

package register

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// Ruler measures lengths between marks in a photograph.
type Ruler struct {
	Map        Map     // from the photograph to nm
	SigmaPx    float64 // standard uncertainty of each coordinate of a mark, in px
	SigmaScale float64 // of the map's scale, as a part of it; common to all lengths of the photograph. Calibration and Fit.SigmaScale add up in squares
}

// Calibrated is the ruler of a photograph of known scale that is not registered yet.
func Calibrated(s shot.Scale, sigmaPx float64) Ruler {
	k := s.NmPerPx
	return Ruler{Linear{Similarity, [3][3]float64{{k, 0, 0}, {0, -k, 0}, {0, 0, 1}}}, sigmaPx, s.Sigma / k}
}

// Length is a length and the two parts of its standard uncertainty, kept apart since the second is the same for all
// lengths of a photograph: it cancels in ratios and adds up in sums. All in nm.
type Length struct{ Nm, SigmaMarks, SigmaScale float64 }

// Sigma is the combined standard uncertainty, the two parts taken as independent.
func (l Length) Sigma() float64 { return math.Hypot(l.SigmaMarks, l.SigmaScale) }

// String is the length in µm with the digits that its uncertainty leaves.
func (l Length) String() string { return shot.Uncertain(l.Nm/1000, l.Sigma()/1000) + " µm" }

// Length measures from a to b, in px. With A and B their places in nm, J the map's derivative there, and e the unit
// vector from A to B,
//
//	L = |B − A|    σ² = σpx²·(|Jaᵀe|² + |Jbᵀe|²) + (σscale·L)²
//
// the law of propagation, first order, for independent marks (JCGM 100:2008, 5.1.2). The straight line in the frame is
// meant, however the photograph bends it. The first order holds where L is many times its σ. Marks on two sides of a
// horizon, or of a fold, are refused: there is no photographed way from one to the other.
func (r Ruler) Length(a, b geom.Vec) (Length, error) {
	if !(r.SigmaPx >= 0 && r.SigmaScale >= 0) {
		return Length{}, fmt.Errorf("uncertainties of %g px and %g of the scale: give standard deviations, 0 or more", r.SigmaPx, r.SigmaScale)
	}
	d := minus(r.Map.Apply(b), r.Map.Apply(a))
	length := math.Sqrt(square(d))
	if !finite(length) {
		return Length{}, fmt.Errorf("a mark at (%g, %g) or (%g, %g) that the map takes nowhere: it lies beyond what was registered", a.X, a.Y, b.X, b.Y)
	}
	if length == 0 {
		return Length{}, errors.New("two marks at the same place have no direction and no length: set the second one elsewhere")
	}
	if err := oneSide(r.Map, a, b); err != nil {
		return Length{}, err
	}
	e := d.Scale(1 / length)
	var sum float64
	for _, p := range []geom.Vec{a, b} {
		j := r.Map.Jacobian(p)
		sum += square(geom.Vec{X: j[0][0]*e.X + j[1][0]*e.Y, Y: j[0][1]*e.X + j[1][1]*e.Y})
	}
	return Length{length, r.SigmaPx * math.Sqrt(sum), r.SigmaScale * length}, nil
}

// oneSide returns an error where a map turns the neighbourhoods of two places different ways round: a projective one where
// its horizon runs between them, since its determinant goes with 1/w³, a spline where it folds. A chain is looked at map by
// map.
func oneSide(m Map, a, b geom.Vec) error {
	for _, link := range linksOf(m) {
		if !(link.Jacobian(a).Det()*link.Jacobian(b).Det() > 0) {
			between := "a fold"
			if _, ok := link.(Linear); ok {
				between = "its horizon"
			}
			return fmt.Errorf("marks on two sides of %s, (%.6g, %.6g) and (%.6g, %.6g), in the %s map: no length leads from one to the other; set both on one side, or register the photograph anew, with points near both", between, a.X, a.Y, b.X, b.Y, link.Kind())
		}
		a, b = link.Apply(a), link.Apply(b)
	}
	return nil
}

// Pitch measures a period of a row, from two marks that lie n periods apart: the marks' share falls as 1/n, the
// scale's stays the same part of it.
func (r Ruler) Pitch(a, b geom.Vec, n int) (Length, error) {
	if n < 1 {
		return Length{}, fmt.Errorf("%d periods: count those between the two marks, at least 1", n)
	}
	l, err := r.Length(a, b)
	k := float64(n)
	return Length{l.Nm / k, l.SigmaMarks / k, l.SigmaScale / k}, err
}

package shared

import (
	"fmt"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/register"
)

// Tidy takes rounding errors, and the minus before a zero, away: what is below a millionth is 0, in whatever unit.
func Tidy(v float64) float64 {
	if math.Abs(v) < 1e-6 {
		return 0
	}
	return v
}

// Hundredths is what two decimals show, without the minus before a zero.
func Hundredths(v float64) float64 { return math.Round(v*100)/100 + 0 }

// HowWell says how well a registration fits its control points. Where no point is left over, nothing tells it.
func HowWell(g *dossier.Registration) string {
	px, um := Tidy(g.RmsPx), Tidy(g.RmsNm)/1000
	switch {
	case g.Laid():
		return fmt.Sprintf("laid on another photograph, ± %.3g px (%.4g µm) at the worst corner", px, um)
	case len(g.Residuals) <= register.Kind(g.Kind).Points():
		return fmt.Sprintf("%d control points, none of which is left over to tell how well it fits", len(g.Residuals))
	}
	return fmt.Sprintf("%d control points, rms %.3g px (%.4g µm)", len(g.Residuals), px, um)
}

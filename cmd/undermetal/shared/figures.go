package shared

import "math"

// Tidy takes rounding errors, and the minus before a zero, away: what is below a millionth is 0, in whatever unit.
func Tidy(v float64) float64 {
	if math.Abs(v) < 1e-6 {
		return 0
	}
	return v
}

// Hundredths is what two decimals show, without the minus before a zero.
func Hundredths(v float64) float64 { return math.Round(v*100)/100 + 0 }

package register

import (
	"math"
	"slices"
)

// falseAlarm is the probability that any point of a good set is flagged. Bonferroni's inequality shares it out: each of
// n points is tested at falseAlarm/n.
const falseAlarm = 0.05

// outliers tests each point of a linear or projective fit by the sum of squares with all points and without that one.
//
// For errors that are normal, alike in both coordinates and independent, the square of the residual against the map
// fitted without the point, divided by its variance as estimated from the others, has the F distribution with 2 and
// m = 2n − 2 − parameters degrees of freedom (external studentisation, mean shift model: R. D. Cook, S. Weisberg,
// Residuals and Influence in Regression, 1982, from memory). With 2 degrees its tail is elementary,
//
//	P(F > f) = (1 + 2f/m)^(−m/2) = (without/rss)^(m/2)
//
// exactly for similarity and affine, to first order for projective maps. Two wrong points can hide each other: after
// one is corrected the fit is to be looked at again.
func outliers(rss float64, without []float64, parameters int) []bool {
	n := len(without)
	flags := make([]bool, n)
	m := float64(2*n - 2 - parameters)
	if m <= 0 || rss < float64(n)*rounding*rounding {
		return flags // nothing to judge by
	}
	for i, w := range without {
		flags[i] = math.Pow(max(0, w)/rss, m/2) < falseAlarm/float64(n) // false for NaN
	}
	return flags
}

// rounding is the size of residuals, in units of the scaled targets, that are no more than float64's errors.
const rounding = 1e-10

// splineOutliers tests the points of a spline, whose residuals are all 0, by how hard each bends it.
//
// The weights are w = P·v for given places v, with P the n×n part of the inverse of the spline's matrix. If the places
// err independently by σ in each coordinate, and the true map bends little between points, wᵢ errs by σ·|row i of P|. So
// z² = |w|²/|row|² has the same scale everywhere, and z²/2σ² an exponential distribution.
//
// The point with the largest z is taken out (the inverse of a matrix without row and column i is P − PᵢPᵢᵀ/Pᵢᵢ), since it
// bends its neighbours too. The others give σ by the r smallest, three quarters of them, as if the rest had been cut off
// at the last: 2σ² = (Σ z² + (n−r)·z²ᵣ)/r, which a quarter of wrong points cannot spoil, and which scatters as a variance
// with 2r degrees of freedom (B. Epstein, M. Sobel, Life Testing, 1953, from memory); three pairs of the n are used up
// by the affine part. z²/2σ² is held against the F distribution with 2 and so many. If the point goes with the others,
// that is the end; else the next one is tried, up to a quarter of the points.
//
// A point at the border bends the spline least and is the hardest to find wrong. Distortions that the points are too few
// to follow look like errors. In trials about 6 % of good sets had a flag, and with 30 points, one of them off by 8 σ, it
// was found in 96 % of cases inside and 90 % at the border; at 12 σ in 99 % (TestFalseAlarms, TestWrongPoint).
func splineOutliers(p [][]float64, wx, wy []float64) []bool {
	n := len(wx)
	flags := make([]bool, n)
	for out := 0; n-out >= fewestForSpline && out < n/4; out++ {
		z2 := bends(p, wx, wy, flags)
		worst := 0
		for i, z := range z2 {
			if z > z2[worst] {
				worst = i
			}
		}
		flags[worst] = true
		takeOut(p, wx, wy, worst)
		sigma2, freedom := cutOff(bends(p, wx, wy, flags), n-out-1)
		tail := math.Pow(1+z2[worst]/sigma2/freedom, -freedom/2)
		if !(tail < falseAlarm/float64(n-out)) || math.Sqrt(z2[worst]) < rounding {
			flags[worst] = false
			break
		}
	}
	return flags
}

// bends returns z² of all points, 0 for those taken out.
func bends(p [][]float64, wx, wy []float64, out []bool) []float64 {
	z2 := make([]float64, len(wx))
	for i := range z2 {
		row := 0.0
		for _, v := range p[i] {
			row += v * v
		}
		if !out[i] {
			z2[i] = (wx[i]*wx[i] + wy[i]*wy[i]) / row
		}
	}
	return z2
}

// cutOff returns σ² and its degrees of freedom from the n largest of z², which are those not taken out.
func cutOff(z2 []float64, n int) (sigma2, freedom float64) {
	slices.Sort(z2)
	z2 = z2[len(z2)-n:]
	r := 3 * n / 4
	sum := float64(n-r) * z2[r-1]
	for _, z := range z2[:r] {
		sum += z
	}
	return sum / float64(2*r), float64(2*r) * float64(n-3) / float64(n)
}

// fewestForSpline is how many points a spline must have so that one can be told from the others.
const fewestForSpline = 8

// takeOut removes point k from P and the weights; its row and column become 0.
func takeOut(p [][]float64, wx, wy []float64, k int) {
	row, x, y := slices.Clone(p[k]), wx[k]/p[k][k], wy[k]/p[k][k]
	for i, f := range row {
		wx[i], wy[i] = wx[i]-f*x, wy[i]-f*y
		for j := range p[i] {
			p[i][j] -= f * row[j] / row[k]
		}
	}
}

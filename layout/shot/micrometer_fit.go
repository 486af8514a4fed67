package shot

import "math"

// spacing is what the places of equidistant lines, photographed through a lens, say.
type spacing struct {
	period  float64 // px, in the mean of all lines
	sigma   float64 // its standard uncertainty by the scatter of the lines alone
	scatter float64 // px, of a line about the smooth curve through all
	uneven  float64 // px, root mean square by which the period at a line departs from the mean one
	unseen  float64 // px, the standard uncertainty of uneven: an unevenness below it does not show
}

// placing is how well the place of a line is taken to be known at best, in px: sampling and the lens leave so much even
// where lines happen to lie on equal distances.
const placing = 0.01

// fitSpacing fits a cubic in the line number to the places of more than four lines, in px: its slope is the period, its
// square term the work of a tilted stage, its cubic one that of a lens with barrel or pincushion distortion. Least
// squares by polynomials that are orthogonal over whole numbers, so that no term changes another (J. P. Gram, 1883;
// from memory):
//
//	u = i - (n-1)/2    p1 = u    p2 = u² - (n²-1)/12    p3 = u³ - u(3n²-7)/20
//
// A coefficient has the variance scatter²/Σp², and the period at line i departs from the mean by c2·p2'(u) + c3·p3'(u).
func fitSpacing(places []float64) spacing {
	n := float64(len(places))
	terms := func(i int) (p, slope [4]float64) {
		u := float64(i) - (n-1)/2
		k := (3*n*n - 7) / 20
		return [4]float64{1, u, u*u - (n*n-1)/12, u*u*u - u*k}, [4]float64{0, 1, 2 * u, 3*u*u - k}
	}
	var sum, norm, c [4]float64
	for i, x := range places {
		p, _ := terms(i)
		for j := range p {
			sum[j] += p[j] * x
			norm[j] += p[j] * p[j]
		}
	}
	for j := range c {
		c[j] = sum[j] / norm[j]
	}
	var squares, uneven, unseen float64
	for i, x := range places {
		p, slope := terms(i)
		r := x - c[0]*p[0] - c[1]*p[1] - c[2]*p[2] - c[3]*p[3]
		d := c[2]*slope[2] + c[3]*slope[3]
		squares += r * r
		uneven += d * d / n
		unseen += (slope[2]*slope[2]/norm[2] + slope[3]*slope[3]/norm[3]) / n
	}
	scatter := max(placing, math.Sqrt(squares/(n-4)))
	return spacing{c[1], scatter / math.Sqrt(norm[1]), scatter, math.Sqrt(uneven), scatter * math.Sqrt(unseen)}
}

// total returns the standard uncertainty of the period for lengths anywhere along the lines: by their scatter, and by
// what the period changes from place to place, or could change without showing.
func (s spacing) total() float64 { return math.Hypot(s.sigma, max(s.uneven, s.unseen)) }

// bent reports whether the period changes beyond doubt: by more than three times what scatter alone would make of it.
func (s spacing) bent() bool { return s.uneven > 3*s.unseen }

package plot

import (
	"math"
	"sort"
)

// point is a place in a panel.
type point struct{ x, y float64 }

// columns is how finely a line is drawn along x: in a picture of 7 inches finer than any screen shows.
const columns = 2000

// lines returns what is to be drawn of a series: runs of points between gaps, in each column of x only the first, lowest,
// highest and last. So a picture of a million points stays small, and no peak is lost. A series that does not go in one
// direction along x (a curve through the plane, a nested sweep) is drawn point by point.
func (p *Panel) lines(s Series, x span) [][]point {
	var runs [][]point
	var run []point
	for i := range s.X {
		if p.X.shows(s.X[i]) && p.Y.shows(s.Y[i]) {
			run = append(run, point{s.X[i], s.Y[i]})
		} else if len(run) > 0 {
			runs = append(runs, run)
			run = nil
		}
	}
	if len(run) > 0 {
		runs = append(runs, run)
	}
	for i, run := range runs {
		if len(run) > 4*columns && sort.SliceIsSorted(run, func(i, j int) bool { return run[i].x < run[j].x }) {
			runs[i] = thinned(run, p.X.columns(x, columns))
		}
	}
	return runs
}

// columns returns a function that tells the column of a value, 0 to n−1, of a range cut into n.
func (a *Axis) columns(s span, n int) func(x float64) int {
	low, high := a.along(s.min), a.along(s.max)
	return func(x float64) int {
		c := int(float64(n) * (a.along(x) - low) / (high - low))
		return min(max(c, 0), n-1)
	}
}

// along is where a value lies on the axis.
func (a *Axis) along(v float64) float64 {
	if a.Log {
		return math.Log10(v)
	}
	return v
}

// thinned keeps the first, lowest, highest and last point of each column, in their order.
func thinned(run []point, column func(x float64) int) []point {
	var out []point
	for i := 0; i < len(run); {
		c := column(run[i].x)
		low, high, end := i, i, i
		for ; end < len(run) && column(run[end].x) == c; end++ {
			if run[end].y < run[low].y {
				low = end
			}
			if run[end].y > run[high].y {
				high = end
			}
		}
		last := -1
		for _, k := range []int{i, min(low, high), max(low, high), end - 1} {
			if k > last {
				out = append(out, run[k])
				last = k
			}
		}
		i = end
	}
	return out
}

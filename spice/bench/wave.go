package bench

import (
	"fmt"
	"math"

	"undermetal/spice/simulate"
)

// wave is a waveform over its scale.
type wave struct{ x, y []float64 }

// waveOf returns a vector of a plot over the plot's scale.
func waveOf(r *simulate.Result, plot, vector string) (wave, error) {
	p := r.Plot(plot)
	if p == nil || len(p.Vectors) == 0 {
		return wave{}, fmt.Errorf("the run %s gave nothing", plot)
	}
	v := p.Vector(vector)
	if v == nil || len(v.Re) == 0 {
		return wave{}, fmt.Errorf("the run %s gave no %s", plot, vector)
	}
	y := v.Re
	if v.Im != nil {
		y = make([]float64, len(v.Re))
		for i := range y {
			y[i] = math.Hypot(v.Re[i], v.Im[i])
		}
	}
	return wave{p.Vectors[0].Re, y}, nil
}

// single returns the one value of a vector.
func single(r *simulate.Result, plot, vector string) (float64, error) {
	w, err := waveOf(r, plot, vector)
	if err != nil {
		return math.NaN(), err
	}
	return w.y[len(w.y)-1], nil
}

// at returns the value at x, between points on a straight line, beyond the ends that of the end.
func (w wave) at(x float64) float64 {
	if len(w.x) == 0 {
		return math.NaN()
	}
	up := w.x[len(w.x)-1] >= w.x[0]
	for i := 1; i < len(w.x); i++ {
		if up == (w.x[i] >= x) || w.x[i] == x {
			if i == 1 && (up && x <= w.x[0] || !up && x >= w.x[0]) {
				return w.y[0]
			}
			if w.x[i] == w.x[i-1] {
				return w.y[i]
			}
			f := (x - w.x[i-1]) / (w.x[i] - w.x[i-1])
			return w.y[i-1] + f*(w.y[i]-w.y[i-1])
		}
	}
	return w.y[len(w.y)-1]
}

// crossings returns where the waveform passes a level, upward or downward.
func (w wave) crossings(level float64, rising bool) []float64 {
	var list []float64
	for i := 1; i < len(w.x); i++ {
		a, b := w.y[i-1]-level, w.y[i]-level
		if rising && a < 0 && b >= 0 || !rising && a > 0 && b <= 0 {
			list = append(list, w.x[i-1]+(w.x[i]-w.x[i-1])*a/(a-b))
		}
	}
	return list
}

// first returns the first crossing after x, NaN without.
func (w wave) first(level float64, rising bool, x float64) float64 {
	for _, c := range w.crossings(level, rising) {
		if c >= x {
			return c
		}
	}
	return math.NaN()
}

// slope returns the slope of the line through the values at two places.
func (w wave) slope(x0, x1 float64) float64 { return (w.at(x1) - w.at(x0)) / (x1 - x0) }

func (w wave) minMax() (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, y := range w.y {
		low, high = min(low, y), max(high, y)
	}
	return low, high
}

// root finds where f is 0 between a and b, where it has different signs, by halving.
func root(f func(float64) float64, a, b float64) float64 {
	fa := f(a)
	if fb := f(b); fa == 0 || math.Signbit(fa) == math.Signbit(fb) {
		if fa == 0 {
			return a
		}
		return math.NaN()
	}
	for range 200 {
		m := (a + b) / 2
		if fm := f(m); math.Signbit(fm) == math.Signbit(fa) {
			a = m
		} else {
			b = m
		}
	}
	return (a + b) / 2
}

// Physical constants: exact since the SI of 2019. The temperature is what simulators take.
const (
	boltzmann = 1.380649e-23
	charge    = 1.602176634e-19
	kelvin    = 300.15
)

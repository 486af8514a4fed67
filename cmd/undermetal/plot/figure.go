package plot

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Figure is one or more panels below each other.
type Figure struct {
	Title  string
	Panels []Panel
}

// Panel is one pair of axes with series.
type Panel struct {
	Title  string
	X, Y   Axis
	Series []Series
}

// Axis says what is along it.
type Axis struct {
	Label string // "time"
	Unit  string // "s"; shown with an SI prefix where it is a plain unit
	Log   bool   // values that are not above 0 are left out
}

// Series is one line: a value of Y for each of X, in the axes' units. NaN leaves a gap.
type Series struct {
	Name string
	X, Y []float64
}

// ErrNothing: there is nothing to plot: no panel, or one without a value that can be shown.
var ErrNothing = errors.New("nothing to plot")

// check says what keeps a figure from being shown.
func (f *Figure) check() error {
	if len(f.Panels) == 0 {
		return ErrNothing
	}
	for i := range f.Panels {
		p := &f.Panels[i]
		for _, s := range p.Series {
			if len(s.X) != len(s.Y) {
				return fmt.Errorf("plot: %q has %d values for %d places", s.Name, len(s.Y), len(s.X))
			}
		}
		if x, y := p.ranges(); math.IsInf(x.min, 0) || math.IsInf(y.min, 0) {
			return fmt.Errorf("%w: panel %d, %q, has no value", ErrNothing, i+1, p.Y.Label)
		}
	}
	return nil
}

// shows says whether a value has a place on the axis.
func (a *Axis) shows(v float64) bool {
	return !math.IsNaN(v) && !math.IsInf(v, 0) && (!a.Log || v > 0)
}

// text returns a name in one line, as it may be shown.
func text(s string) string {
	s = strings.Map(func(r rune) rune {
		if !strconv.IsPrint(r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "?"))
	return strings.TrimSpace(s)
}

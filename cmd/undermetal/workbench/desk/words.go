package desk

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"

	"undermetal/layout/geom"
)

// harmless makes one line of a text, without what a terminal would obey.
func harmless(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

// um writes nm as µm, to the nm, without trailing zeros.
func um(nm float64) string {
	if !(math.Abs(nm) < 1e15) {
		return "?"
	}
	return string(geom.AppendUm(nil, geom.RoundHalfUp(nm)))
}

// place writes a place of the frame in µm.
func place(p geom.Vec) string { return um(p.X) + ", " + um(p.Y) }

func vec(p geom.Point) geom.Vec { return geom.Vec{X: float64(p.X), Y: float64(p.Y)} }

func counted(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// number reads a number that is finite.
func number(s string) (float64, error) {
	v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(s, "um"), "µm"), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is no number: give one as in 12.5", s)
	}
	return v, nil
}

// pair reads two numbers with a comma between them.
func pair(s string) (v geom.Vec, err error) {
	a, b, ok := strings.Cut(s, ",")
	if !ok {
		return v, fmt.Errorf("%q is no place: give x,y in µm, as in 120.5,88", s)
	}
	x, err := number(a)
	if err != nil {
		return v, err
	}
	y, err := number(b)
	return geom.Vec{X: x, Y: y}, err
}

// framePoint reads a place of the frame in µm.
func framePoint(s string) (geom.Vec, error) {
	v, err := pair(s)
	v = v.Scale(1000)
	if err == nil && !(math.Abs(v.X) <= geom.Limit && math.Abs(v.Y) <= geom.Limit) {
		err = fmt.Errorf("%s µm lies outside the frame, which reaches to ±%d µm", s, geom.Limit/1000)
	}
	return v, err
}

// framePoint reads a place of the frame in µm, or of the first photograph in px.
func (d *Desk) framePoint(s string) (geom.Vec, error) {
	text, isPx := strings.CutSuffix(s, "px")
	if !isPx {
		return framePoint(s)
	}
	px, err := pair(text)
	if err != nil {
		return px, err
	}
	l := d.located()
	switch {
	case l == nil:
		return px, errNoScale
	case !l.Inside(px):
		return px, fmt.Errorf("%s has %.0f × %.0f pixels: %s lies beside it", l.Name, l.Width, l.Height, s)
	}
	return l.ToFrame.Apply(px), nil
}

// framePoints reads places of the frame; without words it is none.
func (d *Desk) framePoints(words []string) (out []geom.Point, err error) {
	for _, w := range words {
		v, err := d.framePoint(w)
		if err != nil {
			return nil, err
		}
		out = append(out, v.Round())
	}
	return out, nil
}

// errNoScale is told where places of a photograph are no places of the die.
var errNoScale = errors.New("no scale yet: 1, r along a known length, :length UM SIGMA; or :calibrate NM SIGMA, in nm per pixel")

var errNothingSelected = errors.New("nothing is selected: s in the station trace selects what lies under the cursor")

package dossier

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// Located is a shot with the way from its pixels to the frame, as far as that is known.
type Located struct {
	*Shot
	Width, Height float64      // of the upright photograph, in px
	ToFrame       register.Map // pixels to nm of the frame; nil where the shot is neither registered nor calibrated
	FromFrame     register.Map // and back
	Registration  *Registration
}

// Locate finds out where a shot lies: as it is registered, or, as long as it is not, by its scale alone, the frame's origin
// at its lower left corner.
func (r reads) Locate(s *Shot) (*Located, error) {
	l := &Located{Shot: s}
	l.Width, l.Height = s.Size()
	g, err := r.Registration(s.ID)
	switch {
	case err == nil:
		l.Registration = g
		if l.ToFrame, err = g.Map(); err == nil {
			l.FromFrame, err = l.ToFrame.Inverse()
		}
		if err != nil {
			return nil, fmt.Errorf("the registration of %s: %w", s.Name, err)
		}
	case !errors.Is(err, ErrMissing):
		return nil, err
	case s.Scale.NmPerPx > 0:
		l.ToFrame = atCorner(s.Scale.NmPerPx, l.Height)
		if l.FromFrame, err = l.ToFrame.Inverse(); err != nil {
			return nil, fmt.Errorf("the scale of %s: %w", s.Name, err)
		}
	}
	return l, nil
}

// atCorner is the map of a photograph of a height in px whose lower left corner is the frame's origin.
func atCorner(nmPerPx, height float64) register.Map {
	m, err := register.ParseMap(register.Similarity, []float64{nmPerPx, 0, 0, 0, -nmPerPx, height * nmPerPx})
	if err != nil {
		panic("dossier: " + err.Error()) // any scale above 0 can be undone
	}
	return m
}

// Middle is the middle of the photograph, in px.
func (l *Located) Middle() geom.Vec { return geom.Vec{X: l.Width / 2, Y: l.Height / 2} }

// Outline returns where the rim of the photograph lies in the frame; nil where some of it lies beyond, or nobody knows where it lies.
func (l *Located) Outline() geom.Polygon {
	if l.ToFrame == nil {
		return nil
	}
	const steps = 8 // a side, since maps may bend it
	var r geom.Ring
	w, h := l.Width, l.Height
	for _, side := range [][2]geom.Vec{{{}, {X: w}}, {{X: w}, {X: w, Y: h}}, {{X: w, Y: h}, {Y: h}}, {{Y: h}, {}}} {
		for i := range steps {
			t := float64(i) / steps
			v := l.ToFrame.Apply(geom.Vec{X: side[0].X + (side[1].X-side[0].X)*t, Y: side[0].Y + (side[1].Y-side[0].Y)*t})
			if !inFrame(v) {
				return nil
			}
			r = append(r, v.Round())
		}
	}
	return geom.Polygon{r}
}

// Inside reports whether a place, in px, lies on the photograph.
func (l *Located) Inside(v geom.Vec) bool {
	return v.X >= 0 && v.X <= l.Width && v.Y >= 0 && v.Y <= l.Height
}

// NmPerPx returns how long a pixel at a place is along the rows and along the columns of the photograph, in nm. It is for
// shots whose ToFrame is known.
func (l *Located) NmPerPx(at geom.Vec) (x, y float64) {
	j := l.ToFrame.Jacobian(at)
	return math.Hypot(j[0][0], j[1][0]), math.Hypot(j[0][1], j[1][1])
}

// Around returns a box of the frame around a part of the photograph, by the places along the part's border. Where one of
// these lies beyond what the map reaches, it is all of the frame. It is for shots whose ToFrame is known.
func (l *Located) Around(x0, y0, x1, y1 float64) geom.Rect {
	const steps = 32
	lo, hi := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range steps {
		t := float64(i) / steps
		x, y := (x1-x0)*t, (y1-y0)*t
		for _, v := range []geom.Vec{{X: x0 + x, Y: y0}, {X: x1, Y: y0 + y}, {X: x1 - x, Y: y1}, {X: x0, Y: y1 - y}} {
			q := l.ToFrame.Apply(v)
			if !inFrame(q) {
				return geom.Box(-geom.Limit, -geom.Limit, geom.Limit, geom.Limit)
			}
			lo, hi = geom.Vec{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}, geom.Vec{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
		}
	}
	down, up := func(v float64) int { return int(math.Floor(v + 1e-6)) }, func(v float64) int { return int(math.Ceil(v - 1e-6)) } // but for rounding errors
	return geom.Box(down(lo.X), down(lo.Y), up(hi.X), up(hi.Y))
}

// inFrame is false of what is no number, too.
func inFrame(v geom.Vec) bool { return math.Abs(v.X) <= geom.Limit && math.Abs(v.Y) <= geom.Limit }

// CheckMap returns an error where a map cannot say where a shot lies: it has no inverse, or turns over, or has no end,
// between the middle of the photograph and a corner.
func (s *Shot) CheckMap(m register.Map) error {
	if _, err := m.Inverse(); err != nil {
		return err
	}
	w, h := s.Size()
	sense := m.Jacobian(geom.Vec{X: w / 2, Y: h / 2}).Det()
	for _, x := range []float64{0, w} {
		for _, y := range []float64{0, h} {
			if det := m.Jacobian(geom.Vec{X: x, Y: y}).Det(); !(det*sense > 0) || math.IsInf(det, 0) {
				return fmt.Errorf("%w: the %s map has its horizon, or folds, between the photograph's middle and the corner (%.0f, %.0f)", ErrCorner, m.Kind(), x, y)
			}
		}
	}
	return nil
}

// ErrCorner is wrapped by the error for a map that does not reach all corners of a photograph.
var ErrCorner = errors.New("the map does not hold for the whole photograph")

package main

import (
	"errors"
	"fmt"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// placed is a photograph with the way to the frame, as far as that is known.
type placed struct {
	*dossier.Shot
	w, h         float64      // of the upright photograph, in px
	to           register.Map // pixels to nm of the frame; nil where the photograph has no scale
	from         register.Map // and back
	registration *dossier.Registration
}

// locate finds out where a shot lies: as it is registered, or, as long as it is not, by its scale alone, the frame's origin
// at its lower left corner.
func locate(d shotReader, s *dossier.Shot) (*placed, error) {
	w, h := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	p := &placed{Shot: s, w: float64(w), h: float64(h)}
	g, err := d.Registration(s.ID)
	switch {
	case err == nil:
		p.registration = g
		if p.to, err = register.ParseMap(register.Kind(g.Kind), g.Parameters); err == nil {
			p.from, err = p.to.Inverse()
		}
		if err != nil {
			return nil, fmt.Errorf("the registration of %s: %w", s.Name, err)
		}
	case !errors.Is(err, dossier.ErrMissing):
		return nil, err
	case s.Scale.NmPerPx > 0:
		p.to = corner(s.Scale.NmPerPx, p.h)
		if p.from, err = p.to.Inverse(); err != nil {
			return nil, fmt.Errorf("the scale of %s: %w", s.Name, err)
		}
	}
	return p, nil
}

// shotReader is what reads registrations: a dossier, or an edit under way.
type shotReader interface {
	Registration(shot int64) (*dossier.Registration, error)
}

// corner is the map of a photograph of height h whose lower left corner is the frame's origin.
func corner(nmPerPx, h float64) register.Map {
	m, err := register.ParseMap(register.Similarity, []float64{nmPerPx, 0, 0, 0, -nmPerPx, h * nmPerPx})
	if err != nil {
		panic("shot_map: " + err.Error()) // any scale above 0 can be undone
	}
	return m
}

// inside reports whether a place, in px, lies on the photograph.
func (p *placed) inside(v geom.Vec) bool { return v.X >= 0 && v.X <= p.w && v.Y >= 0 && v.Y <= p.h }

// nmPerPx returns how long a pixel at a place is along the rows and along the columns of the photograph, in nm.
func (p *placed) nmPerPx(at geom.Vec) (x, y float64) {
	j := p.to.Jacobian(at)
	return math.Hypot(j[0][0], j[1][0]), math.Hypot(j[0][1], j[1][1])
}

// extent says how large a photograph is in the frame, where that is known, measured at its middle.
func (p *placed) extent() string {
	if p.to == nil {
		return ""
	}
	x, y := p.nmPerPx(geom.Vec{X: p.w / 2, Y: p.h / 2})
	return fmt.Sprintf(", or %.5g × %.5g µm", um(p.w*x), um(p.h*y))
}

// reaches says which part of the frame a registered photograph shows, for errors; nothing for others, whose frame begins
// at their corner.
func (p *placed) reaches() string {
	if p.registration == nil {
		return ""
	}
	box := p.around(0, 0, p.w, p.h)
	return fmt.Sprintf("\n    in the frame it reaches from (%.5g, %.5g) to (%.5g, %.5g) µm", um(float64(box.Min.X)), um(float64(box.Min.Y)), um(float64(box.Max.X)), um(float64(box.Max.Y)))
}

// around returns a box of the frame around a part of the photograph, by the places along the part's border. Where one of
// these lies beyond what the map reaches, it is all of the frame.
func (p *placed) around(x0, y0, x1, y1 float64) geom.Rect {
	const steps = 32
	lo, hi := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range steps {
		t := float64(i) / steps
		x, y := (x1-x0)*t, (y1-y0)*t
		for _, v := range []geom.Vec{{X: x0 + x, Y: y0}, {X: x1, Y: y0 + y}, {X: x1 - x, Y: y1}, {X: x0, Y: y1 - y}} {
			q := p.to.Apply(v)
			if !(math.Abs(q.X) <= geom.Limit && math.Abs(q.Y) <= geom.Limit) {
				return geom.Box(-geom.Limit, -geom.Limit, geom.Limit, geom.Limit)
			}
			lo, hi = geom.Vec{X: min(lo.X, q.X), Y: min(lo.Y, q.Y)}, geom.Vec{X: max(hi.X, q.X), Y: max(hi.Y, q.Y)}
		}
	}
	down, up := func(v float64) int { return int(math.Floor(v + 1e-6)) }, func(v float64) int { return int(math.Ceil(v - 1e-6)) } // but for rounding errors
	return geom.Box(down(lo.X), down(lo.Y), up(hi.X), up(hi.Y))
}

// maker returns the shot that the frame has its scale from: the first registered one in the list that is calibrated; as
// long as none is registered, the first that is calibrated. nil where there is none.
func maker(d *dossier.Dossier) (*dossier.Shot, error) {
	shots, err := d.Shots()
	if err != nil {
		return nil, err
	}
	maps, err := registrations(d, shots)
	if err != nil {
		return nil, err
	}
	for i := range shots {
		if _, registered := maps[shots[i].ID]; shots[i].Scale.NmPerPx > 0 && (registered || len(maps) == 0) {
			return &shots[i], nil
		}
	}
	return nil, nil
}

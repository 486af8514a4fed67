package main

import (
	"fmt"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// withinShot says why a place in pixels is none of a shot. What misses its border by rounding errors is on it.
func withinShot(l *dossier.Located, px geom.Vec) error { return (&rim{of: l, margin: 1e-3}).within(px) }

// rim is the border of a shot, beyond which a drawing may reach a little: discs and wires at it stick out.
type rim struct {
	of       *dossier.Located
	margin   float64 // px
	furthest float64 // px that something reached beyond the border
}

// rimShare is how far a drawing may reach beyond a photograph, as a part of its longer side. The map was fitted to what lies
// on the photograph.
const rimShare = 0.02

func newRim(l *dossier.Located) *rim { return &rim{of: l, margin: rimShare * max(l.Width, l.Height)} }

// within says why a place in pixels cannot be placed by a shot.
func (r *rim) within(px geom.Vec) error {
	l := r.of
	beyond := max(-px.X, -px.Y, px.X-l.Width, px.Y-l.Height, 0)
	if !(beyond <= r.margin) {
		return fmt.Errorf("(%.6g, %.6g) px lies outside of %s, which has %.0f × %.0f pixels", px.X, px.Y, l.Name, l.Width, l.Height)
	}
	if beyond == 0 {
		return nil
	}
	r.furthest = max(r.furthest, beyond)
	if turn := l.ToFrame.Jacobian(px).Det() * l.ToFrame.Jacobian(l.Middle()).Det(); !(turn > 0) {
		return fmt.Errorf("(%.6g, %.6g) px lies beside %s, where its map has a horizon or folds: it is no place of the frame", px.X, px.Y, l.Name)
	}
	return nil
}

// note says how far a drawing reached beyond the border; nothing where it did not.
func (r *rim) note() []string {
	if r == nil || r.furthest <= 1e-3 {
		return nil
	}
	return []string{fmt.Sprintf("it reaches up to %.3g px beyond the border of %s, and was placed there by its map, too", r.furthest, r.of.Name)}
}

// svgRim is a rim for places in the units of a drawing.
type svgRim struct {
	*rim
	pixels func(geom.Vec) geom.Vec
}

func (r *svgRim) within(v geom.Vec) error { return r.rim.within(r.pixels(v)) }

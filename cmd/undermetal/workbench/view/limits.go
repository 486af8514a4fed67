package view

import (
	"undermetal/layout/geom"
)

// Limits keep a view where there is something to see.
type Limits struct {
	Die    geom.Rect // all that there is: photographs and shapes; not empty
	Finest float64   // nm per px, above 0: see LimitsOf
}

// finestPart is the part of a photograph's pixel that a px shows when nobody may go further in.
const finestPart = 1. / 16

// LimitsOf returns the limits for a die whose sharpest photograph has pixels so wide, in nm: out to where the die takes
// half of the picture, in to 16 px for a pixel, and no further away than that the middle of the picture lies on the die.
func LimitsOf(die geom.Rect, nmPerPixel float64) Limits {
	return Limits{Die: die, Finest: nmPerPixel * finestPart}
}

// Coarsest returns the largest NmPerPx: the one at which the die takes half of the picture's width or height.
func (l Limits) Coarsest(v View) float64 {
	return max(2*v.Fit(l.Die, 0).NmPerPx, l.Finest)
}

// Zoom is View.Zoom as far as the limits allow. What lies at (x, y) stays there, unless that would lead away from the die.
func (l Limits) Zoom(v View, by, x, y float64) View {
	at := v.ToFrame(x, y)
	v.NmPerPx = max(l.Finest, min(l.Coarsest(v), v.NmPerPx/by))
	return l.hold(v.hold(at, x, y))
}

// Pan is View.Pan as far as the limits allow.
func (l Limits) Pan(v View, dx, dy float64) View { return l.hold(v.Pan(dx, dy)) }

// Hold brings a view within the limits, by its scale about the middle and by its place.
func (l Limits) Hold(v View) View {
	v.NmPerPx = max(l.Finest, min(l.Coarsest(v), v.NmPerPx))
	return l.hold(v)
}

// hold keeps the middle on the die.
func (l Limits) hold(v View) View {
	v.Middle.X = max(float64(l.Die.Min.X), min(float64(l.Die.Max.X), v.Middle.X))
	v.Middle.Y = max(float64(l.Die.Min.Y), min(float64(l.Die.Max.Y), v.Middle.Y))
	return v
}

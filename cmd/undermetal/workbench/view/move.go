package view

import (
	"math"

	"undermetal/layout/geom"
)

// Pan moves what is seen by so many px to the right and down, as if it were dragged.
func (v View) Pan(dx, dy float64) View {
	d := v.across(dx, dy)
	v.Middle = geom.Vec{X: v.Middle.X - d.X, Y: v.Middle.Y - d.Y}
	return v
}

// Zoom magnifies what is seen, by less than 1 makes it smaller. What lies at (x, y) of the screen stays there.
func (v View) Zoom(by, x, y float64) View {
	at := v.ToFrame(x, y)
	v.NmPerPx /= by
	return v.hold(at, x, y)
}

// TurnBy turns what is seen by so many degrees, counterclockwise, about the middle.
func (v View) TurnBy(degrees float64) View {
	v.Turn = math.Mod(v.Turn+degrees, 360)
	if v.Turn < 0 {
		v.Turn += 360
	}
	return v
}

// hold moves the view so that a place of the frame lies at (x, y).
func (v View) hold(at geom.Vec, x, y float64) View {
	d := v.across(x-float64(v.Width)/2, y-float64(v.Height)/2)
	v.Middle = geom.Vec{X: at.X - d.X, Y: at.Y - d.Y}
	return v
}

// Centre brings a place of the frame into the middle.
func (v View) Centre(at geom.Vec) View {
	v.Middle = at
	return v
}

// Resize gives the picture another size; what lay in the middle stays there, and the scale is kept in nm a px.
func (v View) Resize(width, height int, aspect float64) View {
	v.Width, v.Height, v.Aspect = width, height, aspect
	return v
}

// Fit shows all of a box of the frame, as large as it can be seen, with a rim about it that is a part of the picture's
// sides: 0 for none, below 0.5. Turn and size stay. A box without any extent is brought into the middle only.
func (v View) Fit(box geom.Rect, rim float64) View {
	if box.Empty() || v.Width < 1 || v.Height < 1 {
		return v
	}
	v.Middle = geom.Vec{X: float64(box.Min.X+box.Max.X) / 2, Y: float64(box.Min.Y+box.Max.Y) / 2}
	cos, sin := v.turned()
	cos, sin = math.Abs(cos), math.Abs(sin)
	w, h := float64(box.Width()), float64(box.Height())
	_, tall := View{NmPerPx: 1, Aspect: v.Aspect}.Sides()
	free := 1 - 2*rim
	if nm := max((cos*w+sin*h)/(free*float64(v.Width)), (sin*w+cos*h)/(free*float64(v.Height)*tall)); nm > 0 {
		v.NmPerPx = nm
	}
	return v
}

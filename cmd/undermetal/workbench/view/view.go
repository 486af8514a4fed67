package view

import (
	"math"

	"undermetal/layout/geom"
)

// View is what a picture shows of the frame.
type View struct {
	Middle        geom.Vec // nm: what lies in the middle of the picture
	NmPerPx       float64  // how wide a px is, above 0
	Turn          float64  // degrees by which the frame is turned on the screen, counterclockwise
	Width, Height int      // of the picture, in px
	Aspect        float64  // how many times as high as wide a px is; 0: 1, square
}

// AspectOf returns the Aspect of a picture of which columns × rows px fill a cell of the screen, in any unit.
func AspectOf(cellWidth, cellHeight float64, columns, rows int) float64 {
	return cellHeight / float64(rows) * float64(columns) / cellWidth
}

// Sides returns how wide and how high a px is, in nm.
func (v View) Sides() (x, y float64) {
	if v.Aspect > 0 {
		return v.NmPerPx, v.NmPerPx * v.Aspect
	}
	return v.NmPerPx, v.NmPerPx
}

// Affine is the map from one plane to another,
//
//	X = A[0]·x + A[1]·y + A[2]    Y = A[3]·x + A[4]·y + A[5]
type Affine [6]float64

// Apply returns where a place goes.
func (a *Affine) Apply(p geom.Vec) geom.Vec {
	return geom.Vec{X: a[0]*p.X + a[1]*p.Y + a[2], Y: a[3]*p.X + a[4]*p.Y + a[5]}
}

// After returns the map that does b first and a then.
func (a *Affine) After(b *Affine) Affine {
	return Affine{
		a[0]*b[0] + a[1]*b[3], a[0]*b[1] + a[1]*b[4], a[0]*b[2] + a[1]*b[5] + a[2],
		a[3]*b[0] + a[4]*b[3], a[3]*b[1] + a[4]*b[4], a[3]*b[2] + a[4]*b[5] + a[5],
	}
}

// turned returns the cosine and sine of the turn, exact for whole quarters.
func (v View) turned() (cos, sin float64) {
	t := math.Mod(v.Turn, 360)
	if q := t / 90; q == math.Trunc(q) {
		quarter := [4][2]float64{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}[(int(q)+4)%4]
		return quarter[0], quarter[1]
	}
	sin, cos = math.Sincos(t * math.Pi / 180)
	return cos, sin
}

// Screen returns the map from the frame to the screen.
func (v View) Screen() Affine {
	cos, sin := v.turned()
	x, y := v.Sides()
	a := Affine{cos / x, -sin / x, 0, -sin / y, -cos / y, 0}
	m := a.Apply(v.Middle)
	a[2], a[5] = float64(v.Width)/2-m.X, float64(v.Height)/2-m.Y
	return a
}

// Frame returns the map from the screen to the frame.
func (v View) Frame() Affine {
	cos, sin := v.turned()
	x, y := v.Sides()
	a := Affine{cos * x, -sin * y, 0, -sin * x, -cos * y, 0}
	m := a.Apply(geom.Vec{X: float64(v.Width) / 2, Y: float64(v.Height) / 2})
	a[2], a[5] = v.Middle.X-m.X, v.Middle.Y-m.Y
	return a
}

// ToScreen returns where on the screen a place of the frame lies; it may be beyond the screen's borders.
func (v View) ToScreen(p geom.Vec) (x, y float64) {
	cos, sin := v.turned()
	px, py := v.Sides()
	dx, dy := p.X-v.Middle.X, p.Y-v.Middle.Y
	return float64(v.Width)/2 + (cos*dx-sin*dy)/px, float64(v.Height)/2 - (sin*dx+cos*dy)/py
}

// ToFrame returns the place of the frame, in nm, that lies at a place of the screen.
func (v View) ToFrame(x, y float64) geom.Vec {
	d := v.across(x-float64(v.Width)/2, y-float64(v.Height)/2)
	return geom.Vec{X: v.Middle.X + d.X, Y: v.Middle.Y + d.Y}
}

// across returns how far one goes in the frame by so many px to the right and down.
func (v View) across(dx, dy float64) geom.Vec {
	cos, sin := v.turned()
	px, py := v.Sides()
	dx, dy = dx*px, -dy*py
	return geom.Vec{X: cos*dx + sin*dy, Y: cos*dy - sin*dx}
}

// Box returns a box of the frame around all that is seen, in whole nm and within the frame.
func (v View) Box() geom.Rect {
	lo, hi := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}, geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for i := range 4 {
		p := v.ToFrame(float64(i%2*v.Width), float64(i/2*v.Height))
		lo, hi = geom.Vec{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}, geom.Vec{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
	}
	hold := func(f float64) int { return int(max(-geom.Limit, min(geom.Limit, f))) }
	return geom.Rect{
		Min: geom.Point{X: hold(math.Floor(lo.X)), Y: hold(math.Floor(lo.Y))},
		Max: geom.Point{X: hold(math.Ceil(hi.X)), Y: hold(math.Ceil(hi.Y))},
	}
}

package photo

import (
	"math"

	"undermetal/layout/geom"
)

// Camera says where a photograph shows a place: a similarity, seen from above.
type Camera struct {
	Width, Height int      // px
	Middle        geom.Vec // what lies in the middle of the photograph, nm
	NmPerPx       float64
	Degrees       float64 // by which the die lies turned in it, counter-clockwise
}

// Px returns the pixel coordinates of a place in nm: (0, 0) is the outer corner of the top left pixel, y points downward.
func (c *Camera) Px(p geom.Vec) geom.Vec {
	sin, cos := math.Sincos(c.Degrees * math.Pi / 180)
	x, y := (p.X-c.Middle.X)/c.NmPerPx, (p.Y-c.Middle.Y)/c.NmPerPx
	return geom.Vec{X: float64(c.Width)/2 + (cos*x - sin*y), Y: float64(c.Height)/2 - (sin*x + cos*y)}
}

// Nm is the way back.
func (c *Camera) Nm(p geom.Vec) geom.Vec {
	sin, cos := math.Sincos(c.Degrees * math.Pi / 180)
	x, y := p.X-float64(c.Width)/2, float64(c.Height)/2-p.Y
	return geom.Vec{X: c.Middle.X + (cos*x+sin*y)*c.NmPerPx, Y: c.Middle.Y + (cos*y-sin*x)*c.NmPerPx}
}

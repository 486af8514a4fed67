package svg

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// A drawing over a photograph: its units go to the picture's pixels by the placement of the image, and from there to the
// frame by the photograph's registration. A projective map through four points is exact (by hand: the unit square's corners
// go where they were said to), straight edges keep their corners, and a circle's corners lie on the mapped circle.
func TestOverPhotograph(t *testing.T) {
	d := mustParse(t, `<svg viewBox="0 0 200 100"><g transform="translate(50 0)"><image href="die.png" width="100" height="100" preserveAspectRatio="none"/></g>
<g id="m"><path d="M50 0H150V100H50Z"/><circle cx="100" cy="50" r="25"/><path d="M60 50H140" stroke="red" fill="none" stroke-width="10"/></g></svg>`)
	pixels, err := d.Images[0].Pixels(1000, 500)
	if err != nil {
		t.Fatal(err)
	}
	corners := []register.Point{
		{From: geom.Vec{}, To: geom.Vec{Y: 50000}}, {From: geom.Vec{X: 1000}, To: geom.Vec{X: 100000, Y: 52000}},
		{From: geom.Vec{X: 1000, Y: 500}, To: geom.Vec{X: 98000}}, {From: geom.Vec{Y: 500}, To: geom.Vec{X: 1000, Y: -1000}}}
	fit, err := register.FitPoints(register.Projective, corners, register.ToFrame)
	if err != nil {
		t.Fatal(err)
	}
	place := func(p geom.Vec) geom.Vec { return fit.Map.Apply(pixels(p)) }
	lib, _, err := d.Library(Options{Place: place, Layers: []string{"m"}})
	if err != nil {
		t.Fatal(err)
	}
	frame, circle, wire := lib.Cells[0].Shapes[0].Polygon[0], lib.Cells[0].Shapes[1].Polygon[0], lib.Cells[0].Shapes[2].Polygon
	want := geom.Ring{{X: 0, Y: 50000}, {X: 100000, Y: 52000}, {X: 98000}, {X: 1000, Y: -1000}}
	if !slices.Equal(frame, want) {
		t.Errorf("the picture's outline comes to %v, want %v", frame, want)
	}
	back, err := fit.Map.Inverse()
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range circle {
		q := back.Apply(geom.Vec{X: float64(p.X), Y: float64(p.Y)}) // px: 10 a unit across, 5 down
		if r := math.Hypot(q.X/10-50, q.Y/5-50); math.Abs(r-25) > 0.002 {
			t.Errorf("%v lies %g units from the centre, want 25", p, r)
		}
	}
	// A wire of 10 units, that is 100 px across and 50 px down, takes the mean: 10 units at √(nm² a unit²).
	width := 10 * math.Sqrt(math.Abs(fit.Map.Jacobian(pixels(geom.Vec{X: 60, Y: 50})).Det())*10*5)
	b := wire.Bounds()
	length := math.Hypot(float64(place(geom.Vec{X: 140, Y: 50}).X-place(geom.Vec{X: 60, Y: 50}).X), place(geom.Vec{X: 140, Y: 50}).Y-place(geom.Vec{X: 60, Y: 50}).Y)
	if got := area(wire) / length; math.Abs(got-width) > 0.002*width {
		t.Errorf("the wire is %g nm wide, want %g; box %v", got, width, b)
	}
}

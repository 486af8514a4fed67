package view

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/geom"
)

// views are any: from a px of 0.05 nm to one of 0.1 mm, anywhere in the frame, turned anyhow.
func views() *rapid.Generator[View] {
	return rapid.Custom(func(t *rapid.T) View {
		place := rapid.Float64Range(-geom.Limit, geom.Limit)
		return View{
			Middle: geom.Vec{X: place.Draw(t, "x"), Y: place.Draw(t, "y")}, NmPerPx: math.Exp(rapid.Float64Range(-3, 11.5).Draw(t, "ln nm/px")),
			Turn:  rapid.OneOf(rapid.SampledFrom([]float64{0, 90, 180, 270, -90}), rapid.Float64Range(-720, 720)).Draw(t, "turn"),
			Width: rapid.IntRange(1, 4000).Draw(t, "width"), Height: rapid.IntRange(1, 4000).Draw(t, "height"),
			Aspect: rapid.SampledFrom([]float64{0, 1, 2, 4. / 3}).Draw(t, "aspect"),
		}
	})
}

func onScreen(t *rapid.T, v View) (x, y float64) {
	return rapid.Float64Range(-2, 3).Draw(t, "x")*float64(v.Width) + 0.5, rapid.Float64Range(-2, 3).Draw(t, "y")*float64(v.Height) + 0.5
}

// near compares places of the screen: a float64 has 53 bits, of which a place of the frame takes up to 31.
func near(t *rapid.T, what string, v View, x, y, wantX, wantY float64) {
	t.Helper()
	if tol := 1e-6 + 1e-9*float64(v.Width+v.Height) + 1e-6/v.NmPerPx; math.Hypot(x-wantX, y-wantY) > tol {
		t.Fatalf("%s: (%g, %g), want (%g, %g)", what, x, y, wantX, wantY)
	}
}

// TestThereAndBack: to the frame and to the screen again is where one was, by the functions and by the maps.
func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := views().Draw(t, "view")
		x, y := onScreen(t, v)
		p := v.ToFrame(x, y)
		sx, sy := v.ToScreen(p)
		near(t, "there and back", v, sx, sy, x, y)
		frame, screen := v.Frame(), v.Screen()
		sx, sy = v.ToScreen(frame.Apply(geom.Vec{X: x, Y: y}))
		near(t, "by Frame", v, sx, sy, x, y)
		s := screen.Apply(p)
		near(t, "by Screen", v, s.X, s.Y, x, y)
		both := screen.After(&frame)
		s = both.Apply(geom.Vec{X: x, Y: y})
		near(t, "by both in one", v, s.X, s.Y, x, y)
	})
}

// TestMoves: a pan carries every place by the px that were given and back again; a zoom leaves the place under the pointer
// there and takes others away from it by the factor; a turn keeps the middle and all distances.
func TestMoves(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := views().Draw(t, "view")
		x, y := onScreen(t, v)
		p := v.ToFrame(x, y)
		dx, dy := rapid.Float64Range(-500, 500).Draw(t, "dx"), rapid.Float64Range(-500, 500).Draw(t, "dy")

		sx, sy := v.Pan(dx, dy).ToScreen(p)
		near(t, "pan", v, sx, sy, x+dx, y+dy)
		sx, sy = v.Pan(dx, dy).Pan(-dx, -dy).ToScreen(p)
		near(t, "pan and back", v, sx, sy, x, y)

		by := rapid.Float64Range(0.2, 5).Draw(t, "by")
		zx, zy := onScreen(t, v)
		z := v.Zoom(by, zx, zy)
		sx, sy = z.ToScreen(v.ToFrame(zx, zy))
		near(t, "the pointer's place", z, sx, sy, zx, zy)
		sx, sy = z.ToScreen(p)
		near(t, "another place", z, sx, sy, zx+by*(x-zx), zy+by*(y-zy))

		if v.Aspect <= 1 {
			r := v.TurnBy(dx)
			sx, sy = r.ToScreen(p)
			mx, my := float64(v.Width)/2, float64(v.Height)/2
			sin, cos := math.Sincos(dx * math.Pi / 180) // counterclockwise, where y is down
			near(t, "turn", v, sx, sy, mx+cos*(x-mx)+sin*(y-my), my-sin*(x-mx)+cos*(y-my))
		}
	})
}

// TestUpright: without a turn, right of the screen is right in the frame and up is up; a px is as wide as was said and its
// height as the aspect.
func TestUpright(t *testing.T) {
	v := View{Middle: geom.Vec{X: 1000, Y: 2000}, NmPerPx: 10, Width: 400, Height: 120, Aspect: AspectOf(10, 20, 2, 2)}
	for _, c := range []struct{ x, y, wantX, wantY float64 }{{200, 60, 1000, 2000}, {0, 0, -1000, 3200}, {400, 0, 3000, 3200}, {201, 61, 1010, 1980}} {
		if p := v.ToFrame(c.x, c.y); p != (geom.Vec{X: c.wantX, Y: c.wantY}) {
			t.Errorf("(%g, %g) shows %v, want (%g, %g)", c.x, c.y, p, c.wantX, c.wantY)
		}
	}
	if b := v.Box(); b != geom.Box(-1000, 800, 3000, 3200) {
		t.Errorf("it shows %v", b)
	}
	v.Turn = 90 // what was right of the middle is above it
	if x, y := v.ToScreen(geom.Vec{X: 1200, Y: 2000}); x != 200 || y != 50 {
		t.Errorf("after a quarter it is at (%g, %g)", x, y)
	}
}

// TestFit: the whole box is seen within the rim, and touches it on two sides.
func TestFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := views().Draw(t, "view")
		side := rapid.IntRange(-1<<20, 1<<20)
		box := geom.Box(side.Draw(t, "x0"), side.Draw(t, "y0"), side.Draw(t, "x1"), side.Draw(t, "y1"))
		if box.Width() == 0 && box.Height() == 0 {
			t.Skip()
		}
		rim := rapid.Float64Range(0, 0.4).Draw(t, "rim")
		f := v.Fit(box, rim)
		over := 0.0 // the furthest corner, as a part of the way from the middle to the rim
		for i := range 4 {
			x, y := f.ToScreen(geom.Vec{X: float64([]int{box.Min.X, box.Max.X}[i%2]), Y: float64([]int{box.Min.Y, box.Max.Y}[i/2])})
			w, h := float64(v.Width)/2, float64(v.Height)/2
			over = max(over, math.Abs(x-w)/(w*(1-2*rim)), math.Abs(y-h)/(h*(1-2*rim)))
		}
		if math.Abs(over-1) > 1e-9 {
			t.Fatalf("%v shows %v to %g of the rim", f, box, over)
		}
		if seen := f.Box(); seen.Union(box) != seen {
			t.Fatalf("it shows %v of %v", seen, box)
		}
	})
}

// TestLimits: whatever is done, the middle stays on the die, and the scale between a die half as large as the picture and
// 16 px a pixel; within these a zoom keeps the pointer's place.
func TestLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := LimitsOf(geom.Box(-5_000_000, 0, 3_000_000, 4_000_000), 80)
		v := views().Draw(t, "view")
		v.Width, v.Height = v.Width+39, v.Height+39
		v = l.Hold(v)
		for range 20 {
			if rapid.Bool().Draw(t, "zoom") {
				x, y := rapid.Float64Range(0, 1).Draw(t, "x")*float64(v.Width), rapid.Float64Range(0, 1).Draw(t, "y")*float64(v.Height)
				at := v.ToFrame(x, y)
				v = l.Zoom(v, rapid.Float64Range(0.1, 10).Draw(t, "by"), x, y)
				free := v.hold(at, x, y)
				if l.hold(free) == free {
					sx, sy := v.ToScreen(at)
					near(t, "the pointer's place", v, sx, sy, x, y)
				}
			} else {
				v = l.Pan(v, rapid.Float64Range(-1000, 1000).Draw(t, "dx"), rapid.Float64Range(-1000, 1000).Draw(t, "dy"))
			}
			if m := v.Middle; m.X < -5_000_000 || m.X > 3_000_000 || m.Y < 0 || m.Y > 4_000_000 {
				t.Fatalf("the middle of %v is beside the die", v)
			}
			if v.NmPerPx < 5 || v.NmPerPx > 2*v.Fit(l.Die, 0).NmPerPx {
				t.Fatalf("scale of %v", v)
			}
		}
	})
	l := LimitsOf(geom.Box(0, 0, 1000, 500), 160)
	v := View{NmPerPx: 1, Width: 100, Height: 100}
	if far, close := l.Zoom(v, 1e-9, 0, 0).NmPerPx, l.Zoom(v, 1e9, 0, 0).NmPerPx; far != 20 || close != 10 {
		t.Errorf("out to %g nm/px, want 2·1000/100; in to %g, want 160/16", far, close)
	}
}

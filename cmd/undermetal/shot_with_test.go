package main

import (
	"image"
	"image/color"
	"math"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// grey is the tone of a pixel.
func grey(img image.Image, x, y int) int {
	return int(color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y)
}

// turnedPair makes a dossier with a.png, 80 × 60 px of 1 µm each, and b.png, its negative, turned by 90° to 60 × 80 px:
// the pixel (x, y) of a.png is (y, 79 − x) there. The frame begins at the lower left corner of a.png: a place (x, y) px of
// a.png is (x, 60 − y) µm, and (y, 80 − x) px of b.png. Of b.png the last ten rows, which are the first ten columns of
// a.png, are cut off.
func turnedPair(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	tone := func(x, y int) uint8 { return uint8(20 + x*2 + y*3%50) }
	if err := writePNG("a.png", 80, 60, func(x, y int) color.Color { return color.Gray{tone(x, y)} }); err != nil {
		t.Fatal(err)
	}
	if err := writePNG("b.png", 60, 70, func(x, y int) color.Color { return color.Gray{255 - tone(79-y, x)} }); err != nil {
		t.Fatal(err)
	}
	must(t, "new k.dossier")
	must(t, "shot add k.dossier a.png b.png")
	must(t, "shot register k.dossier a --point 0,60=0,0 --point 80,60=80,0 --point 0,0=0,60")
	must(t, "shot register k.dossier b --point 0,0=80,60 --point 60,0=80,0 --point 0,70=10,60")
}

// TestShowWith: a photograph and its negative, turned, are one grey where they are blended half and half, since the
// tones of a pixel and its negative add up to 255; each alone where the other is not, or beyond the line.
func TestShowWith(t *testing.T) {
	turnedPair(t)
	must(t, "shot show k.dossier a --pixels 80 --plain --out alone.png")
	must(t, "shot show k.dossier a --with b --pixels 80 --plain --out half.png")
	must(t, "shot show k.dossier a --with b --blend 1 --pixels 80 --plain --out other.png")
	must(t, "shot show k.dossier a --with b --split 0.5 --pixels 80 --plain --out split.png")
	must(t, "shot show k.dossier a --with b --beside --pixels 160 --plain --out beside.png")
	a, half, other, split, beside := picture(t, "alone.png"), picture(t, "half.png"), picture(t, "other.png"), picture(t, "split.png"), picture(t, "beside.png")
	near := func(what string, x, y, got, want int) {
		t.Helper()
		if got < want-1 || got > want+1 {
			t.Fatalf("%s at (%d, %d): %d, want %d", what, x, y, got, want)
		}
	}
	if a.Bounds() != image.Rect(0, 0, 80, 60) || beside.Bounds() != image.Rect(0, 0, 160, 60) {
		t.Fatal(a.Bounds(), beside.Bounds())
	}
	for y := range 60 {
		for x := range 80 {
			own := grey(a, x, y)
			negative, right := 255-own, 255-own
			mean := 128
			if x < 10 {
				negative, mean, right = own, own, 0 // there is no b
			}
			near("half", x, y, grey(half, x, y), mean)
			near("the other", x, y, grey(other, x, y), negative)
			switch {
			case x < 39:
				near("split, left", x, y, grey(split, x, y), own)
			case x > 41:
				near("split, right", x, y, grey(split, x, y), negative)
			}
			near("beside, left", x, y, grey(beside, x, y), own)
			if x > 0 {
				near("beside, right", x, y, grey(beside, 80+x, y), right)
			}
		}
	}
	if grey(split, 40, 30) != 255 || grey(beside, 80, 30) != 255 {
		t.Error("there is no line between them")
	}
}

// TestShowRegistered: places go through the map. With X = 0.1·py, Y = 0.1·px µm, the red square of bare.png, at (400, 300)
// px, is at (30, 40) µm, and the shape (20, 10) to (30, 20) µm covers the pixels from (100, 200) to (200, 300).
func TestShowRegistered(t *testing.T) {
	traced(t)
	must(t, "shot register k.dossier bare --keep-shapes --point 0,0=0,0 --point 800,0=0,80 --point 0,600=60,0")
	must(t, "shot show k.dossier bare --at 30,40 --width 1 --pixels 40 --plain --out red.png")
	if c := color.NRGBAModel.Convert(picture(t, "red.png").At(20, 15)).(color.NRGBA); c != (color.NRGBA{200, 0, 0, 255}) {
		t.Error("the red square is elsewhere", c)
	}
	must(t, "shot show k.dossier bare --pixels 800 --plain --out without.png")
	must(t, "shot show k.dossier bare --pixels 800 --plain --shapes --out with.png")
	checkPainted(t, image.Rect(100, 200, 200, 300))
}

// checkPainted: the shape of diffusion is painted over these pixels of with.png, and nothing just beside it. A pixel more
// is the outline's.
func checkPainted(t *testing.T, want image.Rectangle) {
	t.Helper()
	a, b := picture(t, "without.png"), picture(t, "with.png")
	for y := want.Min.Y - 20; y < want.Max.Y+20; y++ {
		for x := want.Min.X - 20; x < want.Max.X+20; x++ {
			painted := a.At(x, y) != b.At(x, y)
			at := image.Pt(x, y)
			if at.In(want.Inset(2)) && !painted || !at.In(want.Inset(-2)) && painted {
				t.Fatalf("(%d, %d): painted %v", x, y, painted)
			}
		}
	}
}

// TestShowSpline: a spline through points of a plain scale is that scale, and draws the same; one through points that are
// bent bends long edges: the upper edge of a shape 80 µm long goes through its control point in the middle.
func TestShowSpline(t *testing.T) {
	traced(t)
	plain := " --point 0,600=0,0 --point 800,600=80,0 --point 0,0=0,60 --point 800,0=80,60"
	must(t, "shot register k.dossier bare --map spline"+plain)
	must(t, "shot show k.dossier bare --pixels 800 --plain --out without.png")
	must(t, "shot show k.dossier bare --pixels 800 --plain --shapes --out with.png")
	checkPainted(t, image.Rect(200, 400, 300, 500))

	// The middle of the shape's upper edge, (25, 20) µm, lies 10 px higher than its corners; these are control points too.
	must(t, "shot register k.dossier bare --map spline --keep-shapes"+plain+" --point 200,400=20,20 --point 300,400=30,20 --point 250,390=25,20")
	must(t, "shot show k.dossier bare --pixels 800 --plain --force --out without.png")
	must(t, "shot show k.dossier bare --pixels 800 --plain --shapes --force --out with.png")
	a, b := picture(t, "without.png"), picture(t, "with.png")
	painted := func(x, y int) bool { return a.At(x, y) != b.At(x, y) }
	if !painted(250, 393) || painted(250, 387) || painted(203, 393) || painted(297, 393) {
		t.Error("the edge is not bent", painted(250, 393), painted(250, 387), painted(203, 393), painted(297, 393))
	}
}

// TestShowAnisotropic: a scale bar lies along the rows, and so has their scale. 0.1 µm a pixel along the rows and 0.2 along
// the columns: a width of 20 µm is 200 px, and the picture 200 × 150 px, 20 × 30 µm; a third of 20 µm is a bar of 5.
func TestShowAnisotropic(t *testing.T) {
	traced(t)
	must(t, "shot register k.dossier bare --map affine --point 0,600=0,0 --point 800,600=80,0 --point 0,0=0,120")
	if out := must(t, "shot show k.dossier bare --at 40,60 --width 20 --pixels 400 --out x.png"); out != "x.png: 400 × 300 px: 20 × 30 µm of bare\n" {
		t.Error(out)
	}
	// The bar is white, 5 µm are 100 px of the picture.
	img := picture(t, "x.png")
	longest := 0
	for y := 200; y < 300; y++ {
		run := 0
		for x := range 400 {
			if run++; grey(img, x, y) != 255 {
				run = 0
			}
			longest = max(longest, run)
		}
	}
	if math.Abs(float64(longest)-100) > 1 {
		t.Errorf("a bar of %d px", longest)
	}
}

// TestSightHorizon: X = 0.1·x/w, Y = −0.2·y/w µm with w = 1 + y/600. Downward in the photograph Y comes near to −120 µm and
// no further: what is drawn below that is behind the camera, and is not shown in its upper part.
func TestSightHorizon(t *testing.T) {
	traced(t)
	must(t, "shot register k.dossier bare --keep-shapes --map projective --point 0,0=0,0 --point 800,0=80,0 --point 0,600=0,-60 --point 800,600=40,-60 --point 400,200=30,-30")
	asItIs(t, func(d *dossier.Dossier) {
		s, err := d.Shot("bare")
		if err != nil {
			t.Fatal(err)
		}
		v, err := newView(d, s, &showFlags{pixels: 800})
		if err != nil {
			t.Fatal(err)
		}
		for y, want := range map[int]bool{-50000: true, -115000: true, -125000: false, -300000: false} {
			if got := v.sight().sees(geom.Polygon{geom.Box(10000, y, 20000, y+1000).Ring()}); got != want {
				t.Errorf("at %d nm: seen %v", y, got)
			}
		}
	})
}

// TestShowWithSpline: as TestShowWith, the other photograph by a spline through points that bend nothing.
func TestShowWithSpline(t *testing.T) {
	turnedPair(t)
	must(t, "shot show k.dossier a --with b --blend 1 --pixels 80 --plain --out straight.png")
	must(t, "shot register k.dossier b --map spline --point 0,0=80,60 --point 60,0=80,0 --point 0,70=10,60 --point 60,70=10,0 --point 30,30=50,30")
	must(t, "shot show k.dossier a --with b --blend 1 --pixels 80 --plain --out bent.png")
	straight, bent := picture(t, "straight.png"), picture(t, "bent.png")
	for y := range 60 {
		for x := range 80 {
			if a, b := grey(straight, x, y), grey(bent, x, y); x != 9 && x != 10 && (a-b > 2 || b-a > 2) { // the rim of b is at x = 10
				t.Fatalf("(%d, %d): %d, by the spline %d", x, y, a, b)
			}
		}
	}
}

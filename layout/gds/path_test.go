package gds

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"
)

// pathGiven is a path of type 4 with its two extensions.
func (a asm) pathGiven(width, begin, end int, xy ...int) asm {
	return a.rec(0x0900).i16(0x0D02, 1).i16(0x0E02, 0).i16(0x2102, 4).i32(0x0F03, width).
		i32(0x3003, begin).i32(0x3103, end).i32(0x1003, xy...).end()
}

// Areas and boxes by hand from the definition of the path types; the first two and the round one are also listed
// for this format: 2000, 2400, 2000 + 100π.
func TestPathArea(t *testing.T) {
	// A chord stays within 1 nm of its circle and rounding within 0.71 nm, so half circles of radius r together
	// err by less than 1.71 · 2πr.
	disc := func(r float64) float64 { return 1.71 * 2 * math.Pi * r }
	for _, tc := range []struct {
		name      string
		path      asm
		area, tol float64
		box       geom.Rect
		rings     int // 0: one
	}{
		{"flush", asm{}.path(0, 20, 0, 0, 100, 0), 2000, 0, geom.Box(0, -10, 100, 10), 0},
		{"half a width beyond", asm{}.path(2, 20, 0, 0, 100, 0), 2400, 0, geom.Box(-10, -10, 110, 10), 0},
		{"round", asm{}.path(1, 20, 0, 0, 100, 0), 2000 + 100*math.Pi, disc(10), geom.Box(-10, -10, 110, 10), 0},
		{"round and wide", asm{}.path(1, 6000, 0, 0, 0, 100), 600e3 + 9e6*math.Pi, disc(3000), geom.Box(-3000, -3000, 3000, 3100), 0},
		{"round and wider: 0.031 %", asm{}.path(1, 20000, 0, 0, 0, 0), 1e8 * math.Pi, 1e8 * math.Pi * 7e-4, geom.Box(-10000, -10000, 10000, 10000), 0},
		{"round and narrow", asm{}.path(1, 2, 0, 0, 100, 0), 200 + math.Pi, disc(1), geom.Box(-1, -1, 101, 1), 0},
		{"given", asm{}.pathGiven(20, 5, 7, 0, 0, 100, 0), 112 * 20, 0, geom.Box(-5, -10, 107, 10), 0},
		{"given, shortened", asm{}.pathGiven(20, -30, -10, 0, 0, 100, 0), 60 * 20, 0, geom.Box(30, -10, 90, 10), 0},
		{"given, shortened to nothing before the bend", asm{}.pathGiven(20, -200, 0, 0, 0, 100, 0, 100, 100), 2100, 0, geom.Box(90, -10, 110, 100), 2},
		{"odd width, level", asm{}.path(0, 15, 0, 0, 100, 0), 1500, 0, geom.Box(0, -7, 100, 8), 0},
		{"odd width, level, drawn backwards", asm{}.path(0, 15, 100, 0, 0, 0), 1500, 0, geom.Box(0, -7, 100, 8), 0},
		{"odd width, upright", asm{}.path(0, 15, 0, 0, 0, 100), 1500, 0, geom.Box(-7, 0, 8, 100), 0},
		{"odd width, half beyond", asm{}.path(2, 15, 0, 0, 100, 0), 115 * 15, 0, geom.Box(-7, -7, 108, 8), 0},
		{"bend left", asm{}.path(0, 20, 0, 0, 100, 0, 100, 100), 4000, 0, geom.Box(0, -10, 110, 100), 0},
		{"bend right", asm{}.path(0, 20, 0, 0, 100, 0, 100, -100), 4000, 0, geom.Box(0, -100, 110, 10), 0},
		{"bend of odd width", asm{}.path(0, 5, 0, 0, 100, 0, 100, 100), 1000, 0, geom.Box(0, -2, 103, 100), 0},
		{"straight on", asm{}.path(0, 20, 0, 0, 50, 0, 50, 0, 100, 0), 2000, 0, geom.Box(0, -10, 100, 10), 0},
		{"jog of half the width", asm{}.path(0, 20, 0, 0, 50, 0, 50, 10, 100, 10), 2200, 0, geom.Box(0, -10, 100, 20), 0},
		{"dot, half beyond", asm{}.path(2, 20, 3, 3), 400, 0, geom.Box(-7, -7, 13, 13), 0},
		{"dot, given", asm{}.pathGiven(20, 5, 6, 0, 0, 0, 0), 220, 0, geom.Box(-5, -10, 6, 10), 0},
		{"dot, round", asm{}.path(1, 200, 0, 0), 1e4 * math.Pi, disc(100), geom.Box(-100, -100, 100, 100), 0},
		{"absolute width", asm{}.path(0, -20, 0, 0, 100, 0), 2000, 0, geom.Box(0, -10, 100, 10), 0},
		{"diagonal, 3-4-5", asm{}.path(0, 50, 0, 0, 300, 400), 500 * 50, 0, geom.Box(-20, -15, 320, 415), 0},
	} {
		pg := readShape(t, tc.path)
		if want := max(tc.rings, 1); len(pg) != want {
			t.Errorf("%s: %d rings, want %d", tc.name, len(pg), want)
		}
		if a := signedArea(pg); !near(a, tc.area, tc.tol) {
			t.Errorf("%s: area %g, want %g ± %g", tc.name, a, tc.area, tc.tol)
		}
		if b := pg.Bounds(); b != tc.box {
			t.Errorf("%s: box %v, want %v", tc.name, b, tc.box)
		}
	}
}

// A turn by θ puts the mitre's tip at h/cos(θ/2) from the bend. It is kept up to 4h, that is to θ = 151.04°.
func TestPathMitreAndBevel(t *testing.T) {
	const h = 100
	for _, tc := range []struct {
		turn  float64
		mitre bool
	}{{90, true}, {150, true}, {-150, true}, {152, false}, {-152, false}, {175, false}} {
		rad := tc.turn * math.Pi / 180
		to := geom.Vec{X: 5000 + 4000*math.Cos(rad), Y: 4000 * math.Sin(rad)}.Round()
		pg := readShape(t, asm{}.path(0, 2*h, 0, 0, 5000, 0, to.X, to.Y))
		if len(pg) != 1 {
			t.Fatalf("turn %g°: %d rings", tc.turn, len(pg))
		}
		// The tip lies on the outer bisector, that is at ∓90° + θ/2.
		out := rad/2 - math.Copysign(math.Pi/2, rad)
		length := h / math.Cos(rad/2)
		tip := geom.Vec{X: 5000 + length*math.Cos(out), Y: length * math.Sin(out)}
		atTip := slices.ContainsFunc(pg[0], func(p geom.Point) bool {
			return math.Hypot(float64(p.X)-tip.X, float64(p.Y)-tip.Y) < 3 // the rounded end turns the edges a little
		})
		if atTip != tc.mitre {
			t.Errorf("turn %g°: tip at (%.0f, %.0f) is %t, want %t; ring %v", tc.turn, tip.X, tip.Y, atTip, tc.mitre, pg[0])
		}
		if !tc.mitre && len(pg[0]) != 7 {
			t.Errorf("turn %g°: %d corners, want 7 with a bevel", tc.turn, len(pg[0]))
		}
	}
}

// Paths that fold back keep all of their area: the union of the segments' rectangles and joins, counted on the grid.
func TestPathFoldsBack(t *testing.T) {
	for _, tc := range []struct {
		name string
		path asm
		area int
	}{
		{"straight back", asm{}.path(0, 20, 0, 0, 100, 0, 40, 0), 2000},
		{"back past the start", asm{}.path(0, 20, 0, 0, 100, 0, -50, 0), 3000},
		{"half a width beyond", asm{}.path(2, 20, 0, 0, 100, 0, 40, 0), 110 * 20},
		{"U narrower than the width", asm{}.path(0, 20, 0, 0, 100, 0, 100, 6, 0, 6), 110 * 26},
		{"step shorter than half the width, then back", asm{}.path(0, 40, 0, 0, 100, 0, 100, 5, 50, 5, 50, 100), 120*40 + 90*5 + 40*75},
		// The frame's start and end meet at (0,0) without a join: a notch of 10 × 10 stays open.
		{"closed frame", asm{}.path(0, 20, 0, 0, 100, 0, 100, 100, 0, 100, 0, 0), 120*120 - 80*80 - 100},
		{"jog of less than half the width", asm{}.path(0, 20, 0, 0, 50, 0, 50, 4, 100, 4), 2080},
		{"odd, straight back", asm{}.path(0, 15, 0, 0, 100, 0, 40, 0), 1500},
	} {
		pg := readShape(t, tc.path)
		for _, r := range pg {
			if len(pg) > 1 && r.Sense() <= 0 {
				t.Errorf("%s: ring %v is not counterclockwise", tc.name, r)
			}
		}
		if got := countCells(pg); got != tc.area {
			t.Errorf("%s: covers %d nm², want %d", tc.name, got, tc.area)
		}
	}
}

// countCells counts the unit squares whose centre the polygon covers.
func countCells(pg geom.Polygon) (n int) {
	double := make(geom.Polygon, len(pg))
	for i, r := range pg {
		for _, p := range r {
			double[i] = append(double[i], geom.Point{X: 2 * p.X, Y: 2 * p.Y})
		}
	}
	b := pg.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if double.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}) == geom.Inside {
				n++
			}
		}
	}
	return n
}

func TestPathEmpty(t *testing.T) {
	stream := lib().cell("A").
		path(0, 20, 5, 5, 5, 5).               // a dot with flush ends
		pathGiven(20, -60, -60, 0, 0, 100, 0). // shortened to less than nothing
		path(0, 0, 0, 0, 100, 0).              // no width
		path(0, -20, 0, 0, 100, 0).            // absolute
		endCell().endLib()
	l, rep := mustRead(t, stream, nil)
	if n := len(l.Cells[0].Shapes); n != 1 {
		t.Errorf("%d shapes, want 1", n)
	}
	first := len(lib().cell("A"))
	second := first + len(asm{}.path(0, 20, 5, 5, 5, 5)) + len(asm{}.pathGiven(20, -60, -60, 0, 0, 100, 0))
	third := second + len(asm{}.path(0, 0, 0, 0, 100, 0))
	want := []Note{
		{"shapes that cover nothing, left out", 2, int64(first), "A"},
		{"paths of no width, left out", 1, int64(second), "A"},
		{"paths with an absolute width, magnified with their cell all the same", 1, int64(third), "A"},
	}
	if !slices.Equal(rep.Notes, want) {
		t.Errorf("notes %v, want %v", rep.Notes, want)
	}
}

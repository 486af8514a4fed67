package gds

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/stroke"

	"pgregory.net/rapid"
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

// drawPath draws a random path in a small square.
func drawPath(t *rapid.T, manhattan bool) stroke.Stroke {
	s := stroke.Stroke{
		Width: rapid.IntRange(1, 60).Draw(t, "width"),
		Ends:  rapid.SampledFrom([]stroke.Ends{stroke.Flush, stroke.Round, stroke.Half, stroke.Given}).Draw(t, "ends"),
		Begin: rapid.IntRange(-20, 40).Draw(t, "begin"), End: rapid.IntRange(-20, 40).Draw(t, "end"),
	}
	if manhattan {
		s.Ends = rapid.SampledFrom([]stroke.Ends{stroke.Flush, stroke.Half, stroke.Given}).Draw(t, "ends")
	}
	n := rapid.IntRange(2, 7).Draw(t, "points")
	reach := rapid.SampledFrom([]int{90, 400}).Draw(t, "reach") // short segments mostly give pieces, long ones a plain outline
	at := geom.Point{}
	for range n {
		s.Line = append(s.Line, at)
		d := geom.Point{X: rapid.IntRange(-reach, reach).Draw(t, "dx"), Y: rapid.IntRange(-reach, reach).Draw(t, "dy")}
		if manhattan {
			if rapid.Bool().Draw(t, "level") {
				d.Y = 0
			} else {
				d.X = 0
			}
		}
		at = at.Add(d)
	}
	s.Line = stroke.Distinct(s.Line)
	return s
}

func strokeOf(t *rapid.T, s stroke.Stroke) geom.Polygon {
	s.Line = slices.Clone(s.Line)
	pg, inFrame := new(stroke.Pen).Outline(s, new(slab).polygon)
	if !inFrame {
		t.Fatalf("%v left the frame", s)
	}
	for _, r := range pg {
		if len(pg) > 1 && r.Sense() <= 0 {
			t.Fatalf("ring %v is not counterclockwise", r)
		}
	}
	return pg
}

// A Manhattan path covers exactly the rectangles of its segments, with a square on the outer side of each bend of 90°, all rounded
// halves up.
func TestPathManhattanExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawPath(t, true)
		last := len(s.Line) - 2
		if last < 0 || s.Ends == stroke.Given && (last == 0 || s.Begin < 0 || s.End < 0) {
			t.Skip("a dot, or a path that may be shortened away: TestPathArea has them")
		}
		h := float64(s.Width) / 2
		var truth []geom.Rect
		for i := 0; i <= last; i++ {
			a, b := s.Line[i], s.Line[i+1]
			d := geom.Vec{X: sign(b.X - a.X), Y: sign(b.Y - a.Y)}
			before, after := 0.0, 0.0
			if i > 0 && s.Line[i-1].X != b.X && s.Line[i-1].Y != b.Y { // a bend of 90° at a
				o := s.Line[i-1]
				tip := geom.Vec{X: float64(a.X) + h*(sign(a.X-o.X)-d.X), Y: float64(a.Y) + h*(sign(a.Y-o.Y)-d.Y)}.Round()
				truth = append(truth, geom.Box(a.X, a.Y, tip.X, tip.Y))
			}
			switch {
			case i == 0 && s.Ends == stroke.Half:
				before = h
			case i == 0 && s.Ends == stroke.Given:
				before = float64(s.Begin)
			}
			switch {
			case i == last && s.Ends == stroke.Half:
				after = h
			case i == last && s.Ends == stroke.Given:
				after = float64(s.End)
			}
			lo := geom.Vec{X: float64(a.X) - before*d.X - h*math.Abs(d.Y), Y: float64(a.Y) - before*d.Y - h*math.Abs(d.X)}
			hi := geom.Vec{X: float64(b.X) + after*d.X + h*math.Abs(d.Y), Y: float64(b.Y) + after*d.Y + h*math.Abs(d.X)}
			if d.X < 0 {
				lo.X, hi.X = hi.X, lo.X
			}
			if d.Y < 0 {
				lo.Y, hi.Y = hi.Y, lo.Y
			}
			truth = append(truth, geom.Rect{Min: lo.Round(), Max: hi.Round()})
		}
		pg := strokeOf(t, s)
		box := pg.Bounds()
		for _, r := range truth {
			box = box.Union(r)
		}
		for range 400 {
			x, y := rapid.IntRange(box.Min.X-1, box.Max.X).Draw(t, "x"), rapid.IntRange(box.Min.Y-1, box.Max.Y).Draw(t, "y")
			want := slices.ContainsFunc(truth, func(r geom.Rect) bool {
				return r.Min.X <= x && x < r.Max.X && r.Min.Y <= y && y < r.Max.Y
			})
			if got := coversCell(pg, x, y); got != want {
				t.Fatalf("%+v: cell (%d, %d) covered %t, want %t; polygon %v", s, x, y, got, want, pg)
			}
		}
	})
}

func sign(d int) float64 {
	switch {
	case d > 0:
		return 1
	case d < 0:
		return -1
	}
	return 0
}

// coversCell reports whether the centre of the unit square at (x, y) is covered.
func coversCell(pg geom.Polygon, x, y int) bool {
	double := make(geom.Polygon, len(pg))
	for i, r := range pg {
		for _, p := range r {
			double[i] = append(double[i], geom.Point{X: 2 * p.X, Y: 2 * p.Y})
		}
	}
	return double.Locate(geom.Point{X: 2*x + 1, Y: 2*y + 1}) == geom.Inside
}

// Any path covers what the definition says, but for a margin for rounding: corners move by up to 0.71 nm, chords by
// up to 1 nm.
func TestPathAgainstDefinition(t *testing.T) {
	const margin = 1.8
	rapid.Check(t, func(t *rapid.T) {
		s := drawPath(t, false)
		if len(s.Line) < 2 || s.Ends == stroke.Given && len(s.Line) == 2 {
			t.Skip("TestPathArea has these")
		}
		pg := strokeOf(t, s)
		box := pg.Bounds().Union(geom.Ring(s.Line).Bounds()) // a slanted path of 1 nm may round to nothing
		for range 300 {
			p := geom.Point{
				X: rapid.IntRange(box.Min.X-3, box.Max.X+3).Draw(t, "x"),
				Y: rapid.IntRange(box.Min.Y-3, box.Max.Y+3).Draw(t, "y"),
			}
			at := pg.Locate(p)
			if inStroke(s, p, -margin) && at == geom.Outside {
				t.Fatalf("%+v: %v should be covered by %v", s, p, pg)
			}
			if !inStroke(s, p, margin) && at == geom.Inside {
				t.Fatalf("%+v: %v should not be covered by %v", s, p, pg)
			}
		}
	})
}

// inStroke says by the definition whether the pen covers p, its area grown by margin all around (shrunk if negative).
func inStroke(s stroke.Stroke, p geom.Point, margin float64) bool {
	h := float64(s.Width) / 2
	last := len(s.Line) - 2
	for i := 0; i <= last; i++ {
		forth, left, length := local(s.Line[i], s.Line[i+1], p)
		before, after := 0.0, 0.0
		if i == 0 {
			before = extension(s, s.Begin, length)
		}
		if i == last {
			after = extension(s, s.End, length)
		}
		if forth >= -before-margin && forth <= length+after+margin && math.Abs(left) <= h+margin {
			return true
		}
		if i > 0 && inJoin(s.Line[i-1], s.Line[i], s.Line[i+1], p, h, margin) {
			return true
		}
		if s.Ends == stroke.Round && (i == 0 && forth <= margin && math.Hypot(forth, left) <= h+margin ||
			i == last && forth >= length-margin && math.Hypot(forth-length, left) <= h+margin) {
			return true
		}
	}
	return false
}

func extension(s stroke.Stroke, given int, length float64) float64 {
	switch s.Ends {
	case stroke.Half:
		return float64(s.Width) / 2
	case stroke.Given:
		return max(float64(given), -length)
	}
	return 0
}

// local returns p in the coordinates of the segment ab: along it from a, and to its left.
func local(a, b, p geom.Point) (forth, left, length float64) {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	px, py := float64(p.X-a.X), float64(p.Y-a.Y)
	length = math.Hypot(dx, dy)
	return (px*dx + py*dy) / length, (py*dx - px*dy) / length, length
}

// inJoin: past the end of ab, before the start of bc, on the outer side, within half a width of both lines (mitre),
// or cut off straight between the two outer corners (bevel).
func inJoin(a, b, c, p geom.Point, h, margin float64) bool {
	forth, left, length := local(a, b, p)
	forth2, left2, _ := local(b, c, p)
	turnForth, turnLeft, _ := local(a, b, c)
	turn := math.Atan2(turnLeft, turnForth-length)
	out := -1.0 // the outer side is the right one
	if turn < 0 {
		out = 1
	}
	if forth-length < -margin || forth2 > margin || out*left > h+margin || out*left2 > h+margin || out*left < -h-margin || out*left2 < -h-margin {
		return false
	}
	cos := math.Cos(turn / 2)
	if 1/cos <= 4 {
		return true
	}
	// Both corners lie h·cos(turn/2) from the bend along the outer bisector.
	bx, by := float64(p.X-b.X), float64(p.Y-b.Y)
	dx, dy := float64(b.X-a.X)/length, float64(b.Y-a.Y)/length
	angle := math.Atan2(dy, dx) + turn/2 + out*math.Pi/2
	return bx*math.Cos(angle)+by*math.Sin(angle) <= h*cos+margin
}

// A segment in direction (4, 3)/5 with half a width of 62.5 has its corners at ∓(37.5, -50) from the Line: rounded
// halves up, the middle between them is no longer on the line. The join's corner there must be one of the segment's.
func TestPathPiecesFit(t *testing.T) {
	s := stroke.Stroke{Line: ring(0, 0, 40, 30, 0, 60), Width: 125}
	pg, _ := new(stroke.Pen).Outline(s, new(slab).polygon)
	if len(pg) != 3 {
		t.Fatalf("%d rings, want two segments and a join", len(pg))
	}
	for _, r := range pg {
		if !slices.Contains(r, geom.Point{X: 40, Y: 30}) {
			t.Errorf("ring %v does not have the bend (40, 30) for a corner", r)
		}
	}
	b := pg.Bounds()
	for y := b.Min.Y; y <= b.Max.Y; y++ {
		for x := b.Min.X; x <= b.Max.X; x++ {
			if p := (geom.Point{X: x, Y: y}); inStroke(s, p, -0.8) && pg.Locate(p) == geom.Outside {
				t.Errorf("%v is not covered", p)
			}
		}
	}
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

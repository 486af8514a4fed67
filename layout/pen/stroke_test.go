package pen

import (
	"math"
	"slices"
	"testing"

	"undermetal/layout/geom"

	"pgregory.net/rapid"
)

// drawPath draws a random path in a small square.
func drawPath(t *rapid.T, manhattan bool) Stroke {
	s := Stroke{
		Width: rapid.IntRange(1, 60).Draw(t, "width"),
		Ends:  rapid.SampledFrom([]Ends{Flush, Round, Half, Given}).Draw(t, "ends"),
		Begin: rapid.IntRange(-20, 40).Draw(t, "begin"), End: rapid.IntRange(-20, 40).Draw(t, "end"),
	}
	if manhattan {
		s.Ends = rapid.SampledFrom([]Ends{Flush, Half, Given}).Draw(t, "ends")
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
	s.Line = DistinctNeighbours(s.Line)
	return s
}

func strokeOf(t *rapid.T, s Stroke) geom.Polygon {
	s.Line = slices.Clone(s.Line)
	pg, inFrame := new(Stroker).Outline(s, nil)
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
func TestStrokeManhattanExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawPath(t, true)
		last := len(s.Line) - 2
		if last < 0 || s.Ends == Given && (last == 0 || s.Begin < 0 || s.End < 0) {
			t.Skip("a dot, or a path that may be shortened away: TestPathArea of layout/gds has them")
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
			case i == 0 && s.Ends == Half:
				before = h
			case i == 0 && s.Ends == Given:
				before = float64(s.Begin)
			}
			switch {
			case i == last && s.Ends == Half:
				after = h
			case i == last && s.Ends == Given:
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
func TestStrokeAgainstDefinition(t *testing.T) {
	const margin = 1.8
	rapid.Check(t, func(t *rapid.T) {
		s := drawPath(t, false)
		if len(s.Line) < 2 || s.Ends == Given && len(s.Line) == 2 {
			t.Skip("TestPathArea of layout/gds has these")
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
func inStroke(s Stroke, p geom.Point, margin float64) bool {
	h := float64(s.Width) / 2
	last := len(s.Line) - 2
	for i := 0; i <= last; i++ {
		forth, left, length := local(s.Line[i], s.Line[i+1], p)
		before, after := 0.0, 0.0
		if i == 0 {
			before = s.beyond(s.Begin, length)
		}
		if i == last {
			after = s.beyond(s.End, length)
		}
		if forth >= -before-margin && forth <= length+after+margin && math.Abs(left) <= h+margin {
			return true
		}
		if i > 0 && inJoin(s.Line[i-1], s.Line[i], s.Line[i+1], p, h, margin) {
			return true
		}
		if s.Ends == Round && (i == 0 && forth <= margin && math.Hypot(forth, left) <= h+margin ||
			i == last && forth >= length-margin && math.Hypot(forth-length, left) <= h+margin) {
			return true
		}
	}
	return false
}

func (s Stroke) beyond(given int, length float64) float64 {
	switch s.Ends {
	case Half:
		return float64(s.Width) / 2
	case Given:
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
func TestStrokePiecesFit(t *testing.T) {
	s := Stroke{Line: []geom.Point{{}, {X: 40, Y: 30}, {Y: 60}}, Width: 125}
	pg, _ := new(Stroker).Outline(s, nil)
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

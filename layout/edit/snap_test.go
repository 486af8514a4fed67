package edit

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// shapes is a Nearby of a list.
func shapes(pgs ...geom.Polygon) Nearby {
	var all []dossier.Shape
	for i, pg := range pgs {
		all = append(all, dossier.Shape{ID: int64(i + 1), Layer: []string{"poly", "metal1"}[i%2], Polygon: pg})
	}
	return func(box geom.Rect) (near []dossier.Shape, err error) {
		for _, s := range all {
			if s.Polygon.Bounds().Overlaps(box) {
				near = append(near, s)
			}
		}
		return near, nil
	}
}

func TestSnap(t *testing.T) {
	near := shapes(box(0, 0, 100, 100), ring(200, 0, 300, 100, 200, 200), box(100, 100, 150, 150))
	all := Snap{Grid: 10, Reach: 5, Vertices: true, Edges: true, Near: near}
	angled := func(s Snap, x, y int, axis float64) Snap {
		s.Angles, s.Anchor, s.Axis = true, at(x, y), axis
		return s
	}
	for _, tc := range []struct {
		name string
		snap Snap
		p    geom.Point
		want string // At Kind Shape Vertex Angle
	}{
		{"nothing", Snap{}, at(3, 4), "{3 4} nothing 0 {0 0} 0"},
		{"grid", Snap{Grid: 10}, at(14, 15), "{10 20} grid 0 {0 0} 0"},
		{"grid below zero, halves up", Snap{Grid: 10}, at(-15, -16), "{-10 -20} grid 0 {0 0} 0"},
		{"odd grid", Snap{Grid: 5}, at(7, 8), "{5 10} grid 0 {0 0} 0"},
		{"grid at the end of the frame", Snap{Grid: 1000}, at(geom.Limit, -geom.Limit), "{1073741000 -1073741000} grid 0 {0 0} 0"},

		{"vertex, not the edge that is nearer", all, at(3, 1), "{0 0} vertex 1 {0 0} 0"},
		{"vertex at the end of the reach: 3-4-5", all, at(-3, -4), "{0 0} vertex 1 {0 0} 0"},
		{"beyond it", all, at(-4, -4), "{0 0} grid 0 {0 0} 0"},
		{"of two vertices in one place that of the later shape", all, at(101, 101), "{100 100} vertex 3 {0 0} 0"},
		{"vertex of a ring's end", all, at(1, 98), "{0 100} vertex 1 {0 3} 0"},
		{"vertices only: no edge", Snap{Reach: 5, Vertices: true, Near: near}, at(50, 1), "{50 1} nothing 0 {0 0} 0"},
		{"edges only: its end", Snap{Reach: 5, Edges: true, Near: near}, at(-3, -4), "{0 0} edge 1 {0 3} 0"},
		{"edge", all, at(50, 4), "{50 0} edge 1 {0 0} 0"},
		{"last edge", all, at(-2, 50), "{0 50} edge 1 {0 3} 0"},
		{"slanted edge", all, at(253, 47), "{250 50} edge 2 {0 0} 0"},
		{"nearest edge", all, at(104, 120), "{100 120} edge 3 {0 3} 0"},
		{"no shapes", Snap{Grid: 10, Reach: 5, Vertices: true, Edges: true}, at(3, 1), "{0 0} grid 0 {0 0} 0"},

		{"east", angled(Snap{}, 1, 2, 0), at(50, 12), "{50 2} angle 0 {0 0} 0"},
		{"north-east: (50 + 40)/2", angled(Snap{}, 0, 0, 0), at(50, 40), "{45 45} angle 0 {0 0} 45"},
		{"north", angled(Snap{}, 1, 2, 0), at(3, 52), "{1 52} angle 0 {0 0} 90"},
		{"north-west", angled(Snap{}, 0, 0, 0), at(-50, 40), "{-45 45} angle 0 {0 0} 135"},
		{"west", angled(Snap{}, 1, 2, 0), at(-50, -3), "{-50 2} angle 0 {0 0} 180"},
		{"south-west", angled(Snap{}, 0, 0, 0), at(-50, -40), "{-45 -45} angle 0 {0 0} 225"},
		{"south", angled(Snap{}, 1, 2, 0), at(-3, -50), "{1 -50} angle 0 {0 0} 270"},
		{"south-east", angled(Snap{}, 0, 0, 0), at(50, -40), "{45 -45} angle 0 {0 0} 315"},
		{"tan 22.5° = 0.4142: 41/100 is east", angled(Snap{}, 0, 0, 0), at(100, 41), "{100 0} angle 0 {0 0} 0"},
		{"42/100 is north-east", angled(Snap{}, 0, 0, 0), at(100, 42), "{71 71} angle 0 {0 0} 45"},
		{"at the anchor there is no angle", angled(Snap{Grid: 10}, 3, 3, 0), at(3, 3), "{0 0} grid 0 {0 0} 0"},
		{"along on the grid, the anchor off it", angled(Snap{Grid: 10}, 3, 7, 0), at(54, 12), "{50 7} angle 0 {0 0} 0"},
		{"back along on the grid", angled(Snap{Grid: 10}, 3, 7, 0), at(-56, 12), "{-60 7} angle 0 {0 0} 180"},
		{"upwards on the grid", angled(Snap{Grid: 10}, 3, 7, 0), at(4, 56), "{3 60} angle 0 {0 0} 90"},
		{"slanted, x on the grid", angled(Snap{Grid: 10}, 3, 7, 0), at(-47, -43), "{-50 -46} angle 0 {0 0} 225"},
		// A die turned by 5-12-13: its x axis is (12, 5)/13, its y axis (-5, 12)/13.
		{"along the die's x axis", angled(Snap{Grid: 10}, 0, 0, math.Atan2(5, 12)*180/math.Pi), at(120+5, 50-12), "{120 50} angle 0 {0 0} 22.62"},
		{"along its y axis", angled(Snap{}, 0, 0, math.Atan2(5, 12)*180/math.Pi), at(-50, 120), "{-50 120} angle 0 {0 0} 112.62"},
		{"an axis of 90° is none", angled(Snap{}, 1, 2, 90), at(50, 12), "{50 2} angle 0 {0 0} 0"},
		{"to the rim of the frame, no further", angled(Snap{}, geom.Limit-100, 5, 0), at(geom.Limit, 130), "{1073741824 105} angle 0 {0 0} 45"},

		{"a vertex comes before the angle", angled(all, 50, -50, 0), at(2, 2), "{0 0} vertex 1 {0 0} 0"},
		{"where the ray crosses an edge", angled(all, 50, -50, 0), at(53, 3), "{50 0} angle and edge 1 {0 0} 90"},
		{"slanted onto an edge", angled(all, 0, -50, 0), at(52, 3), "{50 0} angle and edge 1 {0 0} 45"},
		{"an edge that the ray crosses too far away", angled(all, 0, -50, 0), at(57, 4), "{57 0} edge 1 {0 0} 0"},
		{"along an edge", angled(all, 50, 0, 0), at(70, 3), "{70 0} edge 1 {0 0} 0"},
		{"not back past the anchor", angled(all, 50, 2, 0), at(50, 4), "{50 0} edge 1 {0 0} 0"},
	} {
		got, err := tc.snap.Point(tc.p)
		if s := fmt.Sprintf("%v %s %d %v %v", got.At, got.Kind, got.Shape, got.Vertex, math.Round(got.Angle*100)/100); err != nil || s != tc.want {
			t.Errorf("%s: %s, %v, want %s", tc.name, s, err, tc.want)
		}
	}
	broken := errors.New("broken")
	for _, tc := range []struct {
		snap Snap
		p    geom.Point
		want string
	}{
		{Snap{}, at(0, geom.Limit+1), "(0, 1.073741825e+06) µm lies beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin"},
		{angled(Snap{}, 0, geom.Limit+1, 0), at(0, 0), "(0, 1.073741825e+06) µm, where the angle has its corner, lies beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin"},
		{Snap{Grid: -1}, at(0, 0), "a grid of -0.001 µm: give a step of 0.001 µm or more, or 0 for none"},
		{Snap{Reach: -1}, at(0, 0), "a reach of -0.001 µm: give 0 or more, within the frame"},
		{angled(Snap{}, 0, 0, math.NaN()), at(0, 0), "an angle of NaN°: give one between 0 and 360"},
		{Snap{Reach: 1, Edges: true, Near: func(geom.Rect) ([]dossier.Shape, error) { return nil, broken }}, at(0, 0), "broken"},
	} {
		if _, err := tc.snap.Point(tc.p); fmt.Sprint(err) != tc.want {
			t.Errorf("%v, want %s", err, tc.want)
		}
	}
}

func TestHitTest(t *testing.T) {
	near := shapes(box(0, 0, 100, 100), box(20, 20, 80, 80), append(box(200, 0, 300, 100), ring(220, 20, 220, 80, 280, 80, 280, 20)[0]))
	for _, tc := range []struct {
		name   string
		p      geom.Point
		reach  int
		layers []string
		want   string
	}{
		{"vertex", at(3, 4), 5, nil, "{vertex 1 {0 0} {0 0} 5}"},
		{"edge", at(50, 4), 5, nil, "{edge 1 {0 0} {50 0} 4}"},
		{"inside", at(10, 10), 5, nil, "{inside 1 {0 0} {10 10} 0}"},
		{"the topmost", at(50, 50), 5, nil, "{inside 2 {0 0} {50 50} 0}"},
		{"on one layer", at(50, 50), 5, []string{"poly"}, "{inside 1 {0 0} {50 50} 0}"},
		{"on no such layer", at(50, 50), 5, []string{"nwell"}, "{nothing 0 {0 0} {50 50} 0}"},
		{"edge of a hole", at(223, 50), 5, nil, "{edge 3 {1 0} {220 50} 3}"},
		{"in a hole", at(250, 50), 5, nil, "{nothing 0 {0 0} {250 50} 0}"},
		{"on the edge without reach", at(0, 50), 0, nil, "{edge 1 {0 3} {0 50} 0}"},
		{"nothing", at(150, 50), 5, nil, "{nothing 0 {0 0} {150 50} 0}"},
	} {
		hit, err := HitTest(near, tc.p, tc.reach, tc.layers...)
		if got := fmt.Sprint(hit); err != nil || got != tc.want {
			t.Errorf("%s: %s %v, want %s", tc.name, got, err, tc.want)
		}
	}
	if _, err := HitTest(near, at(0, 0), -1); fmt.Sprint(err) != "a reach of -0.001 µm: give 0 or more, within the frame" {
		t.Error(err)
	}
	broken := errors.New("broken")
	if _, err := HitTest(func(geom.Rect) ([]dossier.Shape, error) { return nil, broken }, at(0, 0), 1); err != broken {
		t.Error(err)
	}
}

// TestSnapDossier: the shapes of a cell, by the index, as those of a list; nothing of another cell.
func TestSnapDossier(t *testing.T) {
	d, _, cell := world(t)
	do(t, d, func(tx *dossier.Tx) error {
		s := Snap{Reach: 3, Vertices: true, Near: ShapesOf(tx, cell)}
		got, err := s.Point(at(5, 2))
		want(t, "in the cell", fmt.Sprintf("%v %s %d", got.At, got.Kind, got.Shape), "{4 1} vertex 2")
		return err
	})
	s := Snap{Reach: 3, Vertices: true, Near: ShapesOf(d, dossier.Frame)}
	got, err := s.Point(at(21, 1)) // beside what the cell shows
	want(t, "in the die", fmt.Sprintf("%v %s %d %v", got.At, got.Kind, got.Shape, err), "{21 1} nothing 0 <nil>")
}

// TestSnapLaws: a point is drawn to a vertex or an edge no farther than the reach, rounding aside, and lies in the frame; what was
// drawn to something is not drawn any further.
func TestSnapLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.IntRange(-60, 60)
		corner := rapid.SampledFrom([]geom.Point{{}, {X: geom.Limit - 60, Y: 60 - geom.Limit}}).Draw(t, "corner")
		p := func() geom.Point { return corner.Add(at(c.Draw(t, "x"), c.Draw(t, "y"))) }
		var pgs []geom.Polygon
		for range 3 {
			pgs = append(pgs, geom.Polygon{{p(), p(), p()}})
		}
		s := Snap{Grid: rapid.IntRange(0, 20).Draw(t, "grid"), Reach: rapid.IntRange(0, 30).Draw(t, "reach"), Vertices: rapid.Bool().Draw(t, "vertices"),
			Edges: rapid.Bool().Draw(t, "edges"), Near: shapes(pgs...), Angles: rapid.Bool().Draw(t, "angles"), Anchor: p(), Axis: rapid.Float64Range(-90, 90).Draw(t, "axis")}
		from := p()
		got, err := s.Point(from)
		if err != nil || !got.At.InFrame() {
			t.Fatal(got, err)
		}
		off := math.Hypot(float64(got.At.X-from.X), float64(got.At.Y-from.Y))
		switch got.Kind {
		case SnapVertex:
			if off > float64(s.Reach) || pgs[got.Shape-1][got.Vertex.Ring][got.Vertex.Index] != got.At {
				t.Fatal(got)
			}
		case SnapEdge, SnapAngleAndEdge:
			if off > float64(s.Reach)+0.71 {
				t.Fatal(got)
			}
			r := pgs[got.Shape-1][got.Vertex.Ring]
			if away := distance(got.At, nearestOn(r[got.Vertex.Index], r[(got.Vertex.Index+1)%len(r)], got.At)); away > 0.71 {
				t.Fatalf("%v lies %g nm from its edge", got, away)
			}
		}
		if got.Kind == SnapAngle || got.Kind == SnapAngleAndEdge {
			sin, cos := math.Sincos(got.Angle * math.Pi / 180)
			d := got.At.Sub(s.Anchor)
			if away := math.Abs(float64(d.Y)*cos - float64(d.X)*sin); away > 0.71 {
				t.Fatalf("%v lies %g nm from its ray", got, away)
			}
			if turn := math.Mod(got.Angle-s.Axis+720, 45); min(turn, 45-turn) > 1e-9 {
				t.Fatalf("%v: an angle of %g", got, got.Angle)
			}
		}
		if got.Kind == SnapVertex || got.Kind == SnapGrid {
			if again, _ := s.Point(got.At); again.At != got.At && again.Kind == got.Kind {
				t.Fatal(got, again)
			}
		}
	})
}

func BenchmarkSnap(b *testing.B) {
	d := create(b)
	random := rand.New(rand.NewPCG(5, 6))
	do(b, d, func(tx *dossier.Tx) error {
		for range 100000 {
			s := on("metal1").shape()
			x, y := random.IntN(1e6), random.IntN(1e6)
			s.Polygon = box(x, y, x+200+random.IntN(3000), y+200+random.IntN(3000))
			if err := tx.AddShape(&s); err != nil {
				return err
			}
		}
		return nil
	})
	s := Snap{Grid: 10, Reach: 100, Vertices: true, Edges: true, Near: ShapesOf(d, dossier.Frame)}
	b.Run("shapes=100000", func(b *testing.B) {
		caught := 0
		for b.Loop() {
			got, err := s.Point(at(random.IntN(1e6), random.IntN(1e6)))
			if err != nil {
				b.Fatal(err)
			}
			if got.Kind != SnapGrid {
				caught++
			}
		}
		if b.N > 1000 && caught == 0 {
			b.Fatal("nothing was caught")
		}
	})
}

func BenchmarkMerge(b *testing.B) {
	d := create(b)
	random := rand.New(rand.NewPCG(7, 8))
	var ids []int64
	do(b, d, func(tx *dossier.Tx) error {
		for range 10000 {
			s := on("metal1").shape()
			x, y := random.IntN(3e5), random.IntN(3e5)
			s.Polygon = box(x, y, x+200+random.IntN(3000), y+200+random.IntN(3000))
			if err := tx.AddShape(&s); err != nil {
				return err
			}
			ids = append(ids, s.ID)
		}
		return nil
	})
	stop := errors.New("that was all")
	b.Run("shapes=10000", func(b *testing.B) {
		for b.Loop() {
			err := d.Edit(b.Context(), "merge", func(tx *dossier.Tx) error {
				if _, err := Merge(tx, ids); err != nil {
					return err
				}
				return stop
			})
			if err != stop {
				b.Fatal(err)
			}
		}
	})
}

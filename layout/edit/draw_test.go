package edit

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/pen"
)

func TestDraw(t *testing.T) {
	d := create(t)
	do(t, d, func(tx *dossier.Tx) error {
		_, err1 := Rectangle(tx, on("poly"), at(5, 9), at(-1, 2))
		hole := append(ring(0, 0, 0, 9, 9, 9, 9, 0, 0, 0), ring(2, 2, 4, 2, 4, 4)[0])
		_, err2 := Polygon(tx, on("metal1"), hole)                           // clockwise, closed by its first point
		_, err3 := Polygon(tx, on("metal1"), geom.Polygon{hole[1], hole[0]}) // the hole first
		_, err4 := Wire(tx, on("poly"), []geom.Point{at(0, 0), at(0, 0), at(100, 0), at(100, 100)}, 20, pen.Flush)
		_, err5 := Wire(tx, on("poly"), []geom.Point{at(0, 0), at(100, 0)}, 5, pen.Half)
		_, err6 := Stamp(tx, on("contact"), at(4, 3), at(10, 10), at(-10, 0))
		return errors.Join(err1, err2, err3, err4, err5, err6)
	})
	want(t, "drawing", show(t, d, dossier.Frame), `1 poly [[{-1 2} {5 2} {5 9} {-1 9}]]
2 metal1 [[{9 0} {9 9} {0 9} {0 0}] [{4 4} {4 2} {2 2}]]
3 metal1 [[{9 0} {9 9} {0 9} {0 0}] [{4 4} {4 2} {2 2}]]
4 poly [[{0 -10} {110 -10} {110 100} {90 100} {90 10} {0 10}]]
5 poly [[{-2 -2} {103 -2} {103 3} {-2 3}]]
6 contact [[{8 9} {12 9} {12 12} {8 12}]]
7 contact [[{-12 -1} {-8 -1} {-8 2} {-12 2}]]`)
}

// TestWireAcross: a wire that crosses itself is one valid shape with a hole, whose area is that of its rectangles.
func TestWireAcross(t *testing.T) {
	d := create(t)
	do(t, d, func(tx *dossier.Tx) error {
		ids, err := Wire(tx, on("metal1"), []geom.Point{at(0, 0), at(100, 0), at(100, 60), at(50, 60), at(50, -60)}, 10, pen.Flush)
		if len(ids) != 1 {
			t.Error(ids)
		}
		return err
	})
	// Around (50..100, 0..60): the inner edges are 55, 95, 5 and 55.
	want(t, "wire", show(t, d, dossier.Frame), "1 metal1 [[{0 -5} {45 -5} {45 -60} {55 -60} {55 -5} {105 -5} {105 65} {45 65} {45 5} {0 5}] [{55 5} {55 55} {95 55} {95 5}]]")
}

// TestStampFill: a box of 100 × 50 holds 5 × 2 stamps of 10 × 20 at 20.5 × 25: (100 - 10)/20.5 = 4.39, (50 - 20)/25 = 1.2. What is
// left over, 90 - 4·20.5 = 8 and 30 - 25 = 5, is halved: they begin at 4 and 2.5, rounded to 3; 4 + 20.5 = 24.5 is rounded to 25.
func TestStampFill(t *testing.T) {
	d := create(t)
	do(t, d, func(tx *dossier.Tx) error {
		ids, err := StampFill(tx, on("contact"), at(10, 20), geom.Vec{X: 20.5, Y: 25}, geom.Box(1000, 0, 1100, 50))
		if len(ids) != 10 {
			t.Error(ids)
		}
		return err
	})
	shapes, _ := d.Shapes(dossier.Frame)
	got := ""
	for _, s := range shapes {
		b := s.Polygon.Bounds()
		got += fmt.Sprint(b.Min, b.Width(), b.Height(), "; ")
	}
	want(t, "stamps", got, "{1004 3} 10 20; {1025 3} 10 20; {1045 3} 10 20; {1066 3} 10 20; {1086 3} 10 20; "+
		"{1004 28} 10 20; {1025 28} 10 20; {1045 28} 10 20; {1066 28} 10 20; {1086 28} 10 20; ")
}

func TestOrigin(t *testing.T) {
	d := create(t)
	s := addShot(t, d, "top")
	do(t, d, func(tx *dossier.Tx) error {
		_, err := Rectangle(tx, On{dossier.Frame, "poly", Origin{"automatic", s, "mask.png", 12.5}}, at(0, 0), at(9, 9))
		_, err2 := Rectangle(tx, on("poly"), at(0, 0), at(9, 9))
		return errors.Join(err, err2)
	})
	shapes, _ := d.Shapes(dossier.Frame)
	if a := shapes[0]; a.Method != "automatic" || a.Shot != s || a.File != "mask.png" || a.SigmaNm != 12.5 {
		t.Error(a)
	}
	if b := shapes[1]; b.Method != "hand" || b.Shot != 0 || b.File != "" || b.SigmaNm != 0 {
		t.Error(b)
	}
}

func TestDrawErrors(t *testing.T) {
	d := create(t)
	far := geom.Limit
	rectangle := func(on On) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Rectangle(tx, on, at(0, 0), at(1, 1))
			return err
		}
	}
	polygon := func(pg geom.Polygon) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			if _, err := Rectangle(tx, on("poly"), at(0, 0), at(1, 1)); err != nil { // which goes, too
				return err
			}
			_, err := Polygon(tx, on("poly"), pg)
			return err
		}
	}
	wire := func(width int, points ...geom.Point) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Wire(tx, on("poly"), points, width, pen.Flush)
			return err
		}
	}
	stamp := func(size geom.Point, points ...geom.Point) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := Stamp(tx, on("contact"), size, points...)
			return err
		}
	}
	fill := func(size geom.Point, pitch geom.Vec, box geom.Rect) func(tx *dossier.Tx) error {
		return func(tx *dossier.Tx) error {
			_, err := StampFill(tx, on("contact"), size, pitch, box)
			return err
		}
	}
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{`layer "metl1" is not in the stack, which has diffusion, nwell, poly, contact, metal1, via1, metal2: take one of these, or add it to the stack`, rectangle(on("metl1"))},
		{`there is no cell 7: take one of the dossier's`, rectangle(On{Cell: 7, Layer: "poly"})},
		{`there is no shot 7 to have traced over: take one of the dossier's, or none`, rectangle(On{dossier.Frame, "poly", Origin{Shot: 7}})},
		{`"foot" is no way to draw a shape: say hand, file, automatic, heal`, rectangle(On{dossier.Frame, "poly", Origin{Method: "foot"}})},
		{`an uncertainty of -1 nm: give a standard deviation, 0 or more`, rectangle(On{dossier.Frame, "poly", Origin{SigmaNm: -1}})},
		{`an uncertainty of NaN nm: give a standard deviation, 0 or more`, rectangle(On{dossier.Frame, "poly", Origin{SigmaNm: math.NaN()}})},
		{`poly: a rectangle from (1.5, 0) µm to (1.5, 2) µm has no area: give corners that differ in x and in y`, func(tx *dossier.Tx) error {
			_, err := Rectangle(tx, on("poly"), at(1500, 0), at(1500, 2000))
			return err
		}},
		{`poly: a polygon without rings: give a ring of three points or more`, polygon(nil)},
		{`poly: a ring of fewer than three points at (0, 0) µm: give three points or more, or delete it`, polygon(ring(0, 0, 5, 5, 5, 5, 0, 0))},
		{`poly: a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m) at (1.073741825e+06, 0) µm: keep nearer to the origin`, polygon(box(0, 0, far+1, 1))},
		{`poly: the outline crosses itself at (0.005, 0.005) µm: move a corner, or draw two shapes`, polygon(ring(0, 0, 10, 10, 10, 0, 0, 10))},
		{`poly: the outline touches itself at (0.005, 0) µm: leave a gap of 1 nm or more there, or draw two shapes`, polygon(ring(0, 0, 10, 0, 10, 10, 5, 0, 0, 10))},
		{`poly: the outline runs along itself at (-0.005, 0.01) µm: leave the spike out`, polygon(ring(0, 0, 10, 0, 10, 10, -5, 10, 0, 10))},
		{`poly: a second ring that lies outside of the first at (0.02, 0) µm: draw it as a shape of its own`, polygon(append(box(0, 0, 10, 10), box(20, 0, 30, 10)...))},
		{`poly: a ring inside of a hole at (0.004, 0.004) µm: draw it as a shape of its own`, polygon(append(append(box(0, 0, 10, 10), box(2, 2, 8, 8)...), box(4, 4, 6, 6)...))},
		{`poly: a wire without points: give two or more`, wire(10)},
		{`poly: a wire of width 0 µm at (0.001, 0.002) µm: give one of 0.001 µm or more, within the frame`, wire(0, at(1, 2), at(3, 4))},
		{`poly: a wire at (0.001, 0.002) µm covers nothing: give two points that differ, or a larger width`, wire(10, at(1, 2), at(1, 2))},
		{`poly: a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m) at (1.073741825e+06, 0) µm: keep nearer to the origin`, wire(10, at(1, 2), at(far+1, 0))},
		{`poly: a wire from (0, 1.073741824e+06) µm of width 0.01 µm leaves the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, wire(10, at(0, far), at(9, far))},
		{`contact: no point to stamp at: give one or more`, stamp(at(5, 5))},
		{`contact: a stamp of 0.005 × 0 µm at (0.001, 0.001) µm: give sides of 0.001 µm or more, within the frame`, stamp(at(5, 0), at(1, 1))},
		{`contact: a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m) at (0, -1.073741827e+06) µm: keep nearer to the origin`, stamp(at(5, 5), at(0, -far-3))},
		{`contact: a point beyond the frame, which reaches to ±2³⁰ nm (1.07 m) at (-0.002, -1.073741826e+06) µm: keep nearer to the origin`, stamp(at(5, 5), at(0, -far))},
		{`contact: a box that holds nothing: give its lower left corner first`, fill(at(5, 5), geom.Vec{X: 9, Y: 9}, geom.EmptyRect())},
		{`contact: a stamp of 0 × 0.005 µm at (0, 0) µm: give sides of 0.001 µm or more, within the frame`, fill(at(0, 5), geom.Vec{X: 9, Y: 9}, geom.Box(0, 0, 9, 9))},
		{`contact: a pitch of 0.0045 × 0.009 µm for stamps of 0.005 × 0.005 µm at (0, 0) µm: give one that is no smaller, so that they do not overlap`, fill(at(5, 5), geom.Vec{X: 4.5, Y: 9}, geom.Box(0, 0, 9, 9))},
		{`contact: a box of 0.009 × 0.004 µm at (0, 0) µm holds no stamp of 0.005 × 0.005 µm: take a larger box, or a smaller stamp`, fill(at(5, 5), geom.Vec{X: 5, Y: 5}, geom.Box(0, 0, 9, 4))},
		{`contact: 2000 × 2000 stamps in the box at (0, 0) µm, and 1048576 are allowed: make a cell and place it as an array`, fill(at(5, 5), geom.Vec{X: 10, Y: 10}, geom.Box(0, 0, 20000, 20000))},
		{`poly: it would reach from (1.073741817e+06, -0.007) µm to (1.073741825e+06, 0.008) µm in cell "die", beyond the frame of ±2³⁰ nm (1.07 m): keep nearer to the origin`, func(tx *dossier.Tx) error {
			cell, err := newCell(tx, "far") // several at a time, in a cell that is placed
			if err != nil {
				return err
			}
			if err := Place(tx, &dossier.Placement{Parent: 1, Child: cell, At: at(far-5, 0)}); err != nil {
				return err
			}
			_, err = Stamp(tx, On{Cell: cell, Layer: "poly"}, at(5, 5), at(0, -5), at(3, 5))
			return err
		}},
	} {
		fails(t, d, tc.want, tc.f)
	}
}

func TestVertices(t *testing.T) {
	d := create(t)
	id := add(t, d, "poly", append(box(0, 0, 100, 100), ring(20, 20, 20, 40, 40, 20)[0]))
	do(t, d, func(tx *dossier.Tx) error {
		return errors.Join(
			MoveVertex(tx, id, Vertex{0, 2}, at(120, 130)),
			InsertVertex(tx, id, Vertex{0, 3}, at(-10, 50)), // between the last point and the first
			MoveEdge(tx, id, Vertex{0, 0}, at(0, -5)),
		)
	})
	want(t, "moved", show(t, d, 1), "1 poly [[{0 -5} {100 -5} {120 130} {0 100} {-10 50}] [{20 20} {20 40} {40 20}]]")
	do(t, d, func(tx *dossier.Tx) error { return MoveEdge(tx, id, Vertex{1, 2}, at(3, 0)) }) // its end is the ring's first point
	want(t, "moved", show(t, d, 1), "1 poly [[{0 -5} {100 -5} {120 130} {0 100} {-10 50}] [{23 20} {20 40} {43 20}]]")
	do(t, d, func(tx *dossier.Tx) error {
		return errors.Join(RemoveVertex(tx, id, Vertex{0, 2}), RemoveVertex(tx, id, Vertex{1, 0}))
	})
	want(t, "removed", show(t, d, 1), "1 poly [[{0 -5} {100 -5} {0 100} {-10 50}]]")

	bow := add(t, d, "metal1", ring(0, 0, 10, 10, 10, 0, 0, 10))
	triangle := add(t, d, "metal1", ring(0, 0, 10, 0, 0, 10))
	for _, tc := range []struct {
		want string
		f    func(tx *dossier.Tx) error
	}{
		{"there is no such thing in the dossier: shape 99", func(tx *dossier.Tx) error { return MoveVertex(tx, 99, Vertex{}, at(0, 0)) }},
		{"poly: shape 1 at (0, -0.005) µm has no point 4 in a ring 0: count both from 0", func(tx *dossier.Tx) error { return MoveVertex(tx, id, Vertex{0, 4}, at(0, 0)) }},
		{"poly: shape 1 at (0, -0.005) µm has no point 0 in a ring 1: count both from 0", func(tx *dossier.Tx) error { return RemoveVertex(tx, id, Vertex{1, 0}) }},
		{"poly: shape 1 at (0, -0.005) µm has no point -1 in a ring 0: count both from 0", func(tx *dossier.Tx) error { return InsertVertex(tx, id, Vertex{0, -1}, at(0, 0)) }},
		// The edge from (210, -80) to (-10, 50) comes down to y = -5 at x = -10 + 220·55/130 = 83.08.
		{"poly: the outline crosses itself at (0.083, -0.005) µm: move a corner, or draw two shapes", func(tx *dossier.Tx) error { return MoveVertex(tx, id, Vertex{0, 2}, at(210, -80)) }},
		{"poly: a point that is there twice at (0, -0.005) µm: leave one of the two out", func(tx *dossier.Tx) error { return InsertVertex(tx, id, Vertex{0, 0}, at(0, -5)) }},
		{"metal1: a ring of fewer than three points at (0, 0) µm: give three points or more, or delete it", func(tx *dossier.Tx) error { return RemoveVertex(tx, triangle, Vertex{0, 1}) }},
		{"metal1: the outline crosses itself at (0.005, 0.005) µm: move a corner, or draw two shapes; the shape was not valid before, either: resolve it first",
			func(tx *dossier.Tx) error { return InsertVertex(tx, bow, Vertex{0, 1}, at(12, 5)) }},
	} {
		fails(t, d, tc.want, tc.f)
	}
	do(t, d, func(tx *dossier.Tx) error { return MoveVertex(tx, bow, Vertex{0, 3}, at(5, -5)) }) // which undoes the knot
}

package question

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// drawHook draws a gate that is bent, over a diffusion that is not the same on both sides, 5 µm away from the origin: it looks like itself in
// one of the eight ways to lie only.
func drawHook(b *board, net string) {
	b.box("unruly", 5000, 5000, 30000, 12000)
	b.box("poly", 14000, 4000, 18000, 13000)
	b.box("poly", 14000, 13000, 25000, 16000)
	b.plug(7000, 8000, net)
	b.plug(27000, 9000, "OUT"+net)
	b.plug(23000, 14500, "IN"+net)
}

// flat draws what a cell holds in the top cell, placed by a transform, as if somebody had drawn it there.
func (b *board) flat(c *layout.Cell, t geom.Transform) {
	top := b.lib.Cells[0]
	for _, s := range c.Shapes {
		s.Polygon = t.ApplyPolygon(s.Polygon)
		top.Shapes = append(top.Shapes, s)
	}
	for _, l := range c.Labels {
		l.At = t.Apply(l.At)
		top.Labels = append(top.Labels, l)
	}
}

// TestCongruent: what is drawn eight times, turned and mirrored, is one question of eight places, whether by hand or as a cell; what has
// another shape, other nets or roles of nets, is one of its own.
func TestCongruent(t *testing.T) {
	ways := func(n int) geom.Transform {
		return geom.NewTransform(n > 3, 1, float64(90*n), geom.Point{X: 200000 * n, Y: 13 * n})
	}
	for _, asCell := range []bool{false, true} {
		b := newBoard(t)
		c := &layout.Cell{Name: "HOOK"}
		b.on = c
		drawHook(b, "A")
		if asCell {
			b.lib.Cells = append(b.lib.Cells, c)
		}
		for n := range 8 {
			if asCell {
				b.lib.Cells[0].Placements = append(b.lib.Cells[0].Placements, layout.Placement{Cell: c, Transform: ways(n)})
			} else {
				b.flat(c, ways(n))
			}
		}
		res := b.extract()
		for _, kind := range []string{TransistorOrCapacitor, Polarity} {
			q := b.one(kind, Options{All: true})
			if q.Count != 8 || len(q.Places) != 8 || len(q.Devices) != 8 {
				t.Errorf("%s, as a cell %v: %d places, %d, %d devices", kind, asCell, q.Count, len(q.Places), len(q.Devices))
			}
			anchors := q.Anchors(res, b.lib, b.lib.Cells[0])
			if asCell {
				for _, a := range anchors {
					if a.Cell != c {
						t.Errorf("%s: an answer in cell %s", kind, a.Cell.Name)
					}
				}
			} else if len(anchors) != 8 || anchors[0].At != q.At {
				t.Errorf("%s: %d places to keep an answer in, the first at %v", kind, len(anchors), anchors[0].At)
			}
		}
	}

	hook := func(net string, change func(b *board)) *layout.Cell {
		b := newBoard(t)
		drawHook(b, net)
		change(b)
		return b.on
	}
	same := func(*board) {}
	for _, tc := range []struct {
		name  string
		other *layout.Cell
		want  int
	}{
		{"another label", hook("B", same), 1},
		{"a supply at one end", hook("GND", same), 2},
		{"a nanometre longer", hook("B", func(b *board) { b.box("unruly", 30000, 5000, 30001, 12000) }), 2},
		{"as large, and elsewhere", hook("B", func(b *board) {
			b.on.Shapes[0].Polygon = geom.Polygon{geom.Box(4000, 5000, 29000, 12000).Ring()}
		}), 2},
		{"another contact", hook("B", func(b *board) { b.plug(10000, 10000, "") }), 2},
	} {
		b := newBoard(t)
		b.flat(hook("A", same), geom.Move(geom.Point{}))
		b.flat(tc.other, geom.NewTransform(true, 1, 90, geom.Point{X: 300000, Y: 5}))
		if qs := b.ask(TransistorOrCapacitor, Options{All: true}); len(qs) != tc.want {
			t.Errorf("%s: %d questions, want %d", tc.name, len(qs), tc.want)
		}
	}
}

// TestLaid: the eight ways to lie are different, and each keeps a box's sides but for their order.
func TestLaid(t *testing.T) {
	seen := map[geom.Rect]bool{}
	for way := range 8 {
		r := laid(geom.Box(1, 20, 4, 27), way)
		seen[r] = true
		w, h := r.Width(), r.Height()
		if min(w, h) != 3 || max(w, h) != 7 {
			t.Errorf("way %d: %v", way, r)
		}
	}
	if len(seen) != 8 {
		t.Errorf("%d ways: %v", len(seen), seen)
	}
}

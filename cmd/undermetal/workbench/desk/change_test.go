package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// bare is a desk on a dossier without photographs, snapping off.
func bare(t *testing.T) *bench {
	b := open(t, create(t), Options{})
	t.Cleanup(b.close)
	b.keys(":snap off", "3", ":layer metal1")
	return b
}

// drawn are the shapes of the die: layer, box and area.
func (b *bench) drawn() []string {
	b.t.Helper()
	shapes, err := b.dos.Shapes(dossier.Frame)
	if err != nil {
		b.t.Fatal(err)
	}
	var out []string
	for _, s := range shapes {
		area := 0.0
		for _, r := range s.Polygon {
			area += r.Area() // holes are clockwise
		}
		box := s.Polygon.Bounds()
		out = append(out, fmt.Sprintf("%s %d,%d %d,%d area %.0f", s.Layer, box.Min.X, box.Min.Y, box.Max.X, box.Max.Y, math.Abs(area)))
	}
	return out
}

func (b *bench) want(when string, want ...string) {
	b.t.Helper()
	if got := b.drawn(); !slices.Equal(got, want) {
		b.t.Errorf("%s (%q): %q\nwant %q", when, b.said.text, got, want)
	}
}

// TestChanges: what is done to shapes, by keys and by lines; boxes and areas are reckoned by hand, in nm.
func TestChanges(t *testing.T) {
	for _, c := range []struct {
		name string
		keys []string
		want []string
	}{
		{"rectangle by keys", []string{":at 1,1", "r", "Space", ":at 3,2", "Space"}, []string{"metal1 1000,1000 3000,2000 area 2000000"}},
		{"a polygon ends at its first corner", []string{"p", ":at 0,0", "Space", ":at 4,0", "Space", ":at 4,3", "Space", ":at 0,0", "Space"}, []string{"metal1 0,0 4000,3000 area 6000000"}},
		{"a corner is taken back", []string{"p", ":at 0,0", "Space", ":at 4,0", "Space", ":at 9,9", "Space", "Backspace", ":at 4,3", "Space", "Enter"}, []string{"metal1 0,0 4000,3000 area 6000000"}},
		{"wire", []string{":width 1", "w", ":at 0,0", "Space", ":at 5,0", "Space", ":at 5,5", "Space", "Enter"}, []string{"metal1 0,-500 5500,5000 area 10000000"}},
		{"stamp", []string{":size 0.4,0.6", "c", ":at 1,1", "Space", ":at 2,1", "Space"}, []string{"metal1 800,700 1200,1300 area 240000", "metal1 1800,700 2200,1300 area 240000"}},
		{"stampfill", []string{":size 0.5", ":stampfill 0,0 2.5,0.5 1,1"}, []string{"metal1 0,0 500,500 area 250000", "metal1 1000,0 1500,500 area 250000", "metal1 2000,0 2500,500 area 250000"}},
		{"move by a line", []string{":rectangle 0,0 1,1", ":select all", ":move 2,-1"}, []string{"metal1 2000,-1000 3000,0 area 1000000"}},
		{"pick up and put down", []string{":rectangle 0,0 10,10", ":at 5,5", "m", ":at 6,7", "Space"}, []string{"metal1 1000,2000 11000,12000 area 100000000"}},
		{"pick up a corner", []string{":rectangle 0,0 10,10", ":at 10,10", "m", ":at 10,20", "Space"}, []string{"metal1 0,0 10000,20000 area 150000000"}},
		{"an edge goes across itself only", []string{":rectangle 0,0 10,10", ":at 10,5", "m", ":at 12,9", "Space"}, []string{"metal1 0,0 12000,10000 area 120000000"}},
		{"insert a corner and pull it out", []string{":rectangle 0,0 10,10", ":at 10,5", "i", "m", ":at 14,5", "Space"}, []string{"metal1 0,0 14000,10000 area 120000000"}},
		{"remove a corner", []string{":rectangle 0,0 10,10", ":at 10,10", "I"}, []string{"metal1 0,0 10000,10000 area 50000000"}},
		{"what is carried may be left", []string{":rectangle 0,0 10,10", ":at 5,5", "m", ":at 6,7", "Esc"}, []string{"metal1 0,0 10000,10000 area 100000000"}},
		{"copy and put down", []string{":rectangle 0,0 2,2", ":at 1,1", "s", "t", "y", ":at 11,1", "Space"}, []string{"metal1 0,0 2000,2000 area 4000000", "metal1 10000,0 12000,2000 area 4000000"}},
		{"cut out and paste", []string{":rectangle 0,0 2,2", ":at 1,1", "s", "x", ":paste 5,5"}, []string{"metal1 4000,4000 6000,6000 area 4000000"}},
		{"duplicate", []string{":rectangle 0,0 1,1", ":select all", ":duplicate 3,0"}, []string{"metal1 0,0 1000,1000 area 1000000", "metal1 3000,0 4000,1000 area 1000000"}},
		{"turn by a quarter about its middle", []string{":rectangle 0,0 4,2", ":select all", "q"}, []string{"metal1 1000,-1000 3000,3000 area 8000000"}},
		{"mirror left and right", []string{":polygon 0,0 4,0 0,2", ":select all", "h", ":at 3.9,1.5", "s"}, []string{"metal1 0,0 4000,2000 area 4000000"}},
		{"merge", []string{":rectangle 0,0 2,2", ":rectangle 1,0 3,2", ":select all", "j"}, []string{"metal1 0,0 3000,2000 area 6000000"}},
		{"split along a line", []string{":rectangle 0,0 4,2", ":select all", "k", ":at 1,-5", "Space", ":at 1,5", "Space"}, []string{"metal1 0,0 1000,2000 area 2000000", "metal1 1000,0 4000,2000 area 6000000"}},
		{"take away", []string{":rectangle 0,0 4,4", ":select all", ":subtract 1,1 2,1 2,2 1,2"}, []string{"metal1 0,0 4000,4000 area 15000000"}},
		{"delete what lies under the cursor", []string{":rectangle 0,0 4,4", ":rectangle 10,0 14,4", ":at 1,1", "d"}, []string{"metal1 10000,0 14000,4000 area 16000000"}},
		{"select in a box", []string{":rectangle 0,0 1,1", ":rectangle 5,5 6,6", "a", ":at -1,-1", "Space", ":at 2,2", "Space", "d"}, []string{"metal1 5000,5000 6000,6000 area 1000000"}},
		{"select one more", []string{":rectangle 0,0 1,1", ":rectangle 5,5 6,6", ":rectangle 8,8 9,9", ":at 0.5,0.5", "s", ":at 5.5,5.5", "S", "d"}, []string{"metal1 8000,8000 9000,9000 area 1000000"}},
		{"undo and redo", []string{":rectangle 0,0 1,1", ":rectangle 5,5 6,6", "u", "u", "U"}, []string{"metal1 0,0 1000,1000 area 1000000"}},
		{"a hidden layer is left alone", []string{":rectangle 0,0 4,4", ":layer poly", ":hide metal1", ":at 1,1", "d"}, []string{"metal1 0,0 4000,4000 area 16000000"}},
		{"a locked layer is left alone", []string{":rectangle 0,0 4,4", ":select all", ":lock metal1", "d"}, []string{"metal1 0,0 4000,4000 area 16000000"}},
		{"nothing is drawn on a locked layer", []string{":lock metal1", ":rectangle 0,0 4,4"}, nil},
		{"the die's axes", []string{":axis 45", ":rectangle 0,0 2,0"}, []string{"metal1 0,-1000 2000,1000 area 2000000"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := bare(t)
			b.keys(c.keys...)
			b.want("then", c.want...)
		})
	}
}

// TestErrors: what cannot be done is said, with the remedy, and nothing is lost: the corners that were set stay.
func TestErrors(t *testing.T) {
	b := bare(t)
	b.keys("p", ":at 0,0", "Space", ":at 4,4", "Space", ":at 4,0", "Space", ":at 0,4", "Space", "Enter")
	b.want("a polygon that crosses itself")
	if b.said.tone != Failure || len(b.points) != 4 {
		t.Errorf("%+v, %d corners", b.said, len(b.points))
	}
	b.keys("Backspace", "Backspace", "Backspace", ":at 4,0", "Space", ":at 4,4", "Space", "Enter")
	b.want("mended", "metal1 0,0 4000,4000 area 8000000")
	b.keys("Esc")
	for line, want := range map[string]string{
		":rectangle 0,0 0,5":          "no area",
		":subtract 50,50 60,50 60,60": "nothing is selected",
		":layer nickel":               "there is no layer",
		":go here":                    "x,y",
		":go 1e9,0":                   "outside the frame",
		":frobnicate":                 "no verb",
		":wire 0,0":                   "as in :wire",
		":label":                      "as in :label",
		":find nobody":                "nothing is called",
		":place nobody":               "no cell",
		":accept":                     "nothing is being registered",
		":paste 1,1":                  "nothing was copied",
		":answer x":                   "no question",
		":'":                          "not closed",
	} {
		b.keys(":at 30,30", line)
		if !strings.Contains(b.said.text, want) {
			t.Errorf("%s: %q", line, b.said.text)
		}
	}
	b.want("after all of these", "metal1 0,0 4000,4000 area 8000000")
}

// TestCells: a cell of what is selected, an array of it, the odd member, and all taken apart again.
func TestCells(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 1,1", ":label A", ":select all", ":cell pix")
	b.failing("cell")
	b.settle()
	b.keys(":array 4 3 2,0 0,3")
	b.failing("array")
	b.settle()
	if box := b.drawing.Box(); box != geom.Box(0, 0, 7000, 7000) {
		t.Errorf("the array lies in %v", box)
	}
	b.keys(":odd 1,1 dark")
	b.failing("odd")
	cells, err := b.dos.Cells()
	if err != nil || len(cells) != 3 {
		t.Errorf("%v, %v", cells, err)
	}
	b.settle()
	b.keys(":select none", ":at 2.5,3.5", "s")
	if len(b.sel.Placements) != 1 {
		t.Fatalf("selected %+v: %s", b.sel, b.said.text)
	}
	b.keys(":explode")
	b.failing("explode")
	b.want("the odd one taken apart", "metal1 2000,3000 3000,4000 area 1000000")
	b.keys("F11")
	if l := b.Side(); l == nil || len(l.Rows) < 3 {
		t.Errorf("%+v", l)
	}
}

// TestSnap: a corner of another shape catches before the point is set, and the mark shows it.
func TestSnap(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 10,10", ":snap vertex edge angle", "r")
	b.settle()
	near := b.Scene().View.NmPerPx // a px away
	b.keys(fmt.Sprintf(":at %.3f,%.3f", 10+near/1000, 10+near/1000))
	lines := len(b.Scene().Lines)
	if text := b.Foot()[0].Text; !strings.HasPrefix(text, "10, 10 µm (vertex)") {
		t.Errorf("the foot says %q", text)
	}
	b.keys("g")
	if n := len(b.Scene().Lines); n != lines-1 {
		t.Errorf("%d lines without the mark, %d with it", n, lines)
	}
	b.keys("g", "Space", "g", ":at 20,15", "Space")
	b.want("drawn", "metal1 0,0 10000,10000 area 100000000", "metal1 10000,10000 20000,15000 area 50000000")

	// A wire keeps to 45° of the die's axes: 3, 0.2 is level.
	b.keys("Esc", ":snap angle", ":width 1", "w", ":at 30,30", "Space", ":at 40,30.3", "Space", "Enter")
	if got := b.drawn(); got[2] != "metal1 30000,29500 40000,30500 area 10000000" {
		t.Errorf("%s", got[2])
	}
}

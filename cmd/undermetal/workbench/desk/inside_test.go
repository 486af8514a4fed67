package desk

import (
	"math"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// flat are the boxes of all shapes of a layer in the die, with those in placed cells.
func (b *bench) flat(layer string) (boxes []geom.Rect) {
	b.t.Helper()
	lib, err := b.dos.Library()
	if err != nil {
		b.t.Fatal(err)
	}
	f, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		b.t.Fatal(err)
	}
	f.Shapes(func(s *layout.Shape, t geom.Transform) bool {
		if lib.Layers[s.Layer] == layer {
			boxes = append(boxes, t.ApplyPolygon(s.Polygon).Bounds())
		}
		return true
	})
	return boxes
}

// TestInside: a cell of 1 × 1 µm in an array of 4 × 3, 2 and 3 µm apart. What is drawn inside the member at 2.5, 3.5 µm, which is column
// 1, row 1, is drawn in all twelve: by hand, 0.2 to 0.4 µm of the cell are 2.2 to 2.4 and 3.2 to 3.4 µm there, and so on.
func TestInside(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 1,1", ":select all", ":cell pix")
	b.settle()
	b.keys(":array 4 3 2,0 0,3")
	b.failing("array")
	b.settle()
	b.keys("F11")
	if got := b.Side().Rows; len(got) != 2 || got[0].Text != "pix" || got[0].Note != "12 times in 1 placement" || got[1].Text != "pix.1" || got[1].Note != "array of 4 × 3" {
		t.Errorf("listed are %+v", got)
	}
	b.keys("Esc", "Esc")
	b.keys("3", ":select none", ":at 2.5,3.5", "}")
	b.failing("into")
	if text := line(b.Head()); !strings.Contains(text, "inside pix (column 1, row 1)") {
		t.Errorf("the head says %q", text)
	}
	if !strings.Contains(b.said.text, "12 placements follow") {
		t.Errorf("said: %s", b.said.text)
	}
	b.settle()
	if at := b.where(); at != (geom.Vec{X: 0.5, Y: 0.5}) {
		t.Errorf("the cursor is at %v of the cell", at)
	}
	if box := b.drawing.Box(); box != geom.Box(0, 0, 1000, 1000) {
		t.Errorf("shown is %v", box)
	}
	b.keys(":layer poly", ":snap off", ":rectangle 0.2,0.2 0.4,0.4", ":label G")
	b.failing("draw")
	boxes := b.flat("poly")
	if len(boxes) != 12 {
		t.Fatalf("%d shapes", len(boxes))
	}
	seen := map[geom.Rect]bool{}
	for _, x := range boxes {
		seen[x] = true
	}
	for c := range 4 {
		for r := range 3 {
			if x := geom.Box(2000*c+200, 3000*r+200, 2000*c+400, 3000*r+400); !seen[x] {
				t.Errorf("none in %v", x)
			}
		}
	}
	b.settle()
	b.keys(":at 0.3,0.3", "s") // what is picked and moved is the cell's, too
	b.keys(":move 0.1,0")
	b.failing("move")
	b.keys("{")
	if got := b.flat("poly"); len(got) != 12 || got[0].Min.X != 300 && got[0].Min.X%2000 != 300 {
		t.Errorf("moved to %v", got)
	}
	if at := b.where(); at != (geom.Vec{X: 2.5, Y: 3.5}) || len(b.within) != 0 {
		t.Errorf("back at %v, %d cells deep", at, len(b.within))
	}
	b.keys("{")
	if !strings.Contains(b.said.text, "whole die") {
		t.Errorf("said: %s", b.said.text)
	}
	b.settle()
	b.keys(":into 3,2", ":undo 2")
	if got := b.flat("poly"); len(got) != 12 || len(b.within) != 1 || b.within[0].column != 3 || b.within[0].row != 2 {
		t.Errorf("%d shapes, within %v", len(got), b.within)
	}
	b.settle()
	b.keys(":into 4,0")
	if !strings.Contains(b.said.text, "no placed cell") {
		t.Errorf("said: %s", b.said.text)
	}
	b.settle()
	b.keys(":undo 2") // down to the array: and now that is taken back, too
	for range 3 {
		b.keys("u")
	}
	if len(b.within) != 0 || !strings.Contains(line(b.Head()), "3 trace") {
		t.Errorf("still within %v", b.within)
	}
	b.settle()
}

// TestInsideTurned: the cell lies mirrored and turned by 90° at (7, 4) µm, with the photograph below. By hand: mirrored at x, (x, y) is
// (x, −y), turned by 90° that is (y, x), so that (1, 2) µm of the cell lie at (7 + 2, 4 + 1) µm of the die, and are seen at the pixel
// that shows that place.
func TestInsideTurned(t *testing.T) {
	b := open(t, create(t, "stripped"), Options{})
	defer b.close()
	b.keys(":calibrate 16.5 0.03", "3", ":rectangle 0,0 3,2", ":select all", ":cell a")
	b.settle()
	if err := b.dos.Edit(t.Context(), "turn", func(tx *dossier.Tx) error {
		all, err := tx.Placements(dossier.Frame)
		if err != nil {
			return err
		}
		p := all[0]
		p.Mirror, p.Degrees, p.At = true, 90, geom.Point{X: 7000, Y: 4000}
		return tx.SetPlacement(&p)
	}); err != nil {
		t.Fatal(err)
	}
	b.changed()
	b.settle()
	l := b.photos[0].l
	want := l.FromFrame.Apply(geom.Vec{X: 9000, Y: 5000})
	b.keys(":select none", ":at 8,5", "}")
	b.failing("into")
	b.settle()
	if at := b.where(); at != (geom.Vec{X: 1, Y: 1}) {
		t.Errorf("(8, 5) µm of the die is %v µm of the cell", at)
	}
	if got := b.photos[0].l.FromFrame.Apply(geom.Vec{X: 1000, Y: 2000}); math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-6 {
		t.Errorf("seen at pixel %v, not %v", got, want)
	}
	if got := b.photos[0].l.ToFrame.Apply(want); math.Hypot(got.X-1000, got.Y-2000) > 1e-6 {
		t.Errorf("the pixel lies at %v", got)
	}
	// A net and its label inside: the circuit is the cell's.
	b.keys(":layer metal1", ":rectangle 0.1,0.1 0.5,0.5", ":at 0.3,0.3", ":label IN")
	b.failing("label")
	b.settle()
	if k := b.pieceAt(geom.Point{X: 300, Y: 300}); k < 0 {
		t.Error("no net where one was drawn")
	}
	for _, words := range [][]string{{"2"}, {":calibrate 17 0.1"}, {":area 0,0 1,0 1,1"}} {
		b.keys(words...)
		if b.station != tracing || !strings.Contains(b.said.text, "comes back out of a first") {
			t.Errorf("%v: station %d, %q", words, b.station, b.said.text)
		}
	}
	// A cell in the cell.
	b.keys(":select box 0,0 0.6,0.6", ":cell deep")
	b.failing("cell")
	b.settle()
	b.keys(":select none", ":at 0.3,0.3", "}")
	b.failing("into")
	if text := b.cellTitle(); text != "a › deep" {
		t.Errorf("inside %s", text)
	}
	b.settle()
	b.keys(":layer poly", ":rectangle 0.1,0.1 0.2,0.2") // of deep, whose corner lies at (0.1, 0.1) of a
	if got, x := b.flat("poly"), geom.Box(7000+200, 4000+200, 7000+300, 4000+300); len(got) != 1 || got[0] != x {
		t.Errorf("drawn in %v, not in %v", got, x)
	}
	b.keys("{", "{")
	if len(b.within) != 0 {
		t.Error("not back")
	}
	if shapes, err := b.dos.Shapes(dossier.Frame); err != nil || len(shapes) != 0 {
		t.Errorf("%d shapes in the die, %v", len(shapes), err)
	}
	b.settle()
}

func line(spans []Span) (text string) {
	for _, s := range spans {
		text += s.Text
	}
	return text
}

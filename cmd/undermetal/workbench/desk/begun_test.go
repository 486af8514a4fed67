package desk

import (
	"strings"
	"testing"

	"undermetal/layout/geom"
)

// TestCarriedMeanwhile: what was picked up is put down no more once another edit has changed what is drawn: a corner's number may be that of
// another one by then. A copy is carried on.
func TestCarriedMeanwhile(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 10,10", ":at 10,10", "m", "I", ":at 10,20", "Space")
	b.want("a corner that was removed", "metal1 0,0 10000,10000 area 50000000")
	b.keys("u", ":select none", ":at 5,5", "t", "y", ":rectangle 20,20 21,21", ":at 35,5", "Space")
	b.want("a copy", "metal1 0,0 10000,10000 area 100000000", "metal1 20000,20000 21000,21000 area 1000000", "metal1 30000,0 40000,10000 area 100000000")
}

// TestSelectedPlacement: the outline of a placement that is selected lies where the placement does, after it is made and after it is moved,
// and turning goes about its middle. By hand: 1 × 1 µm, placed with its corner at (5, 5), moved by (3, 0); turned it lies where it lay.
func TestSelectedPlacement(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 1,1", ":select all", ":cell one")
	b.settle()
	b.keys(":at 5,5", ":place one")
	b.failing("place")
	b.settle()
	if want := geom.Box(5000, 5000, 6000, 6000); b.selBox != want {
		t.Errorf("placed: outlined is %v, not %v", b.selBox, want)
	}
	b.keys(":move 3,0")
	b.settle()
	want := geom.Box(8000, 5000, 9000, 6000)
	if b.selBox != want {
		t.Errorf("moved: outlined is %v, not %v", b.selBox, want)
	}
	b.keys("q")
	b.settle()
	if b.selBox != want {
		t.Errorf("turned: outlined is %v, not %v", b.selBox, want)
	}
}

// TestReleasedUnderLine: a button that is let go while the command line is open ends its drag: what was carried is left, and the next press is
// the photograph's that it falls on.
func TestReleasedUnderLine(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 100,100", "0", ":select none")
	x, y := b.eyes[0].view.ToScreen(geom.Vec{X: 50_000, Y: 50_000})
	b.Mouse(Mouse{X: x, Y: y, Kind: Press, Button: Left})
	b.Mouse(Mouse{X: x + 40, Y: y, Kind: Drag, Button: Left})
	if b.carry == nil {
		t.Fatal("nothing is carried")
	}
	b.keys(":")
	b.Mouse(Mouse{X: x + 40, Y: y, Kind: Release, Button: Left})
	b.keys("Esc")
	b.Mouse(Mouse{X: x + 80, Y: y, Kind: Move})
	if b.carry != nil || b.drag.button != 0 {
		t.Errorf("carried is %v, held is button %d", b.carry, b.drag.button)
	}
	b.want("let go", "metal1 0,0 100000,100000 area 10000000000")

	r := open(t, create(t, "metal", "stripped"), Options{})
	defer r.close()
	r.keys(":calibrate 16.5 0.03", "2")
	if len(r.boxes()) != 2 {
		t.Fatal("not side by side")
	}
	r.Mouse(Mouse{X: 100, Y: 100, Kind: Press, Button: Middle})
	r.keys("?")
	r.Mouse(Mouse{X: 100, Y: 100, Kind: Release, Button: Middle})
	r.keys("Esc")
	r.Mouse(Mouse{X: 500, Y: 100, Kind: Press, Button: Middle})
	if r.eye != 1 {
		t.Error("the press fell on the second photograph, and the first one took it")
	}
}

// TestUndoneFromWithin: who takes back the placement that he is in is told why he is somewhere else.
func TestUndoneFromWithin(t *testing.T) {
	b := bare(t)
	b.keys(":rectangle 0,0 1,1", ":select all", ":cell one")
	b.settle()
	b.keys(":select none", ":at 0.5,0.5", "}")
	b.failing("into")
	b.settle()
	b.keys("u")
	if len(b.within) != 0 || !strings.Contains(b.said.text, "taken back: make cell one; the placement of one is gone") {
		t.Errorf("%d cells deep, said: %s", len(b.within), b.said.text)
	}
	b.settle()
}

package align

import (
	"os"
	"path/filepath"
	"testing"
)

// paint covers a disc.
func (img *Image) paint(x, y, r int, tone float32) {
	for i := range img.Pix {
		if dx, dy := i%img.Width-x, i/img.Width-y; dx*dx+dy*dy < r*r {
			img.Pix[i] = tone
		}
	}
}

// TestHidden: residue on one picture of an array speaks for no place, though the map leads that moves it out of what both show. What
// both show does speak, beside residue.
func TestHidden(t *testing.T) {
	const side = 448
	truth, next := scaling(1), matrix{{1, 0, cellPitch}, {0, 1, 0}, {0, 0, 1}}
	a, b := arrayOf(1, side, false)
	for y := 64; y < side; y += 80 {
		a.paint(side-45, y, 38, 0.3)
	}
	ha, hb := newHalvings(a), newHalvings(b)
	own, other := newGrid(ha, hb, 1).learnt(next, 6), newGrid(ha, hb, 1).learnt(truth, 6)
	if by := lead(own.shares, other.shares); by < 5 {
		t.Errorf("by what is learnt from either map residue makes a lead of %.1f only", by)
	}
	if by := leadOver(ha, hb, 1, next)(candidate{m: truth}).behind; by > 2 {
		t.Errorf("by residue on a the wrong place leads by %.1f", by)
	}
	if by := leadOver(hb, ha, 1, next.inverse())(candidate{m: truth}).behind; by > 2 {
		t.Errorf("by residue on b the wrong place leads by %.1f", by)
	}
	for _, at := range [][2]int{{150, 150}, {150, 300}, {290, 225}} {
		a.paint(at[0], at[1], 50, 1)
		b.paint(at[0], at[1], 50, 0.1)
	}
	ha, hb = newHalvings(a), newHalvings(b)
	there, back := leadByBoth(ha, hb, 1, truth, next), leadByBoth(ha, hb, 1, next, truth)
	if noRival(2*there) < confidenceNeeded || back > -3 {
		t.Errorf("by what both show the right place leads by %.1f, the wrong one by %.1f", there, back)
	}
	own, other = newGrid(ha, hb, 1).learnt(truth, 6), newGrid(ha, hb, 1).learnt(next, 6)
	alone, over := lead(own.shares, other.shares), leadOver(ha, hb, 1, truth)(candidate{m: next})
	t.Logf("alone %.1f, both %.1f, lead %.1f", alone, there, over.behind)
	if noRival(alone) >= confidenceNeeded || noRival(over.behind) < confidenceNeeded || over.least > alone {
		t.Errorf("by what is learnt from either map the right place leads by %.1f, with what both show by %.1f, and by %.1f at least", alone, over.behind, over.least)
	}
}

// TestMisleading: two arrays of corpus cells, of which residue and cells that are nearly their own mirror images once made maps
// that were 230 and 1120 px off, are not laid wrong.
func TestMisleading(t *testing.T) {
	found, _ := filepath.Glob(filepath.Join(os.Getenv("UNDERMETAL_CORPUS"), "gf180mcu", "*.gds"))
	if !full || len(found) == 0 {
		t.Skip("without UNDERMETAL_FULL, or UNDERMETAL_CORPUS names no folder with gf180mcu")
	}
	for _, seed := range []uint64{21131, 21143} {
		if off, _ := outcome(t, newPair(seed, 1000), nil); off > 3 {
			t.Errorf("seed %d: accepted, and %.1f px off", seed, off)
		}
	}
}

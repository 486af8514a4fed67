package picture

import (
	"testing"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// TestNeeded: a tile that came too late for one of the workers is wanted, so that the picture is drawn again; those from between
// come first, once each, then the others from the middle outward; of what is ahead nothing is beside the photograph or twice.
func TestNeeded(t *testing.T) {
	h, pyramid := endless(t, 1<<13, 1, nil)
	p, err := newPhoto(locate(t, h, nil), pyramid, shot.NewCache(1<<20))
	if err != nil {
		t.Fatal(err)
	}
	late, there, far := &tile{up: 4}, &tile{}, &tile{up: 1}
	for i, workers := range [2][]*sampler{
		{{tiles: map[key]*tile{{0, 0}: late, {1, 0}: there, {5, 0}: far}}, {tiles: map[key]*tile{{0, 0}: there, {1, 0}: late}}},
		{{tiles: map[key]*tile{{0, 0}: there, {1, 0}: late}}, {tiles: map[key]*tile{{0, 0}: late, {1, 0}: there, {5, 0}: far}}},
	} {
		g := gather(p, 0, geom.Vec{X: 300, Y: 10}, workers)
		got := g.needed()
		want := []want{{pyramid, 2, 0, 0}, {pyramid, 0, 1, 0}, {pyramid, 0, 0, 0}, {pyramid, 0, 5, 0}}
		if len(got) != len(want) {
			t.Fatalf("order %d: %v, want %v", i, got, want)
		}
		for k := range want {
			if got[k] != want[k] {
				t.Errorf("order %d: %v, want %v", i, got, want)
			}
		}
		seen := map[any]bool{}
		for _, w := range g.ahead(1000) {
			if seen[w] || w.column < 0 || w.row < 0 || w.level < 0 || w.column >= 32>>w.level || w.row >= 32>>w.level {
				t.Errorf("ahead is %v", w)
			}
			seen[w] = true
		}
		if len(seen) < 8 || len(g.ahead(5)) != 5 {
			t.Errorf("%d tiles are ahead, and %d of 5", len(seen), len(g.ahead(5)))
		}
	}
}

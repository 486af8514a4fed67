package shot

import "testing"

// TestCacheShared: pyramids that share a cache find their own tiles in it and not each other's, and together they keep no more than
// its bound, the tiles that were used last; Cached fetches nothing.
func TestCacheShared(t *testing.T) {
	a, b := pyramidOf(t, noise(600, 600, 1, 8, 1)), pyramidOf(t, noise(600, 600, 1, 8, 2))
	const tile = TileSide * TileSide
	c := NewCache(3 * tile)
	a.Share(c)
	b.Share(c)
	if a.Cached(0, 0, 0) != nil || c.Bytes() != 0 {
		t.Fatal("a tile is there that nobody fetched")
	}
	get := func(p *Pyramid, column, row int) *Pixels {
		px, err := p.Tile(0, column, row)
		if err != nil {
			t.Fatal(err)
		}
		return px
	}
	one := get(a, 0, 0)
	if b.Cached(0, 0, 0) != nil || a.Cached(0, 0, 0) != one || string(get(b, 0, 0).Data) == string(one.Data) {
		t.Error("one pyramid finds the other's tile")
	}
	get(a, 1, 0)
	a.Cached(0, 0, 0) // uses it
	get(b, 1, 1)      // for which the one that was used first goes: b's first
	if a.Cached(0, 0, 0) != one || b.Cached(0, 0, 0) != nil || a.Cached(0, 1, 0) == nil || c.Bytes() != 3*tile {
		t.Errorf("%d bytes are kept, and not the tiles that were used last", c.Bytes())
	}
}

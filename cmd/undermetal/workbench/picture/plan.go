package picture

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// gathered is what the samplers of one photograph found in one picture.
type gathered struct {
	p      *Photo
	level  int
	middle key // the tile in the middle of the picture
	tiles  map[key]*tile
	hidden bool // nothing of it is seen now
}

// gather puts together what several samplers looked at.
func gather(p *Photo, level int, middle geom.Vec, all []*sampler) gathered {
	g := gathered{p: p, level: level, tiles: map[key]*tile{}}
	w, h := shot.LevelSize(p.pyramid.Width, p.pyramid.Height, level)
	hold := func(v float64, end int) int {
		if math.IsNaN(v) {
			return 0
		}
		return int(max(0, min(float64(end-1), v))) >> 8
	}
	g.middle = key{hold(middle.X, w), hold(middle.Y, h)}
	for _, s := range all {
		for k, t := range s.tiles {
			if has := g.tiles[k]; has == nil || t.up > has.up { // one may have come too late for some
				g.tiles[k] = t
			}
		}
	}
	return g
}

// far is how far a tile is from the middle.
func (g *gathered) far(k key) int {
	dx, dy := k.column-g.middle.column, k.row-g.middle.row
	return dx*dx + dy*dy
}

// needed returns what the picture lacks, from the middle outward. Where all that there is is much coarser, a tile from between
// comes first, which is quickly there.
func (g *gathered) needed() []want {
	const between = 2 // levels
	var coarse, fine []want
	seen := map[want]bool{}
	for _, k := range g.order() {
		t := g.tiles[k]
		if t.up == 0 {
			continue
		}
		if up := g.want(k, between); t.up > between && up.level < g.p.levels-1 && !seen[up] {
			seen[up] = true
			coarse = append(coarse, up)
		}
		fine = append(fine, g.want(k, 0))
	}
	return append(coarse, fine...)
}

// order returns the tiles from the middle outward, always in the same order.
func (g *gathered) order() []key {
	all := make([]key, 0, len(g.tiles))
	for k := range g.tiles {
		all = append(all, k)
	}
	slices.SortFunc(all, func(a, b key) int {
		return cmp.Or(cmp.Compare(g.far(a), g.far(b)), cmp.Compare(a.row, b.row), cmp.Compare(a.column, b.column))
	})
	return all
}

// want returns the tile over one of the level, so many levels up; below 0: the first of those under it.
func (g *gathered) want(k key, up int) want {
	if up < 0 {
		return want{g.p.pyramid, g.level + up, k.column << -up, k.row << -up}
	}
	return want{g.p.pyramid, g.level + up, k.column >> up, k.row >> up}
}

// ahead returns what may be seen next, at most so many tiles: those around the picture, for a pan; those over it with their
// neighbours, for a step out; those under its middle, for a step in.
func (g *gathered) ahead(most int) []want {
	var all []want
	seen := map[want]bool{}
	add := func(w want) {
		if w.level < 0 || w.level >= g.p.levels-1 || len(all) >= most || seen[w] {
			return
		}
		width, height := shot.LevelSize(g.p.pyramid.Width, g.p.pyramid.Height, w.level)
		if w.column < 0 || w.row < 0 || w.column<<8 >= width || w.row<<8 >= height {
			return
		}
		seen[w] = true
		if g.p.pyramid.Cached(w.level, w.column, w.row) == nil {
			all = append(all, w)
		}
	}
	around := [9][2]int{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, 1}, {1, -1}, {-1, -1}}
	order := g.order()
	for _, k := range order {
		for _, d := range around[1:] {
			n := key{k.column + d[0], k.row + d[1]}
			if g.tiles[n] == nil {
				add(g.want(n, 0))
			}
		}
	}
	for _, k := range order {
		up := g.want(k, 1)
		for _, d := range around {
			add(want{up.of, up.level, up.column + d[0], up.row + d[1]})
		}
	}
	for _, k := range order[:len(order)/4+min(1, len(order))] {
		down := g.want(k, -1)
		for i := range 4 {
			add(want{down.of, down.level, down.column + i%2, down.row + i/2})
		}
	}
	return all
}

// tileBytes is how much a whole tile of a photograph is.
func tileBytes(p *Photo) int {
	return shot.TileSide * shot.TileSide * p.pyramid.Channels * p.pyramid.Depth / 8
}

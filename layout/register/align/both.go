package align

import (
	"math"
	"slices"
)

// What only one picture shows, such as residue or a bond wire, must not speak for a map. It does where a map moves it out of
// what both show, in an array by a pitch: what is left goes together then, and what is learnt is not spoilt by it. So maps
// that are near to each other are compared by what is learnt from both together, and what a patch lacks under one of them
// counts as far only as that on which it lies there lacks it, too. Residue is alike nowhere, so that it lacks nothing.

// leadByBoth is by how much more both pictures say for map m than for n, in standard errors: by patches of b, and by those
// of a, as far as the others agree.
func leadByBoth(a, b halvings, k float64, m, n matrix) float64 {
	k = min(k, 32*math.Sqrt(mostPatches/float64(b[0].Width*b[0].Height)))
	ofB, ofA := newGrid(a, b, k), newGrid(b, a, min(1, k*m.stretch(float64(a[0].Width)/2, float64(a[0].Height)/2)))
	toB, toA := [2]matrix{m, n}, [2]matrix{m.inverse(), n.inverse()}
	onB, onA := ofB.shares(toB), ofA.shares(toA)
	byB, byA := ofB.agreed(onB, toA, ofA, onA), ofA.agreed(onA, toB, ofB, onB)
	return lead(byB[0], byB[1]) + lead(byA[0], byA[1])
}

// shares are what each patch has in common with the other picture under either of two maps, by what is learnt from both
// together; nothing where it is less alike than by chance.
func (g *grid) shares(maps [2]matrix) (shares [2]map[place]float64) {
	const reach = 6
	var at [2][]place
	var as, bs [2][]*window
	for i, m := range maps {
		at[i] = g.shown(m, reach, g.all())
		as[i], bs[i] = g.draw(m, reach, at[i])
	}
	var drawn []*window // those of b, each once
	for _, p := range g.all() {
		if w := g.drawn[p]; w != nil {
			drawn = append(drawn, w)
		}
	}
	classify(slices.Concat(as[:]...))
	classify(drawn)
	var n counts
	for i := range maps {
		own := count(as[i], bs[i], 0, 0, 1)
		n.add(&own)
	}
	t := n.table()
	for i, m := range maps {
		all := make([]surface, len(at[i]))
		parallel(len(all), func(j int) { all[j] = t.surfaceOf(as[i][j], bs[i][j]) })
		_, values := settle(all, g.k, m, 6, false)
		shares[i] = map[place]float64{}
		for j, v := range values {
			shares[i][at[i][j]] = max(0, v)
		}
	}
	return shares
}

// agreed leaves patches to lack under one of two maps, against the other, as much as the patch lacks that they lie on: it is
// one of another grid, which has other shares. Nothing is left where that is not shown under both maps, and it must be more
// than some part of what patches have in common: all of them may lie a little better under one map, by shading or blur.
func (g *grid) agreed(shares [2]map[place]float64, to [2]matrix, of *grid, others [2]map[place]float64) (agreed [2]map[place]float64) {
	const part = 0.25
	sum, n := 0.0, 0.0
	for _, p := range g.all() { // in their order: sums are the same to the last bit
		v, one := shares[0][p]
		if w, both := shares[1][p]; one && both {
			sum, n = sum+(v+w)/2, n+1
		}
	}
	for i := range shares {
		agreed[i] = map[place]float64{}
		for p, v := range shares[i] {
			agreed[i][p] = v
			if w, both := shares[1-i][p]; both && v < w {
				q := of.under(&to[i], g, p)
				lacks := min(w-v, others[1-i][q]-others[i][q])
				if _, shown := others[i][q]; !shown {
					lacks = 0
				}
				agreed[i][p] = w - max(0, lacks-part*sum/n)
			}
		}
	}
	return agreed
}

// under is the patch on which the middle of one of another grid lies under a map to the picture of g.
func (g *grid) under(m *matrix, of *grid, p place) place {
	x, y := of.corner(p)
	u, v := m.at((float64(x)+float64(of.side)/2)/of.k, (float64(y)+float64(of.side)/2)/of.k)
	return place{int(math.Floor((u*g.k - rim) / float64(g.side))), int(math.Floor((v*g.k - rim) / float64(g.side)))}
}

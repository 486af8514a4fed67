package align

import (
	"context"
	"math"
	"slices"
)

// The resolutions, px for one of b: at the first, candidates are about sizeOfFirst px across, at the second they are
// compared, at the finest one of the pictures has no more to tell.

func finest(a halvings, m *matrix) float64 {
	return min(1, 1/m.stretch(float64(a[0].Width)/2, float64(a[0].Height)/2))
}

func firstLevel(a, b halvings, m *matrix) float64 {
	scale := m.stretch(float64(a[0].Width)/2, float64(a[0].Height)/2)
	side := func(img *Image) float64 { return math.Sqrt(float64(img.Width) * float64(img.Height)) }
	return min(finest(a, m), sizeOfFirst/math.Sqrt(side(a[0])*scale*side(b[0])))
}

func secondLevel(a, b halvings, m *matrix) float64 {
	return min(finest(a, m), 2*firstLevel(a, b, m))
}

// settle moves m to where surfaces at a resolution are highest together, and returns what each of them says there. far is
// for maps that may be off by as much as the surfaces reach.
func settle(all []surface, k float64, m matrix, free int, far bool) (candidate, []float64) {
	if len(all) < fewest {
		return candidate{m: m, sigma: math.Inf(1)}, nil
	}
	b := top(all, free, far)
	to := m.then(scaling(k))
	from := to.inverse()
	sigma := worst(all, b, steady(covariance(all, b), b, &from)) / k
	values := make([]float64, len(all))
	for i := range all {
		values[i] = all[i].under(b)
	}
	bent := b.matrix().inverse() // what lies a step away in a belongs here
	return candidate{m: to.then(bent).then(scaling(1 / k)).whole(), score: significance(values), sigma: sigma}, values
}

// fewest is how many surfaces a map is taken from at least.
const fewest = 9

// top is the bend at which surfaces are highest together, of as many parameters as there are surfaces for.
func top(all []surface, free int, far bool) *bend {
	b := frame(all, 4)
	if far {
		vote(all, b, 0.8, 1.5)
	}
	climb(all, b)
	if free > 4 && len(all) >= 16 {
		b.loosen()
		climb(all, b)
		if free > 6 && len(all) >= 25 {
			b.free = 8
			climb(all, b)
		}
	}
	return b
}

// significance is the mean of values in its standard errors.
func significance(values []float64) float64 {
	sum, sum2, n := 0.0, 0.0, float64(len(values))
	for _, v := range values {
		sum, sum2 = sum+v, sum2+v*v
	}
	mean := sum / n
	return mean / math.Sqrt(max(1e-12, sum2/n-mean*mean)/n)
}

// sharpen moves m to where the edges in the patches of b have most in common with a.
func (l *level) sharpen(a halvings, m matrix, reach, free int, far bool) candidate {
	const side = 24 // px of a patch
	c, _ := settle(l.surfaces(a, m, side, reach), l.k, m, free, far)
	return c
}

// learnt moves m to where the classes of pixels in patches of b are likeliest under those of a.
func (g *grid) learnt(m matrix, free int) candidate {
	return g.learntOn(m, free, thin(g.all(), mostPatches))
}

// learntOn does it by some patches only.
func (g *grid) learntOn(m matrix, free int, of []place) candidate {
	const reach = 6
	at := g.shown(m, reach, of)
	as, bs := g.windows(m, reach, at)
	t := learn(as, bs)
	all := make([]surface, len(bs))
	parallel(len(bs), func(i int) { all[i] = t[i%folds].surfaceOf(as[i], bs[i]) })
	c, values := settle(all, g.k, m, free, false)
	c.shares = map[place]float64{}
	for i, v := range values {
		c.shares[at[i]] = v
	}
	return c
}

// scan moves m by the step at which the classes of pixels tell most of each other, which needs no learning before.
func (g *grid) scan(m matrix) matrix {
	const reach = 8
	as, bs := g.windows(m, reach, g.shown(m, reach, thin(g.all(), mostPatches)))
	const n = 2*reach + 1
	var shared [n * n]float64
	parallel(len(shared), func(i int) { shared[i] = count(as, bs, i%n-reach, i/n-reach, 3).shared() })
	best := n * n / 2
	for i, v := range shared {
		if v > shared[best] {
			best = i
		}
	}
	return m.then(matrix{{1, 0, -float64(best%n-reach) / g.k}, {0, 1, -float64(best/n-reach) / g.k}, {0, 0, 1}})
}

// settled learns from where the pictures lie on each other and moves the map, until it hardly moves: what is learnt favours
// the place where it was learnt, so that one step goes only part of the way.
func (g *grid) settled(ctx context.Context, c candidate) candidate {
	const enough = 1 // px
	for range 6 {
		if ctx.Err() != nil {
			break
		}
		next := g.learnt(c.m, 6)
		moved := apart(g.a[0], &next.m, &c.m)
		if c = next; !(moved > enough/g.k) {
			break
		}
	}
	return c
}

// finish sharpens a map up to the finest resolution.
func finish(ctx context.Context, a, b halvings, c candidate) candidate {
	k, until := secondLevel(a, b, &c.m), finest(a, &c.m)
	for k = min(until, 2*k); k < until; k = min(until, 2*k) {
		if ctx.Err() == nil {
			c = newGrid(a, b, k).learnt(c.m, 6)
		}
	}
	g := newGrid(a, b, until)
	return g.sharp(ctx, g.settled(ctx, c))
}

// sharp learns with perspective, twice at least: from a map that is off by part of a pixel, what is learnt is blurred, leaves
// the map off, and tells how uncertain it is there. The second derivatives of surfaces are not the same in any two steps, so
// the uncertainty is that of the last two, by the mean of their squares.
func (g *grid) sharp(ctx context.Context, c candidate) candidate {
	const most, enough = 3, 0.3 // steps, px
	before := math.Inf(1)
	for step := range most {
		if ctx.Err() != nil {
			break
		}
		next := g.learnt(c.m, 8)
		own, moved := next.sigma, apart(g.a[0], &next.m, &c.m)
		if step > 0 {
			next.sigma = math.Sqrt((before*before + own*own) / 2)
		}
		if c, before = next, own; step > 0 && moved <= enough/g.k && !math.IsInf(c.sigma, 1) {
			break
		}
	}
	return c
}

// How many candidates are kept by their edges, and by their classes.
const keptByEdges, keptByClasses = 10, 6

// sift sharpens candidates, at two resolutions, and returns the best that differ, the best one first: at first by their
// edges, which need no learning and count with what the search found, then the better ones of them by their classes.
func (s *space) sift(ctx context.Context, a, b halvings, cs []candidate) []candidate {
	levels := map[int]*level{}
	octave := func(c candidate) int { return int(math.Round(8 * math.Log2(firstLevel(a, b, &c.m)))) }
	for _, c := range cs {
		if n := octave(c); levels[n] == nil {
			levels[n] = newLevel(b, math.Exp2(float64(n)/8))
		}
	}
	step := func(most int, sharpen func(c candidate) candidate) {
		if len(cs) == 0 {
			return
		}
		near := 4 / firstLevel(a, b, &cs[0].m)
		parallel(len(cs), func(i int) {
			if ctx.Err() == nil {
				cs[i] = sharpen(cs[i])
			}
		})
		cs = slices.DeleteFunc(cs, func(c candidate) bool { return c.score <= 0 || !s.allows(&c.m) })
		cs = distinct(a[0], cs, near, most, s.merit)
	}
	step(keptByEdges, func(c candidate) candidate {
		next := levels[octave(c)].sharpen(a, c.m, 6, 6, true)
		next.score += c.score
		return next
	})
	for _, at := range []func(a, b halvings, m *matrix) float64{firstLevel, secondLevel} {
		step(keptByClasses, func(c candidate) candidate {
			g := newGrid(a, b, at(a, b, &c.m))
			c.m = g.scan(c.m)
			return g.settled(ctx, c)
		})
		cs = slices.DeleteFunc(cs, func(c candidate) bool { return c.score < cs[0].score/2 }) // cs is in order
	}
	return cs
}

package align

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// verdict is what speaks for a map.
type verdict struct {
	lead  float64   // by how much more speaks for it than for any rival, in standard errors, with what marks say of both
	rival candidate // that has the least lead
	plain float64   // the least lead by the pictures alone, whatever marks say, as the less favourable of two measures has it
	usual usual     // what pictures of two dies have in common
}

// enoughLead is a lead, in standard errors, that needs no closer look.
const enoughLead = 10

// decide takes the candidate that no rival is better than, at the finest resolution.
func (s *space) decide(ctx context.Context, a, b halvings, found []candidate, progress func(done float64)) (best candidate, v verdict) {
	const rounds = 4
	best = found[0]
	for round := range rounds {
		best = finish(ctx, a, b, best)
		v = s.judge(ctx, a, b, best, found)
		if progress(float64(round+1) / rounds); v.lead >= 0 || ctx.Err() != nil || !(v.rival.oneDie(a, &verdict{plain: enoughLead, usual: v.usual}) >= confidenceNeeded) {
			break
		}
		if round < rounds-1 {
			found = append(found, best)
			best = v.rival // it was right
		}
	}
	return best, v
}

// judge compares a map, sharp as it can be, with its rivals: others that were found, and those that differ from it by a
// shift, or lie in another way. Those that are not far behind are made as sharp, too, before they are: all of them, unless one
// is too near.
func (s *space) judge(ctx context.Context, a, b halvings, best candidate, others []candidate) verdict {
	k := secondLevel(a, b, &best.m)
	tells := func(c candidate) bool { return apart(a[0], &c.m, &best.m) >= 1.5/k && s.allows(&c.m) }
	rivals := append(s.shifted(ctx, a, b, best.m), others...)
	for _, k := range []float64{firstLevel(a, b, &best.m), k} { // what is learnt may have kept it beside the right place
		g := newGrid(a, b, k)
		rivals = append(rivals, g.settled(ctx, candidate{m: g.scan(best.m)}))
	}
	rivals = slices.DeleteFunc(rivals, func(c candidate) bool { return !tells(c) })
	v := verdict{lead: enoughLead, plain: enoughLead, usual: s.usual()}
	// race returns those that are not far behind, the nearest one first.
	race := func(k float64, all []candidate) (near []candidate) {
		leads := leadOver(a, b, k, best.m)
		parallel(len(all), func(i int) {
			if ctx.Err() == nil {
				all[i] = leads(all[i])
			}
		})
		for _, c := range all {
			switch {
			case !tells(c):
			case c.behind >= enoughLead:
				v.plain = min(v.plain, c.least)
			default:
				c.behind += usualLead * (s.unlikely(&c.m) - s.unlikely(&best.m))
				near = append(near, c)
			}
		}
		return distinct(a[0], near, 3/k, len(near), func(c *candidate) float64 { return -c.behind }) // many come to the same place
	}
	const atOnce = 4
	rivals = race(k, rivals)
	// It is not enough to look at a few: in an array more may come near.
	for first := true; len(rivals) > 0 && (first || noRival(v.lead) >= confidenceNeeded && rivals[0].behind < enoughLead); first = false {
		next := rivals[:min(atOnce, len(rivals))]
		rivals = rivals[len(next):]
		parallel(len(next), func(i int) { next[i] = finish(ctx, a, b, next[i]) })
		for _, c := range race(finest(a, &best.m), next) {
			v.plain = min(v.plain, c.least)
			if !(c.behind >= v.lead) {
				v.lead, v.rival = c.behind, c
			}
		}
	}
	for i := range rivals { // those that the marks have most against, or that need no closer look
		v.plain = min(v.plain, rivals[i].least)
	}
	return v
}

// leadOver compares a map with others at a resolution, px for one of b, and tells how far they are behind. Where what is learnt from
// each map alone decides it beyond doubt, nothing else is asked.
func leadOver(a, b halvings, k float64, best matrix) func(c candidate) candidate {
	const beyondDoubt = 3 * enoughLead
	own := newGrid(a, b, k).learnt(best, 6)
	return func(c candidate) candidate {
		c = newGrid(a, b, k).learnt(c.m, 6)
		alone := lead(own.shares, c.shares)
		both := alone
		if math.Abs(alone) < beyondDoubt {
			both = 2 * leadByBoth(a, b, k, own.m, c.m) // which tells less by the same patches
		}
		c.behind, c.least = ahead(alone, both), min(alone, both)
		return c
	}
}

// ahead is the lead that counts, of two measures of which what misleads one hardly misleads the other: by what is learnt from each map
// alone, in which what only one of the pictures shows speaks, too, and by what both say. The second one decides, unless the first
// speaks against it clearly.
func ahead(alone, both float64) float64 { return min(both, alone+enoughLead) }

// shifted are maps that differ from m by a shift, and under which the edges have most in common; of those that are turned by quarters or
// mirrored besides, the ones under which they have nearly as much as under m: cells may be their own mirror images.
func (s *space) shifted(ctx context.Context, a, b halvings, m matrix) (out []candidate) {
	k := firstLevel(a, b, &m)
	l := newLevel(b, k)
	n := length(max(l.b.width, l.b.height))
	f := newTransform(n)
	spectrum := func(field *field) []complex128 {
		v := make([]complex128, n*n)
		re, _ := field.flat()
		for i, r := range re {
			v[i/l.b.width*n+i%l.b.width] = complex(float64(r), 0)
		}
		f.forward(v)
		return v
	}
	ofB := spectrum(l.b)
	peaks := func(m matrix, least float64, most int) (found []candidate, unmoved float64) {
		common := spectrum(l.under(a, m))
		for i, v := range ofB {
			common[i] *= complex(real(v), -imag(v))
		}
		f.back(common)
		at := func(x, y int) float64 { return real(common[(y+n)%n*n+(x+n)%n]) }
		for y := -n / 2; y < n/2; y++ {
			for x := -n / 2; x < n/2; x++ {
				v := at(x, y)
				if v <= least || v < at(x, y+1) || v < at(x, y-1) || v < at(x+1, y) || v < at(x-1, y) {
					continue
				}
				next := m.then(matrix{{1, 0, -float64(x) / k}, {0, 1, -float64(y) / k}, {0, 0, 1}})
				if s.allows(&next) {
					found = append(found, candidate{m: next, score: v})
				}
			}
		}
		slices.SortFunc(found, func(p, q candidate) int { return cmp.Compare(q.score, p.score) })
		return found[:min(most, len(found))], at(0, 0)
	}
	const most, mostTurned, nearly = 12, 2, 0.5
	out, unmoved := peaks(m, 0, most+1)
	out = slices.DeleteFunc(out, func(c candidate) bool { return apart(a[0], &c.m, &m) < 2/k })
	out = out[:min(most, len(out))]
	if len(s.ways) > 1 {
		for _, turn := range s.turns(a[0]) {
			more, _ := peaks(turn.then(m), nearly*unmoved, mostTurned)
			out = append(out, more...)
		}
	}
	parallel(len(out), func(i int) {
		if ctx.Err() == nil {
			next := l.sharpen(a, out[i].m, 4, 4, false)
			g := newGrid(a, b, k)
			out[i] = g.settled(ctx, candidate{m: g.scan(next.m)})
		}
	})
	return out
}

// turns are the other seven ways in which a picture may lie, about its middle.
func (s *space) turns(img *Image) (all []matrix) {
	x, y := float64(img.Width)/2, float64(img.Height)/2
	to := matrix{{1, 0, -x}, {0, 1, -y}, {0, 0, 1}}.then(turned(-s.turnA))
	for way := 1; way < 8; way++ {
		turn := turned(float64(way%4) * math.Pi / 2)
		if way >= 4 {
			turn = matrix{{-1, 0, 0}, {0, 1, 0}, {0, 0, 1}}.then(turn)
		}
		all = append(all, to.then(turn).then(to.inverse()))
	}
	return all
}

// lead is by how much more patches have in common under one map than under another, in standard errors. A patch that only
// one of them shows counts the less the more the two have alike in common: in an array that matches itself a pitch away,
// it says nothing that there is more of it.
func lead(own, other map[place]float64) float64 {
	var differences, alone, ours, theirs []float64
	for at, v := range own {
		if w, both := other[at]; both {
			differences = append(differences, v-w)
			ours, theirs = append(ours, v), append(theirs, w)
		} else {
			alone = append(alone, v)
		}
	}
	for at, v := range other {
		if _, both := own[at]; !both {
			alone = append(alone, -v)
		}
	}
	if len(differences)+len(alone) == 0 {
		return math.Inf(-1)
	}
	total := func(v []float64) float64 { // sums do not depend on the order of a map
		slices.Sort(v)
		return floats.Sum(v)
	}
	alike := 0.0
	if u, w := total(ours), total(theirs); min(u, w) > 0 {
		alike = min(u, w) / max(u, w)
	}
	for _, v := range alone {
		differences = append(differences, (1-alike)*v)
	}
	slices.Sort(differences)
	return significance(differences)
}

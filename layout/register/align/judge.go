package align

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// verdict is what speaks for a map.
type verdict struct {
	lead  float64   // by how much more speaks for it than for any rival, in standard errors, with what marks say of both
	rival candidate // that has the least lead
	plain float64   // the least lead by the pictures alone, whatever marks say
	usual usual     // what pictures of two dies have in common
}

// enoughLead is a lead, in standard errors, that needs no closer look.
const enoughLead = 10

// decide takes the candidate that no rival is better than, at the finest resolution.
func (s *space) decide(ctx context.Context, a, b halvings, found []candidate, progress func(done float64)) (best candidate, v verdict) {
	const rounds = 3
	best = found[0]
	for round := range rounds {
		best = finish(ctx, a, b, best)
		v = s.judge(ctx, a, b, best, found)
		if progress(float64(round+1) / rounds); v.lead > 0 || ctx.Err() != nil || !(v.rival.oneDie(a, &verdict{plain: enoughLead, usual: v.usual}) >= confidenceNeeded) {
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
// shift. Those that are not far behind are made as sharp, too, before they are.
func (s *space) judge(ctx context.Context, a, b halvings, best candidate, others []candidate) verdict {
	k := secondLevel(a, b, &best.m)
	tells := func(c candidate) bool { return apart(a[0], &c.m, &best.m) >= 1.5/k && s.allows(&c.m) }
	rivals := append(s.shifted(ctx, a, b, best.m), others...)
	for _, k := range []float64{firstLevel(a, b, &best.m), k} { // what is learnt may have kept it beside the right place
		g := newGrid(a, b, k)
		rivals = append(rivals, g.settled(ctx, candidate{m: g.scan(best.m)}))
	}
	rivals = slices.DeleteFunc(rivals, func(c candidate) bool { return !tells(c) })
	v := verdict{lead: enoughLead, usual: s.usual()}
	race := func(k float64) { // the best one first, its lead is its score, turned round
		own := newGrid(a, b, k).learnt(best.m, 6)
		parallel(len(rivals), func(i int) {
			if ctx.Err() == nil {
				rivals[i] = newGrid(a, b, k).learnt(rivals[i].m, 6)
				rivals[i].score = -lead(own.shares, rivals[i].shares)
			}
		})
		rivals = slices.DeleteFunc(rivals, func(c candidate) bool { return !tells(c) || c.score <= -enoughLead })
		v.plain = enoughLead
		for i := range rivals {
			v.plain = min(v.plain, -rivals[i].score)
			rivals[i].score -= usualLead * (s.unlikely(&rivals[i].m) - s.unlikely(&best.m))
		}
		slices.SortFunc(rivals, func(p, q candidate) int { return cmp.Compare(q.score, p.score) })
	}
	race(k)
	const most = 4
	others, rivals = rivals[min(most, len(rivals)):], rivals[:min(most, len(rivals))]
	if len(rivals) > 0 {
		parallel(len(rivals), func(i int) { rivals[i] = finish(ctx, a, b, rivals[i]) })
		race(finest(a, &best.m))
	}
	for _, c := range others { // those that the marks have most against
		v.plain = min(v.plain, -c.score-usualLead*(s.unlikely(&c.m)-s.unlikely(&best.m)))
	}
	if len(rivals) > 0 {
		v.lead, v.rival = min(enoughLead, -rivals[0].score), rivals[0]
	}
	return v
}

// shifted are maps that differ from m by a shift, and under which the edges have most in common.
func (s *space) shifted(ctx context.Context, a, b halvings, m matrix) (out []candidate) {
	k := firstLevel(a, b, &m)
	l := newLevel(b, k)
	va, _ := l.under(a, m).flat()
	vb, _ := l.b.flat()
	n := length(max(l.b.width, l.b.height))
	f := newTransform(n)
	spectrum := func(re []float32) []complex128 {
		v := make([]complex128, n*n)
		for i, r := range re {
			v[i/l.b.width*n+i%l.b.width] = complex(float64(r), 0)
		}
		f.forward(v)
		return v
	}
	common := spectrum(va)
	for i, v := range spectrum(vb) {
		common[i] *= complex(real(v), -imag(v))
	}
	f.back(common)
	at := func(x, y int) float64 { return real(common[(y+n)%n*n+(x+n)%n]) }
	for y := -n / 2; y < n/2; y++ {
		for x := -n / 2; x < n/2; x++ {
			v := at(x, y)
			if v <= 0 || x*x+y*y < 4 || v < at(x, y+1) || v < at(x, y-1) || v < at(x+1, y) || v < at(x-1, y) {
				continue
			}
			next := m.then(matrix{{1, 0, -float64(x) / k}, {0, 1, -float64(y) / k}, {0, 0, 1}})
			if s.allows(&next) {
				out = append(out, candidate{m: next, score: v})
			}
		}
	}
	slices.SortFunc(out, func(p, q candidate) int { return cmp.Compare(q.score, p.score) })
	const most = 12
	out = out[:min(most, len(out))]
	parallel(len(out), func(i int) {
		next := l.sharpen(a, out[i].m, 4, 4, false)
		g := newGrid(a, b, k)
		out[i] = g.settled(ctx, candidate{m: g.scan(next.m)})
	})
	return out
}

// lead is by how much more patches have in common under one map than under another, in standard errors. A patch that only
// one of them shows counts the less the more the two have alike in common: in an array that matches itself a pitch away,
// it says nothing that there is more of it.
func lead(own, other map[place]float64) float64 {
	var differences, alone []float64
	ours, theirs := 0.0, 0.0
	for at, v := range own {
		if w, both := other[at]; both {
			differences = append(differences, v-w)
			ours, theirs = ours+v, theirs+w
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
	alike := 0.0
	if less, more := min(ours, theirs), max(ours, theirs); less > 0 {
		alike = less / more
	}
	for _, v := range alone {
		differences = append(differences, (1-alike)*v)
	}
	slices.Sort(differences) // so that the sum does not depend on the order of a map
	return significance(differences)
}

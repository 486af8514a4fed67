package align

import (
	"cmp"
	"context"
	"math"
	"math/cmplx"
	"slices"
	"sync"
)

// candidate is a map that may be it.
type candidate struct {
	m     matrix
	score float64 // what the pictures have in common under it, in units of what chance would leave
	sigma float64 // standard uncertainty at the worst corner of what both show, px of b

	shares map[place]float64 // what each patch adds to the score

	behind, least float64 // how far it is behind another map, and how far at least, by the pictures alone, in standard errors
}

// space is where a map is looked for: similarities that lay a on b upright, after both were turned as their edges say.
type space struct {
	turnA, turnB float64                 // radians by which the edges of a and b are turned
	ways         []int                   // of the eight: quarter turns, and 4 more where mirrored
	scales       []float64               // px of b for one of a
	most         int                     // candidates
	against      func(m *matrix) float64 // what marks have against a map, in nats; nil: nothing
	allowed      func(m *matrix) bool    // nil: everything is
}

// allows tells whether a map goes with the marks.
func (s *space) allows(m *matrix) bool { return s.allowed == nil || s.allowed(m) }

// unlikely is what marks have against a map.
func (s *space) unlikely(m *matrix) float64 {
	if s.against == nil {
		return 0
	}
	return s.against(m)
}

// usual is what pictures of two dies have in common under the best of the maps that are looked at.
func (s *space) usual() usual {
	if s.against == nil {
		return fromNothing
	}
	return byMarks
}

// merit is what speaks for a candidate, in standard errors, with what marks say of it.
func (s *space) merit(c *candidate) float64 { return c.score - usualLead*s.unlikely(&c.m) }

// turned turns about the origin, x to y.
func turned(angle float64) matrix {
	sin, cos := math.Sincos(angle)
	return matrix{{cos, -sin, 0}, {sin, cos, 0}, {0, 0, 1}}
}

// way is a similarity without its shift, and without the turn of b.
func (s *space) way(way int, scale float64) matrix {
	m := turned(-s.turnA)
	if way >= 4 {
		m = m.then(matrix{{-1, 0, 0}, {0, 1, 0}, {0, 0, 1}})
	}
	return m.then(turned(float64(way%4) * math.Pi / 2)).then(scaling(scale))
}

// steps are scales from low to high in steps of a ratio.
func steps(low, high, ratio float64) (all []float64) {
	n := int(math.Ceil(math.Log(high/low)/math.Log(ratio) - 1e-9))
	for i := range n + 1 {
		all = append(all, low*math.Pow(high/low, float64(i)/float64(max(1, n))))
	}
	return all
}

// search tries all ways, scales and shifts, with about sizeOfSearch px across either picture, and returns the best that
// differ.
func (s *space) search(ctx context.Context, a, b halvings, progress func(done float64)) []candidate {
	found := make([][]candidate, len(s.scales))
	var mu sync.Mutex
	done := 0
	parallel(len(s.scales), func(i int) {
		if ctx.Err() != nil {
			return
		}
		found[i] = s.tryScale(a, b, s.scales[i])
		mu.Lock()
		done++
		progress(float64(done) / float64(len(s.scales)))
		mu.Unlock()
	})
	return distinct(a[0], slices.Concat(found...), float64(b[0].Width)/sizeOfSearch*4, s.most, s.merit)
}

// upright draws a picture under a map without shift, all of it, and returns its edges and the whole map.
func upright(h halvings, m matrix) (*field, matrix) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	w, ht := float64(h[0].Width), float64(h[0].Height)
	for _, p := range [][2]float64{{0, 0}, {w, 0}, {0, ht}, {w, ht}} {
		x, y := m.at(p[0], p[1])
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	m[0][2], m[1][2] = -x0, -y0
	img, valid := h.sample(max(8, int(x1-x0)), max(8, int(y1-y0)), m.inverse())
	return newField(img, valid), m
}

// tryScale tries all ways at a scale.
func (s *space) tryScale(a, b halvings, scale float64) []candidate {
	wa, wb := float64(max(a[0].Width, a[0].Height))*scale, float64(max(b[0].Width, b[0].Height))
	k := min(1, 1/scale, sizeOfSearch/math.Sqrt(wa*wb)) // px of the search for one of b
	fb, mb := upright(b, turned(-s.turnB).then(scaling(k)))
	vb, validB := fb.flat()
	sin, cos := math.Sincos(s.turnA)
	sideA, sideB := int(wa*k*(math.Abs(sin)+math.Abs(cos)))+2, max(fb.width, fb.height)
	n := length(max(sideA, sideB))
	f := newTransform(n)
	load := func(f *field, re []float32, unit complex128, to []complex128) { // what sticks out comes in on the other side
		for y := range f.height {
			row := to[y%n*n:][:n]
			for x, v := range re[y*f.width:][:f.width] {
				if x >= n {
					x %= n
				}
				row[x] += complex(float64(v)*real(unit), float64(v)*imag(unit))
			}
		}
	}
	spectrum := make([]complex128, n*n)
	load(fb, vb, 1, spectrum)
	f.forward(spectrum)
	energyB := energy(vb) / sum(validB)
	for i, v := range spectrum {
		spectrum[i] = cmplx.Conj(v)
	}
	whiten(spectrum, n)
	backB := mb.inverse()
	work := make([]complex128, n*n)
	var found []candidate
	for i := 0; i < len(s.ways); i += 2 {
		type one struct {
			f      *field
			m      matrix
			v      []float32
			energy float64
		}
		pair := make([]one, min(2, len(s.ways)-i))
		for j := range pair {
			m := s.way(s.ways[i+j], scale).then(scaling(k))
			p := &pair[j]
			p.f, p.m = upright(a, m)
			var valid []float32
			p.v, valid = p.f.flat()
			p.energy = energy(p.v) / sum(valid)
		}
		clear(work)
		for j, p := range pair { // one as the real part, the other as the imaginary one
			load(p.f, p.v, []complex128{1, 1i}[j], work)
		}
		f.forward(work)
		for i, v := range spectrum {
			work[i] *= v
		}
		f.back(work)
		for j := range pair {
			p := &pair[j]
			value := func(i int) float64 {
				if j == 1 {
					return imag(work[i])
				}
				return real(work[i])
			}
			found = append(found, s.peaks(p.f, p.m, fb, backB, n, value, 1/(float64(n)*float64(n)*math.Sqrt(p.energy*energyB)))...)
		}
	}
	return found
}

// peaks finds the shifts at which two fields have most in common for their overlap; value is that at a shift of a by
// (−x, −y) in a world that closes on itself after n px, so that a peak stands for up to four shifts.
func (s *space) peaks(fa *field, ma matrix, fb *field, backB matrix, n int, value func(i int) float64, unit float64) (found []candidate) {
	const keep = 8
	overlaps := func(a, b int) []float64 { // what they share at each shift, and that n less
		o := make([]float64, n)
		for d := range o {
			o[d] = max(0, float64(min(b, a-d))) + max(0, float64(min(b, a-d+n)-(n-d)))
		}
		return o
	}
	across, down := overlaps(fa.width, fb.width), overlaps(fa.height, fb.height)
	least := 0.12 * float64(min(fa.width*fa.height, fb.width*fb.height))
	scores := make([]float64, n*n)
	root := func(overlaps []float64) (roots []float64) {
		for _, o := range overlaps {
			roots = append(roots, 1/math.Sqrt(max(1, o)))
		}
		return roots
	}
	perColumn, perRow := root(across), root(down)
	for y, high := range down {
		for x, wide := range across {
			if wide*high >= least {
				scores[y*n+x] = max(0, value(y*n+x)) * (unit * perRow[y] * perColumn[x])
			}
		}
	}
	for y := range n {
		up, low := (y+n-1)%n*n, (y+1)%n*n
		for x := range n {
			v := scores[y*n+x]
			if v <= 0 || len(found) >= keep && v <= found[keep-1].score || v < scores[up+x] || v < scores[low+x] || v < scores[y*n+(x+1)%n] || v < scores[y*n+(x+n-1)%n] {
				continue
			}
			for _, dx := range []int{x, x - n} {
				for _, dy := range []int{y, y - n} {
					ox, oy := min(fb.width, fa.width-dx)-max(0, -dx), min(fb.height, fa.height-dy)-max(0, -dy)
					if ox < 12 || oy < 12 || float64(ox)*float64(oy) < least {
						continue
					}
					m := ma
					m[0][2], m[1][2] = ma[0][2]-float64(dx), ma[1][2]-float64(dy)
					m = m.then(backB)
					if s.allows(&m) {
						found = append(found, candidate{m: m, score: v * math.Sqrt(float64(ox*oy)/(across[x]*down[y]))})
					}
				}
			}
			slices.SortFunc(found, func(p, q candidate) int { return cmp.Compare(q.score, p.score) })
			found = found[:min(keep, len(found))]
		}
	}
	return found
}

func energy(v []float32) (e float64) {
	for _, x := range v {
		e += float64(x) * float64(x)
	}
	return e
}

func sum(v []float32) (s float64) {
	for _, x := range v {
		s += float64(x)
	}
	return s
}

// distinct returns the best candidates, those of most merit, that lie a distance apart at some corner of a picture, the best one first.
func distinct(img *Image, all []candidate, distance float64, most int, merit func(c *candidate) float64) (best []candidate) {
	slices.SortFunc(all, func(p, q candidate) int { return cmp.Compare(merit(&q), merit(&p)) })
	for _, c := range all {
		if len(best) == most {
			break
		}
		if !slices.ContainsFunc(best, func(o candidate) bool { return apart(img, &c.m, &o.m) < distance }) {
			best = append(best, c)
		}
	}
	return best
}

// apart is how far two maps move a corner of a picture apart.
func apart(img *Image, m, n *matrix) float64 {
	worst := 0.0
	for _, x := range []float64{0, float64(img.Width)} {
		for _, y := range []float64{0, float64(img.Height)} {
			mx, my := m.at(x, y)
			nx, ny := n.at(x, y)
			worst = max(worst, math.Hypot(mx-nx, my-ny))
		}
	}
	return worst
}

package align

import (
	"context"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// What is learnt favours the place where it was learnt. Where all patches show the same, as in an array, they may agree
// about whatever they lie on for some pixels around: then a map stays where it is put, and how sharp the surfaces are that
// were learnt there does not tell how sure it is.

// views are patches of both pictures under a map, and how it may be bent.
type views struct {
	as, bs []*window // as are wider by reach on each side
	reach  int
	at     *bend // where the surfaces that are learnt there are highest
}

// surfaces are those of the views by what is learnt where learntAt puts them.
func (v *views) surfaces(learntAt *bend) []surface {
	under := make([]*window, len(v.as))
	for i, b := range v.bs {
		dx, dy := learntAt.step(float64(b.x)+float64(b.w)/2, float64(b.y)+float64(b.h)/2)
		under[i] = v.as[i].part(v.within(dx), v.within(dy), b.w)
	}
	t := learn(under, v.bs)
	all := make([]surface, len(v.bs))
	parallel(len(all), func(i int) { all[i] = t[i%folds].surfaceOf(v.as[i], v.bs[i]) })
	return all
}

// within is the nearest whole step that a window has room for.
func (v *views) within(d float64) int {
	return int(math.Round(max(-float64(v.reach), min(float64(v.reach), d))))
}

// part is the middle of a window of classes, side px wide, moved by a step.
func (w *window) part(dx, dy, side int) *window {
	margin := (w.w - side) / 2
	p := &window{x: w.x + margin + dx, y: w.y + margin + dy, w: side, h: side, classes: make([]uint8, 0, side*side)}
	for y := range side {
		at := (margin+dy+y)*w.w + margin + dx
		p.classes = append(p.classes, w.classes[at:at+side]...)
	}
	return p
}

// enoughViews is how many patches tell by how much learning follows a map; more would hardly tell it better.
const enoughViews = 240

// some are about enoughViews of the patches that g has under m, evenly.
func (g *grid) some(m matrix, reach int) []place {
	return thin(g.shown(m, reach, g.all()), enoughViews)
}

// newViews are of some patches under m; nil where there are too few for an affine map.
func (g *grid) newViews(m matrix) *views {
	v := &views{reach: 6}
	at := g.some(m, v.reach)
	if len(at) < 16 {
		return nil
	}
	v.as, v.bs = g.windows(m, v.reach, at)
	v.at = top(v.surfaces(&bend{unit: 1}), 6, false)
	return v
}

// favour is by how much the top of the surfaces goes along with the place where they are learnt, of how far that is moved: a
// column for each parameter that is moved, a row for each that follows. 0: what is learnt does not matter; 1: nothing but
// that tells the place.
func (v *views) favour(ctx context.Context) *mat.Dense {
	const step = 2 // px at the usual distance from the middle
	j := mat.NewDense(v.at.free, v.at.free, nil)
	for p := range v.at.free {
		var tops [2]bend
		for i, sign := range []float64{1, -1} {
			moved := *v.at
			moved.p[p] += sign * step / v.at.unit
			if tops[i] = *v.at; ctx.Err() != nil {
				return j // whatever it is
			}
			climb(v.surfaces(&moved), &tops[i])
		}
		for i := range v.at.free {
			j.Set(i, p, (tops[0].p[i]-tops[1].p[i])*v.at.unit/(2*step))
		}
	}
	return j
}

// follows is the bend that learning follows most, and by how much.
func follows(favour *mat.Dense) (p []float64, by float64) {
	var eigen mat.Eigen
	if !eigen.Factorize(favour, mat.EigenRight) {
		return nil, 0
	}
	var vectors mat.CDense
	eigen.VectorsTo(&vectors)
	by = math.Inf(-1)
	for j, v := range eigen.Values(nil) {
		if real(v) <= by {
			continue
		}
		by, p = real(v), p[:0]
		phase := complex128(1) // of a pair of complex ones, what is real where it is largest
		largest := 0.0
		for i := range favour.RawMatrix().Rows {
			if z := vectors.At(i, j); cmplx.Abs(z) > largest {
				largest, phase = cmplx.Abs(z), z
			}
		}
		for i := range favour.RawMatrix().Rows {
			p = append(p, real(vectors.At(i, j)/phase))
		}
	}
	return p, by
}

// beside is the standard uncertainty of a map at the worst corner, px of b, by what lies beside it: maps that learning
// follows to, and stays at; 0 where there are none. If what speaks for a map falls with the square of the distance, one that
// is d away is led by d/(2·sigma) standard errors, so that sigma is d/2 for each of these; where there are hardly any, d.
func (g *grid) beside(ctx context.Context, m matrix) (sigma float64) {
	v := g.newViews(m)
	if v == nil {
		return 0
	}
	p, by := follows(v.favour(ctx))
	if !(by >= 0.5) { // where it stays on one side, and comes back on the other, it follows by as much on the average
		return 0
	}
	const start = 3 // px at the worst corner
	own := g.learnt(m, 6)
	for _, sign := range []float64{1, -1} {
		b := *v.at
		b.p = [8]float64{}
		copy(b.p[:], p)
		size := sign * start / v.farthest(b.step)
		for i := range b.p {
			b.p[i] *= size
		}
		to := scaling(g.k)
		other := g.settled(ctx, candidate{m: m.then(to).then(b.matrix()).then(to.inverse())})
		between := to.inverse().then(own.m.inverse()).then(other.m).then(to)
		away := v.farthest(func(x, y float64) (dx, dy float64) {
			bx, by := between.at(x, y)
			return bx - x, by - y
		}) / g.k
		sigma = max(sigma, away/max(1, 2*lead(own.shares, other.shares)))
	}
	return sigma
}

// farthest is the largest of steps at the corners of what the views cover.
func (v *views) farthest(step func(x, y float64) (dx, dy float64)) (far float64) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, b := range v.bs {
		x, y := float64(b.x)+float64(b.w)/2, float64(b.y)+float64(b.h)/2
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x), max(y1, y)
	}
	for _, x := range []float64{x0, x1} {
		for _, y := range []float64{y0, y1} {
			far = max(far, math.Hypot(step(x, y)))
		}
	}
	return far
}

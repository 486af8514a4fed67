package check

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// stripCount returns into how many strips a sweep is cut: so that some 12 shapes lie across each, if they lie evenly, and no
// fewer than 500 in each. In wide strips an event moves all that crosses them.
func stripCount(shapes int, box geom.Rect) int {
	pitch := math.Sqrt(float64(box.Width()+1) * float64(box.Height()+1) / float64(shapes+1))
	return min(int(float64(box.Width())/(12*pitch)), shapes/500) + 1
}

// rim is a stretch of a strip's border with the regions inside and their nodes.
type rim struct {
	y0, y1  float64
	regions uint64
	nodes   []int32
}

// touching keeps what of an interval reaches the borders of the strip.
func (t *tracer) touching(iv *sweep.Interval, s *span, y int) {
	if s.regions == 0 {
		return
	}
	for side, x := range [2]float64{t.clip.X0, t.clip.X1} {
		y0, y1, ok := touches(iv, x, int(iv.Y0), y)
		if !ok {
			continue
		}
		r := rim{y0: y0, y1: y1, regions: s.regions}
		for m := s.regions; m != 0; m &= m - 1 {
			r.nodes = append(r.nodes, s.nodes[bits.TrailingZeros64(m)])
		}
		if side == 0 {
			t.left = append(t.left, r)
		} else {
			t.right = append(t.right, r)
		}
	}
}

// touches returns the range of height at which an interval reaches the upright line at x.
func touches(iv *sweep.Interval, x float64, y0, y1 int) (lo, hi float64, ok bool) {
	lo, hi = float64(y0), float64(y1)
	limit := func(l sweep.Line, beyond func(at float64) bool) {
		b0, b1 := beyond(l.At(y0)), beyond(l.At(y1))
		switch {
		case b0 && b1:
			hi = lo
		case b0:
			lo = max(lo, l.YAt(int(x)))
		case b1:
			hi = min(hi, l.YAt(int(x)))
		}
	}
	limit(iv.L, func(at float64) bool { return at > x })
	limit(iv.R, func(at float64) bool { return at < x })
	return lo, hi, hi > lo
}

// touchNm is the length above which a common border counts; those that really overlap do so by far more.
const touchNm = 1e-6

// stitch joins what lies on both sides of the border at x between two strips, and collects the borders that lie on it: a sweep
// tells of none at the ends of its strip.
func (t *tracer) stitch(left, right []rim, x int) {
	byHeight := func(a, b rim) int { return cmp.Compare(a.y0, b.y0) }
	slices.SortFunc(left, byHeight)
	slices.SortFunc(right, byHeight)
	var a, b span
	sweep.Facing(left, right, func(r *rim) (y0, y1 float64) { return r.y0, r.y1 }, func(l, r *rim, y0, y1 float64) {
		if y1-y0 <= touchNm || l.regions|r.regions == 0 {
			return
		}
		l.unpack(&a)
		r.unpack(&b)
		t.meet(&a, &b)
		lo, hi := geom.Point{X: x, Y: int(math.Round(y0))}, geom.Point{X: x, Y: int(math.Round(y1))} // on the grid, as all borders end
		if lo != hi {
			t.edge(&a, &b, lo, hi)
			t.edge(&b, &a, hi, lo)
		}
	})
}

func (r *rim) unpack(s *span) {
	s.regions = r.regions
	k := 0
	for m := r.regions; m != 0; m &= m - 1 {
		s.nodes[bits.TrailingZeros64(m)] = r.nodes[k]
		k++
	}
}

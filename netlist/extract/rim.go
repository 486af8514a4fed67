package extract

import (
	"math"
	"math/bits"

	"undermetal/layout/sweep"
)

// rim is a stretch of a strip's border, with what lies inside. Where that is nothing, there is no rim.
type rim struct {
	y0, y1        float64
	mask, regions uint64
	first         int32 // the index, in rims.nodes, of the node of its first region; those of the others follow
}

// rims are those of one of a strip's borders.
type rims struct {
	list  []rim
	nodes []node
}

func (r *rims) of(m rim) []node { return r.nodes[m.first:][:bits.OnesCount64(m.regions)] }

func (r *rims) reset() { r.list, r.nodes = r.list[:0], r.nodes[:0] }

// unpack puts what lies inside of a rim into s.
func (r *rims) unpack(m rim, s *side) {
	s.mask, s.regions = m.mask, m.regions
	for regions, i := m.regions, m.first; regions != 0; regions &= regions - 1 {
		s.nodes[bits.TrailingZeros64(regions)] = r.nodes[i]
		i++
	}
}

// touching keeps what of an interval touches the strip's borders.
func (c *collector) touching(iv *sweep.Interval, y int) {
	if iv.Mask == 0 || float64(min(iv.L.X0, iv.L.X1)) > c.clip.X0 && float64(max(iv.R.X0, iv.R.X1)) < c.clip.X1 {
		return // as most do, at a glance
	}
	if y0, y1, ok := touches(iv, c.clip.X0, int(iv.Y0), y); ok {
		c.left.add(c.settle(iv), y0, y1)
	}
	if y0, y1, ok := touches(iv, c.clip.X1, int(iv.Y0), y); ok {
		c.right.add(c.settle(iv), y0, y1)
	}
}

func (r *rims) add(s *side, y0, y1 float64) {
	r.list = append(r.list, rim{y0, y1, s.mask, s.regions, int32(len(r.nodes))})
	for m := s.regions; m != 0; m &= m - 1 {
		r.nodes = append(r.nodes, s.nodes[bits.TrailingZeros64(m)])
	}
}

// touches returns the range of height at which an interval reaches the upright line at x.
func touches(iv *sweep.Interval, x float64, y0, y1 int) (lo, hi float64, ok bool) {
	lo, hi = float64(y0), float64(y1)
	if float64(min(iv.L.X0, iv.L.X1)) > x || float64(max(iv.R.X0, iv.R.X1)) < x {
		return lo, lo, false
	}
	limit := func(l sweep.Line, beyond func(at float64) bool) {
		if l.Vertical() {
			if beyond(float64(l.X0)) {
				hi = lo
			}
			return
		}
		b0, b1 := beyond(l.At(y0)), beyond(l.At(y1))
		switch {
		case b0 && b1:
			hi = lo
		case b0:
			lo = math.Max(lo, l.YAt(int(x)))
		case b1:
			hi = math.Min(hi, l.YAt(int(x)))
		}
	}
	limit(iv.L, func(at float64) bool { return at > x })
	limit(iv.R, func(at float64) bool { return at < x })
	return lo, hi, hi > lo
}

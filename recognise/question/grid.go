package question

import (
	"math"

	"undermetal/layout/geom"
)

// grid finds boxes by place: bins of one size, and a list of what would fill too many of them.
type grid struct {
	size  int                // nm, the side of a bin
	bins  map[uint64][]int32 // by binKey
	large []int32
}

// mostBins is how many bins a box may fill.
const mostBins = 64

func newGrid(size int) *grid { return &grid{size: size, bins: map[uint64][]int32{}} }

func (g *grid) bin(p geom.Point) [2]int {
	return [2]int{int(math.Floor(float64(p.X) / float64(g.size))), int(math.Floor(float64(p.Y) / float64(g.size)))}
}

// binKey makes one number of a bin's, which a map finds sooner than two. Both have 32 bits, since the frame has 31.
func binKey(x, y int) uint64 { return uint64(uint32(x))<<32 | uint64(uint32(y)) }

func (g *grid) add(k int32, box geom.Rect) {
	lo, hi := g.bin(box.Min), g.bin(box.Max)
	if (hi[0]-lo[0]+1)*(hi[1]-lo[1]+1) > mostBins {
		g.large = append(g.large, k)
		return
	}
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			b := binKey(x, y)
			g.bins[b] = append(g.bins[b], k)
		}
	}
}

// near calls yield for what may overlap a box, until it returns false; some twice.
func (g *grid) near(box geom.Rect, yield func(k int32) bool) {
	for _, k := range g.large {
		if !yield(k) {
			return
		}
	}
	lo, hi := g.bin(box.Min), g.bin(box.Max)
	if (hi[0]-lo[0]+1)*(hi[1]-lo[1]+1) > len(g.bins) { // fewer bins are there than asked for; their order does not matter to those who ask
		for key, ks := range g.bins {
			b := [2]int{int(int32(key >> 32)), int(int32(key))}
			if b[0] < lo[0] || b[0] > hi[0] || b[1] < lo[1] || b[1] > hi[1] {
				continue
			}
			for _, k := range ks {
				if !yield(k) {
					return
				}
			}
		}
		return
	}
	for x := lo[0]; x <= hi[0]; x++ {
		for y := lo[1]; y <= hi[1]; y++ {
			for _, k := range g.bins[binKey(x, y)] {
				if !yield(k) {
					return
				}
			}
		}
	}
}

// likes finds neighbours of the same size.
type likes struct {
	of map[uint64]*grid // by size, in steps, as binKey
}

// sizeStep is how far apart sizes of likes may be, as a part: 2 %.
const sizeStep = 0.02

// alike reports whether two lengths are the same, as far as a tracing tells.
func alike(a, b float64) bool { return math.Abs(a-b) <= sizeStep*max(math.Abs(a), math.Abs(b))+1e-9 }

func step(x float64) int {
	if x <= 0 {
		return math.MinInt32
	}
	return int(math.Floor(math.Log(x) / math.Log1p(sizeStep)))
}

func (l *likes) add(k int32, a, b float64, box geom.Rect, reach int) {
	key := binKey(step(a), step(b))
	g := l.of[key]
	if g == nil {
		g = newGrid(max(reach, 1))
		l.of[key] = g
	}
	g.add(k, box)
}

// near calls yield for what may have the size and overlap the box, until it returns false.
func (l *likes) near(a, b float64, box geom.Rect, yield func(k int32) bool) {
	more, sa, sb := true, step(a), step(b)
	for da := -1; da <= 1 && more; da++ {
		for db := -1; db <= 1 && more; db++ {
			if g := l.of[binKey(sa+da, sb+db)]; g != nil {
				g.near(box, func(k int32) bool {
					more = yield(k)
					return more
				})
			}
		}
	}
}

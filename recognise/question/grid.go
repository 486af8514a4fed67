package question

import (
	"math"

	"undermetal/layout/geom"
)

// grid finds boxes by place: bins of one size, and a list of what would fill too many of them. All are added before any is looked for: what is
// added later makes all bins anew.
type grid struct {
	size    int // nm, the side of a bin
	large   []int32
	entries []entry

	// Made by the first who looks: the bins of entries, column by column, those of bin i being in[first[i]:first[i+1]], or where these would be
	// nearly all empty a map by binKey.
	made          bool
	x0, y0        int
	columns, rows int
	first, in     []int32
	bins          map[uint64][]int32
}

// entry is a box in the bins that it fills.
type entry struct{ k, x0, y0, x1, y1 int32 }

// mostBins is how many bins a box may fill; emptyBins is how many bins are kept for each that is filled, and fewBins how many always.
const (
	mostBins  = 64
	emptyBins = 16
	fewBins   = 1024
)

func newGrid(size int) *grid { return &grid{size: size} }

func (g *grid) bin(p geom.Point) [2]int {
	return [2]int{floorDiv(p.X, g.size), floorDiv(p.Y, g.size)}
}

func floorDiv(a, b int) int {
	if a < 0 {
		return -((-a + b - 1) / b)
	}
	return a / b
}

// binKey makes one number of a bin's, which a map finds sooner than two. Both have 32 bits, since the frame has 31.
func binKey(x, y int) uint64 { return uint64(uint32(x))<<32 | uint64(uint32(y)) }

func (g *grid) add(k int32, box geom.Rect) {
	lo, hi := g.bin(box.Min), g.bin(box.Max)
	if (hi[0]-lo[0]+1)*(hi[1]-lo[1]+1) > mostBins {
		g.large = append(g.large, k)
		return
	}
	g.made = false
	g.entries = append(g.entries, entry{k, int32(lo[0]), int32(lo[1]), int32(hi[0]), int32(hi[1])})
}

// build makes the bins.
func (g *grid) build() {
	g.made, g.columns, g.rows, g.first, g.in, g.bins = true, 0, 0, nil, nil, nil
	if len(g.entries) == 0 {
		return
	}
	e := g.entries[0]
	x0, y0, x1, y1, filled := e.x0, e.y0, e.x1, e.y1, 0
	for _, e := range g.entries {
		x0, y0, x1, y1 = min(x0, e.x0), min(y0, e.y0), max(x1, e.x1), max(y1, e.y1)
		filled += int(e.x1-e.x0+1) * int(e.y1-e.y0+1)
	}
	g.x0, g.y0, g.columns, g.rows = int(x0), int(y0), int(x1)-int(x0)+1, int(y1)-int(y0)+1
	if g.columns*g.rows > emptyBins*filled+fewBins {
		g.bins = make(map[uint64][]int32, filled)
		g.fill(func(k int32, x, y int) {
			b := binKey(x, y)
			g.bins[b] = append(g.bins[b], k)
		})
		return
	}
	g.first, g.in = make([]int32, g.columns*g.rows+2), make([]int32, filled)
	next := g.first[1:] // where the next of a bin goes, in the end where those of the one after it begin
	g.fill(func(_ int32, x, y int) { next[g.at(x, y)+1]++ })
	for i := 1; i < len(next); i++ {
		next[i] += next[i-1]
	}
	g.fill(func(k int32, x, y int) {
		n := &next[g.at(x, y)]
		g.in[*n] = k
		*n++
	})
}

// at returns the number of a bin within the box of all.
func (g *grid) at(x, y int) int { return (x-g.x0)*g.rows + y - g.y0 }

func (g *grid) fill(visit func(k int32, x, y int)) {
	for _, e := range g.entries {
		for x := int(e.x0); x <= int(e.x1); x++ {
			for y := int(e.y0); y <= int(e.y1); y++ {
				visit(e.k, x, y)
			}
		}
	}
}

// near calls yield for what may overlap a box, until it returns false; some twice.
func (g *grid) near(box geom.Rect, yield func(k int32) bool) {
	if !g.made {
		g.build()
	}
	for _, k := range g.large {
		if !yield(k) {
			return
		}
	}
	lo, hi := g.bin(box.Min), g.bin(box.Max)
	x0, y0, x1, y1 := max(lo[0], g.x0), max(lo[1], g.y0), min(hi[0], g.x0+g.columns-1), min(hi[1], g.y0+g.rows-1)
	if g.bins != nil && x0 <= x1 && y0 <= y1 && (x1-x0+1)*(y1-y0+1) > len(g.entries) { // fewer are there than bins asked for
		for i := range g.entries {
			if e := &g.entries[i]; int(e.x0) <= x1 && int(e.x1) >= x0 && int(e.y0) <= y1 && int(e.y1) >= y0 && !yield(e.k) {
				return
			}
		}
		return
	}
	for x := x0; x <= x1; x++ {
		if g.bins == nil && y0 <= y1 { // a column is in one piece
			for _, k := range g.in[g.first[g.at(x, y0)]:g.first[g.at(x, y1)+1]] {
				if !yield(k) {
					return
				}
			}
			continue
		}
		for y := y0; y <= y1; y++ {
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

func newLikes() *likes { return &likes{of: map[uint64]*grid{}} }

// sizeStep is how far apart sizes of likes may be, as a part: 2 %.
const sizeStep = 0.02

// alike reports whether two lengths are the same, as far as a tracing tells.
func alike(a, b float64) bool { return math.Abs(a-b) <= sizeStep*max(math.Abs(a), math.Abs(b))+1e-9 }

var oneStep = math.Log1p(sizeStep)

func step(x float64) int {
	if x <= 0 {
		return math.MinInt32
	}
	return int(math.Floor(math.Log(x) / oneStep))
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

package mask

import (
	"cmp"
	"math"
	"math/bits"
	"slices"

	"undermetal/layout/geom"
)

// Grid says where the pixels of a mask lie in the frame: square ones, NmPerPx wide. Left and Top are the outer corner of
// the top left pixel, in nm; rows go downward.
type Grid struct {
	Left, Top     float64
	NmPerPx       float64
	Width, Height int
}

// Around returns the grid of so many nm a pixel that holds a box, with the box's upper left corner at a pixel's.
func Around(box geom.Rect, nmPerPx float64) Grid {
	g := Grid{NmPerPx: nmPerPx}
	if !box.Empty() {
		g.Left, g.Top = float64(box.Min.X), float64(box.Max.Y)
		g.Width, g.Height = sides(float64(box.Width())/nmPerPx), sides(float64(box.Height())/nmPerPx)
	}
	return g
}

// sides returns how many whole pixels hold a length, at most far beyond what can be written.
func sides(pixels float64) int { return int(min(max(math.Ceil(pixels-1e-9), 1), 1<<40)) }

// fineness is how many units a nanometre has here. Centres of pixels are rounded to them, once for all shapes; from then
// on everything is whole numbers, so that two shapes that share an edge agree on what lies on which side of it. Over the
// frame a coordinate takes 41 bits.
const fineness = 1 << 10

func (g *Grid) centreX(i int) int {
	return geom.RoundHalfUp((g.Left + g.NmPerPx*(float64(i)+0.5)) * fineness)
}

func (g *Grid) centreY(row int) int {
	return geom.RoundHalfUp((g.Top - g.NmPerPx*(float64(row)+0.5)) * fineness)
}

// column returns the first column whose centre is not left of x, at most Width.
func (g *Grid) column(x int) int {
	i := int(min(max((float64(x)/fineness-g.Left)/g.NmPerPx-0.5, 0), float64(g.Width)))
	for i > 0 && g.centreX(i-1) >= x {
		i--
	}
	for i < g.Width && g.centreX(i) < x {
		i++
	}
	return i
}

// rowsOf returns the rows whose centres lie from y0 up to below y1, in units.
func (g *Grid) rowsOf(y0, y1 int) (first, end int) {
	first = int(min(max((g.Top-float64(y1)/fineness)/g.NmPerPx-0.5, 0), float64(g.Height)))
	for first > 0 && g.centreY(first-1) < y1 {
		first--
	}
	for first < g.Height && g.centreY(first) >= y1 {
		first++
	}
	for end = int(min(max((g.Top-float64(y0)/fineness)/g.NmPerPx-0.5, float64(first)), float64(g.Height))); end > first && g.centreY(end-1) < y0; {
		end--
	}
	for end < g.Height && g.centreY(end) >= y0 {
		end++
	}
	return first, max(first, end)
}

// band is some rows of a mask that are being painted, one byte a pixel.
type band struct {
	grid       *Grid
	first, end int // rows
	pixels     []byte
	crossings  [][]crossing // by row
	hidden     int          // pixels that had another value before
}

// crossing is where an edge crosses the middle of a row.
type crossing struct {
	x    int // in units, rounded up: what is not left of the edge has no smaller x
	wind int // +1 for an edge that goes down
}

// paint gives a value to the pixels whose centres a polygon covers by non-zero winding. A centre on an edge belongs to what
// lies right of it, or above it where the edge is level.
func (b *band) paint(pg geom.Polygon, value byte) {
	low, high := b.end, b.first // rows that are crossed
	for _, r := range pg {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			wind := 1
			if p.Y < q.Y {
				p, q, wind = q, p, -1
			}
			if p.Y == q.Y {
				continue
			}
			from, to := b.grid.rowsOf(q.Y*fineness, p.Y*fineness)
			from, to = max(from, b.first), min(to, b.end)
			for row := from; row < to; row++ {
				k := row - b.first
				b.crossings[k] = append(b.crossings[k], crossing{crossAt(q, p, b.grid.centreY(row)), wind})
			}
			if from < to {
				low, high = min(low, from), max(high, to)
			}
		}
	}
	for row := low; row < high; row++ {
		b.row(row, value)
	}
}

// row paints what lies between the crossings of a row, and forgets them.
func (b *band) row(row int, value byte) {
	list := b.crossings[row-b.first]
	slices.SortFunc(list, func(a, c crossing) int { return cmp.Compare(a.x, c.x) })
	wind, from := 0, 0
	line := b.pixels[(row-b.first)*b.grid.Width:][:b.grid.Width]
	for _, c := range list {
		before := wind
		wind += c.wind
		switch {
		case before == 0:
			from = c.x
		case wind == 0 && c.x > from:
			covered := line[b.grid.column(from):b.grid.column(c.x)]
			for i, v := range covered {
				if v != value && v != 0 {
					b.hidden++
				}
				covered[i] = value
			}
		}
	}
	b.crossings[row-b.first] = list[:0]
}

// crossAt returns the x, in units and rounded up, at which the edge from a up to b is at height y, in units. Exact: the
// product is formed in 128 bits.
func crossAt(a, b geom.Point, y int) int {
	dx, dy, up := (b.X-a.X)*fineness, (b.Y-a.Y)*fineness, y-a.Y*fineness // 0 ≤ up < dy < 2^42
	if dx == 0 {
		return a.X * fineness
	}
	size := uint64(max(dx, -dx))
	hi, lo := bits.Mul64(size, uint64(up))
	q, rest := bits.Div64(hi, lo, uint64(dy))
	if dx < 0 {
		return a.X*fineness - int(q) // what is left over moves it to the left, and up is to the right
	}
	if rest > 0 {
		q++
	}
	return a.X*fineness + int(q)
}

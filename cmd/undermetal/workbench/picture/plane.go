package picture

import (
	"cmp"
	"image"
	"math"
	"slices"

	"undermetal/layout/shot"
)

// plane knows of every px which layers cover its centre, and which have an outline there.
type plane struct {
	width, height int
	covers        []uint64
	outlines      []uint64
	spans         []span // of each row, the part where something is
	wide          uint64 // the layers whose outlines are two px wide
	edges         []edge
	open          []edge
	crossings     []crossing
}

// span is from one px to before another; empty where from is not less.
type span struct{ from, to int }

// edge is a side of a polygon that crosses rows.
type edge struct {
	from, to int     // the rows whose middles it crosses, the last not
	x, slope float64 // where it crosses the first, and how far it goes a row
	sense    int
}

type crossing struct {
	x     float64
	sense int
}

// reset makes a plane of a size empty.
func (p *plane) reset(width, height int) {
	if p.width != width || p.height != height {
		*p = plane{width: width, height: height, covers: make([]uint64, width*height), outlines: make([]uint64, width*height), spans: make([]span, height), edges: p.edges, open: p.open}
		return
	}
	for y, s := range p.spans {
		if s.from < s.to {
			clear(p.covers[y*width+s.from : y*width+s.to])
			clear(p.outlines[y*width+s.from : y*width+s.to])
		}
		p.spans[y] = span{}
	}
}

// touch takes note that something is in a row.
func (p *plane) touch(y, from, to int) {
	s := &p.spans[y]
	if s.from >= s.to {
		*s = span{from, to}
		return
	}
	s.from, s.to = min(s.from, from), max(s.to, to)
}

// block covers all px that a box lies on, one at least.
func (p *plane) block(x0, y0, x1, y1 float64, mask uint64) {
	left, top := max(0, int(math.Floor(x0))), max(0, int(math.Floor(y0)))
	right, bottom := min(p.width, max(int(math.Ceil(x1)), left+1)), min(p.height, max(int(math.Ceil(y1)), top+1))
	if left >= right {
		return
	}
	for y := top; y < bottom; y++ {
		p.touch(y, left, right)
		for i := y*p.width + left; i < y*p.width+right; i++ {
			p.covers[i] |= mask
		}
	}
}

// fill covers the px whose centres a polygon covers, by non-zero winding. Points are in px; rings says where each ring ends.
func (p *plane) fill(points []pair, rings []int, mask uint64) {
	p.edges = p.edges[:0]
	from := 0
	for _, to := range rings {
		for i := from; i < to; i++ {
			a, b, sense := points[i], points[i], 1
			if i+1 < to {
				b = points[i+1]
			} else {
				b = points[from]
			}
			if a.y > b.y {
				a, b, sense = b, a, -1
			}
			// The rows whose middles lie in [a.y, b.y).
			first, last := math.Ceil(a.y-0.5), math.Ceil(b.y-0.5)
			if first = max(first, 0); !(first < min(last, float64(p.height))) {
				continue
			}
			slope := (b.x - a.x) / (b.y - a.y)
			p.edges = append(p.edges, edge{int(first), int(min(last, float64(p.height))), a.x + (first+0.5-a.y)*slope, slope, sense})
		}
		from = to
	}
	if len(p.edges) < 2 {
		return
	}
	slices.SortFunc(p.edges, func(a, b edge) int { return cmp.Compare(a.from, b.from) })
	p.open = p.open[:0]
	next := 0
	for y := p.edges[0].from; next < len(p.edges) || len(p.open) > 0; y++ {
		for ; next < len(p.edges) && p.edges[next].from == y; next++ {
			p.open = append(p.open, p.edges[next])
		}
		p.crossings = p.crossings[:0]
		kept := p.open[:0]
		for _, e := range p.open {
			if e.to <= y {
				continue
			}
			p.crossings = append(p.crossings, crossing{e.x + float64(y-e.from)*e.slope, e.sense})
			kept = append(kept, e)
		}
		p.open = kept
		p.row(y, mask)
	}
}

// row covers what winds between the crossings of a row.
func (p *plane) row(y int, mask uint64) {
	c := p.crossings
	for i := 1; i < len(c); i++ { // few, and nearly in order
		for k := i; k > 0 && c[k].x < c[k-1].x; k-- {
			c[k], c[k-1] = c[k-1], c[k]
		}
	}
	winding := 0
	for i := range len(c) - 1 {
		if winding += c[i].sense; winding == 0 {
			continue
		}
		// The px whose centres lie in [c[i].x, c[i+1].x).
		from := int(max(0, min(float64(p.width), math.Ceil(c[i].x-0.5))))
		to := int(max(0, min(float64(p.width), math.Ceil(c[i+1].x-0.5))))
		if from < to {
			p.touch(y, from, to)
			row := p.covers[y*p.width+from : y*p.width+to]
			for k := range row {
				row[k] |= mask
			}
		}
	}
}

// line outlines: it marks the px that a line passes.
func (p *plane) line(x0, y0, x1, y1 float64, mask uint64) {
	t0, t1, ok := shot.ClipLine(image.Rect(0, 0, p.width, p.height), x0, y0, x1, y1)
	if !ok {
		return
	}
	dx, dy := x1-x0, y1-y0
	x0, y0, x1, y1 = x0+t0*dx, y0+t0*dy, x0+t1*dx, y0+t1*dy
	n := math.Ceil(max(math.Abs(x1-x0), math.Abs(y1-y0)))
	if n == 0 {
		n = 1
	}
	dx, dy = (x1-x0)/n, (y1-y0)/n
	wide := mask&p.wide != 0
	for i := range int(n) + 1 {
		x, y := int(x0+float64(i)*dx), int(y0+float64(i)*dy)
		p.mark(x, y, mask)
		if wide { // to the right and below
			p.mark(min(x+1, p.width-1), y, mask)
			p.mark(x, min(y+1, p.height-1), mask)
		}
	}
}

func (p *plane) mark(x, y int, mask uint64) {
	if x < 0 || y < 0 || x >= p.width || y >= p.height {
		return
	}
	p.touch(y, x, x+1)
	p.outlines[y*p.width+x] |= mask
}

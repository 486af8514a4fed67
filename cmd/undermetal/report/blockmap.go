package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// inks are the colours of blocks by turns: those of Okabe and Ito's set that show on white (M. Okabe, K. Ito, "Color Universal Design",
// 2008). Each block also has its number, and its status the stroke, so that nothing hangs on the colour.
var inks = []string{"#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9"}

var strokes = map[string]string{Supposed: ` stroke-dasharray="9 5"`, Contradicted: ` stroke-dasharray="2 5"`}

// drawing draws the map in its plane. Blocks are numbered from 1 in their order; what lies nowhere is left out. Empty: there is
// nothing to draw.
func (m *BlockMap) drawing() string {
	if !(m.Width > 0 && m.Height > 0) {
		return ""
	}
	const width = 800.0
	x0, y0, x1, y1 := m.bounds()
	k := width / (x1 - x0)
	left, top, high := x0*k, y0*k, (y1-y0)*k
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%.0f" viewBox="%.1f %.1f %.0f %.1f" font-family="sans-serif" font-size="22" font-weight="bold" text-anchor="middle">`, width, high, left, top, width, high)
	fmt.Fprintf(&b, `<rect x="%.1f" y="%.1f" width="%.0f" height="%.1f" fill="#fff"/>`, left, top, width, high)
	if d := path(m.Die, k); d != "" {
		fmt.Fprintf(&b, `<path d="%s" fill="#f2f2f2" stroke="#555" stroke-width="1.5"/>`, d)
	}
	if m.Beyond() {
		fmt.Fprintf(&b, `<rect x="0" y="0" width="%.1f" height="%.1f" fill="none" stroke="#888" stroke-width="1"/>`, m.Width*k, m.Height*k)
	}
	any := false
	for i, x := range m.Blocks {
		d := path(x.Rings, k)
		if d == "" {
			continue
		}
		any = true
		ink := inks[i%len(inks)]
		fmt.Fprintf(&b, `<path d="%s" fill="%s" fill-opacity="0.28" fill-rule="evenodd" stroke="%s" stroke-width="2.5"%s/>`, d, ink, ink, strokes[x.Status])
	}
	for i, x := range m.Blocks { // over all of them
		if path(x.Rings, k) == "" {
			continue
		}
		for _, r := range x.Rings {
			if at, ok := inside(x.Rings, r); ok {
				fmt.Fprintf(&b, `<text x="%.1f" y="%.1f" dominant-baseline="central" fill="#000" stroke="#fff" stroke-width="5" paint-order="stroke">%d</text>`, at[0]*k, at[1]*k, i+1)
			}
		}
	}
	b.WriteString(`</svg>`)
	if !any && len(m.Die) == 0 {
		return ""
	}
	return b.String()
}

// bounds are those of what the drawing shows: the plane, and all blocks where they lie beyond it.
func (m *BlockMap) bounds() (x0, y0, x1, y1 float64) {
	x1, y1 = m.Width, m.Height
	for _, b := range m.Blocks {
		if path(b.Rings, 1) == "" {
			continue
		}
		for _, r := range b.Rings {
			for _, p := range r {
				x0, y0, x1, y1 = min(x0, p[0]), min(y0, p[1]), max(x1, p[0]), max(y1, p[1])
			}
		}
	}
	if x0 < 0 || y0 < 0 || x1 > m.Width || y1 > m.Height {
		margin := max(x1-x0, y1-y0) / 80
		x0, y0, x1, y1 = x0-margin, y0-margin, x1+margin, y1+margin
	}
	return x0, y0, x1, y1
}

// Beyond reports whether blocks lie outside of the plane: the drawing shows it with an outline then, and all blocks around it.
func (m *BlockMap) Beyond() bool {
	x0, y0, x1, y1 := m.bounds()
	return x0 < 0 || y0 < 0 || x1 > m.Width || y1 > m.Height
}

// path is rings as path data; empty where there are none, or a place is no number.
func path(rings [][][2]float64, k float64) string {
	var b strings.Builder
	for _, r := range rings {
		for i, p := range r {
			x, y := p[0]*k, p[1]*k
			if !(math.Abs(x) < 1e7 && math.Abs(y) < 1e7) {
				return ""
			}
			fmt.Fprintf(&b, "%c%.2f %.2f", "ML"[min(i, 1)], x, y)
		}
		if len(r) > 0 {
			b.WriteByte('Z')
		}
	}
	return b.String()
}

// inside returns a place for the number of the piece with the outer ring r, none where r is a hole: the middle of the longest
// stretch of a line across it that is filled by the even-odd rule, of five lines.
func inside(rings [][][2]float64, r [][2]float64) (at [2]float64, ok bool) {
	if depth(rings, r)%2 == 1 {
		return at, false
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, p := range r {
		lo, hi = math.Min(lo, p[1]), math.Max(hi, p[1])
	}
	best := 0.0
	for _, t := range []float64{0.5, 0.3, 0.7, 0.15, 0.85} {
		y := lo + (hi-lo)*t
		all, own := crossings(rings, y), crossings([][][2]float64{r}, y)
		for i := 0; i+1 < len(all); i += 2 {
			mid := (all[i] + all[i+1]) / 2
			n := 0
			for _, x := range own {
				if x < mid {
					n++
				}
			}
			if wide := all[i+1] - all[i]; n%2 == 1 && wide > best*1.25 { // the middle line is preferred
				best, at, ok = wide, [2]float64{mid, y}, true
			}
		}
	}
	return at, ok
}

// depth is how many of the rings a ring lies in.
func depth(rings [][][2]float64, r [][2]float64) (n int) {
	if len(r) == 0 {
		return 1
	}
	for _, o := range rings {
		if len(o) == 0 || &o[0] == &r[0] {
			continue
		}
		k := 0
		for _, x := range crossings([][][2]float64{o}, r[0][1]+1e-7) {
			if x < r[0][0] {
				k++
			}
		}
		n += k % 2
	}
	return n
}

// crossings are where rings cross a level line, from left to right.
func crossings(rings [][][2]float64, y float64) (xs []float64) {
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			if (p[1] > y) != (q[1] > y) {
				xs = append(xs, p[0]+(y-p[1])/(q[1]-p[1])*(q[0]-p[0]))
			}
		}
	}
	slices.Sort(xs)
	return xs
}

package svg

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"unicode/utf8"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// fontSize is that of all letters, which are scaled: browsers round letters that are smaller than a unit to whole ones.
const fontSize = 16

// labels writes the labels of a cell, dark with a light rim, so that they can be read over everything.
func (w *writer) labels(c *layout.Cell) {
	if len(c.Labels) == 0 {
		return
	}
	heights := letterHeights(c.Labels, w.size)
	of := make([][]int, len(w.lib.Layers))
	for i := range c.Labels {
		of[c.Labels[i].Layer] = append(of[c.Labels[i].Layer], i)
	}
	w.text(`<g data-labels="" fill="#1a1a1a" stroke="#ffffff" stroke-width="3" stroke-linejoin="round" paint-order="stroke">` + "\n")
	for l, name := range w.lib.Layers {
		if len(of[l]) == 0 {
			continue
		}
		w.printf("<g data-layer=\"%s\">\n", escaped(name))
		for _, i := range of[l] {
			t := &c.Labels[i]
			w.printf("<text transform=\"translate(%s %s) scale(%s)\" xml:space=\"preserve\">%s</text>\n", w.um(t.At.X), w.um(-t.At.Y), w.um(heights[i]/fontSize+1), escaped(t.Text))
		}
		w.text("</g>\n")
	}
	w.text("</g>\n")
}

// The room that a text takes, in heights of its letters: common practice for sans-serif type, and some air.
const (
	lineHeight  = 1.1
	letterWidth = 0.62
)

// smallest is the part of the wanted height below which letters do not go, however near another label is.
const smallest = 1.0 / 16

// letterHeights returns how high the letters of labels are, in nm: most, or so much less that no two texts lie over each
// other, which begin at their places and go to the right. Labels at one place are not told apart, and have one height.
//
// A text of full height reaches over the next row of labels at most, and so far to the right; only what is there is looked at,
// and no more of it once the height is the smallest. Time n log n.
func letterHeights(labels []layout.Label, most int) []int {
	letters := make(map[geom.Point]float64, len(labels)) // of the longest text at a place
	for i := range labels {
		l := &labels[i]
		letters[l.At] = max(letters[l.At], float64(utf8.RuneCountInString(l.Text))+0.5)
	}
	row := int(math.Ceil(lineHeight*float64(most))) + 1
	order := slices.SortedFunc(maps.Keys(letters), func(p, q geom.Point) int {
		return cmp.Or(cmp.Compare(floorDiv(p.Y, row), floorDiv(q.Y, row)), cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y))
	})
	least := max(int(float64(most)*smallest), 0)
	height := make(map[geom.Point]int, len(order))
	for _, p := range order {
		height[p] = most
	}
	for _, p := range order {
		for _, r := range [3]int{0, 1, -1} {
			line := floorDiv(p.Y, row) + r
			k, _ := slices.BinarySearchFunc(order, p.X, func(q geom.Point, x int) int {
				return cmp.Or(cmp.Compare(floorDiv(q.Y, row), line), cmp.Compare(q.X, x))
			})
			for ; k < len(order) && floorDiv(order[k].Y, row) == line && height[p] > least; k++ {
				q := order[k]
				if float64(q.X-p.X) >= letterWidth*letters[p]*float64(most) {
					break
				}
				if q != p {
					h := max(geom.RoundHalfUp(room(p, q, letters[p])), least)
					height[p], height[q] = min(height[p], h), min(height[q], h)
				}
			}
		}
	}
	heights := make([]int, len(labels))
	for i := range labels {
		heights[i] = height[labels[i].At]
	}
	return heights
}

// floorDiv is a/b, rounded down.
func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// room returns the height of letters at which a text of so many at p and one at q, no further left, just do not lie over each
// other.
func room(p, q geom.Point, letters float64) float64 {
	return max(float64(max(p.Y-q.Y, q.Y-p.Y))/lineHeight, float64(q.X-p.X)/(letterWidth*letters))
}

package svg

import (
	"cmp"
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
// other, which begin at their places and go to the right. Labels at one place are not told apart.
func letterHeights(labels []layout.Label, most int) []int {
	heights := make([]int, len(labels))
	order := make([]int, len(labels))
	for i := range labels {
		heights[i], order[i] = most, i
	}
	slices.SortFunc(order, func(a, b int) int {
		p, q := labels[a].At, labels[b].At
		return cmp.Or(cmp.Compare(p.Y, q.Y), cmp.Compare(p.X, q.X))
	})
	least := int(float64(most) * smallest)
	for k, i := range order {
		for _, j := range order[k+1:] {
			if float64(labels[j].At.Y-labels[i].At.Y) >= lineHeight*float64(most) || heights[i] <= least {
				break
			}
			h := max(geom.RoundHalfUp(room(&labels[i], &labels[j])), least)
			if labels[i].At != labels[j].At {
				heights[i], heights[j] = min(heights[i], h), min(heights[j], h)
			}
		}
	}
	return heights
}

// room returns the height of letters at which two texts just do not lie over each other.
func room(a, b *layout.Label) float64 {
	apart := func(p, q int) float64 { return float64(max(p-q, q-p)) }
	if b.At.X < a.At.X {
		a, b = b, a
	}
	letters := float64(utf8.RuneCountInString(a.Text)) + 0.5
	return max(apart(a.At.Y, b.At.Y)/lineHeight, apart(a.At.X, b.At.X)/(letterWidth*letters))
}

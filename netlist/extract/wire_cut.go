package extract

import (
	"fmt"
	"math"
	"slices"

	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
)

// mostSteps is how often the ends of a wire are made longer.
const mostSteps = 64

// cut cuts a wire at its two ends. What lies less than the wire's width from a contact is its end. Where that is not all of a pad
// that is wider, the border goes around the contact, much longer than the body is wide: then the end becomes longer, in steps of half
// of that width, until it is not. Where pads have made the wire look wider than its body is, an end that is none becomes shorter.
func (f *wireFinder) cut(wire geom.Polygon) *wireCut {
	on := f.contactsOn(wire)
	if len(on) < 2 {
		return &wireCut{why: fmt.Sprintf("the wire has %d contacts; a resistor has one at either end", len(on))}
	}
	margins := make([]int, len(on))
	for i := range margins {
		margins[i] = margin(wire)
	}
	first, ends := cutAt(wire, on, margins)
	for c, step := first, 0; c.why == "" && step < mostSteps; step++ {
		wide := c.wideEnds(wire, ends)
		if len(wide) == 0 {
			return c.shortened(wire, on, margins, ends)
		}
		for i, pg := range on {
			if slices.ContainsFunc(wide, func(end geom.Polygon) bool { return meet(pg, end) }) {
				margins[i] += max(1, margin(c.body[0])/2)
			}
		}
		c, ends = cutAt(wire, on, margins)
	}
	return first
}

// uncrossed returns a cut whose body makes no channel with anything: else it would fall into several resistors, and the transistors between
// these would have neither source nor drain.
func (f *wireFinder) uncrossed(c *wireCut) *wireCut {
	best := geom.Point{}
	on := -1
	for _, body := range c.body {
		box := body.Bounds()
		f.acrossIn.near(box, func(i int) {
			if !touch(f.across[i].Bounds(), box) {
				return
			}
			_, inside := polygons.Cut(body, f.across[i])
			for _, pg := range inside {
				if p := lowestCorner(pg); on < 0 || p.Y < best.Y || p.Y == best.Y && (p.X < best.X || p.X == best.X && f.acrossOn[i] < f.acrossOn[on]) {
					best, on = p, i
				}
			}
		})
	}
	if on < 0 {
		return c
	}
	return &wireCut{why: fmt.Sprintf("%s crosses the wire at (%s, %s) µm: what makes a transistor with it lies between its contacts; a resistor is one piece", f.st.Layers[f.acrossOn[on]].Name,
		geom.AppendUm(nil, best.X), geom.AppendUm(nil, best.Y))}
}

// cutFuse cuts a wire where it is a neck between two ends, else at its contacts.
func (f *wireFinder) cutFuse(wire geom.Polygon) *wireCut {
	if n, ok := neckIn(wire); ok {
		return &wireCut{body: n.pieces(wire)}
	}
	return f.cut(wire)
}

func margin(pg geom.Polygon) int { return int(math.Ceil(wireWidth(pg) - 1e-6)) } // but for rounding errors

// wideEnds returns the ends whose border with the body is longer than that is wide.
func (c *wireCut) wideEnds(wire geom.Polygon, ends []geom.Polygon) (wide []geom.Polygon) {
	width := wireWidth(c.body[0])
	if bordersOf(wire, c.body[0], ends) <= 2.5*width { // one end is as wide as that, so that none is wider than 1.5
		return nil
	}
	for _, end := range ends {
		if borderOf(wire, end) > 1.5*width {
			wide = append(wide, end)
		}
	}
	return wide
}

// shortened returns the cut with ends that reach no further than the body is wide, where that leaves none wide.
func (c *wireCut) shortened(wire geom.Polygon, on []geom.Polygon, margins []int, ends []geom.Polygon) *wireCut {
	for _, end := range ends {
		less, changed := slices.Clone(margins), false
		for i, pg := range on {
			if w := margin(c.body[0]); 10*w < 9*margins[i] && meet(pg, end) {
				less[i], changed = w, true
			}
		}
		if !changed {
			continue
		}
		if d, now := cutAt(wire, on, less); d.why == "" && 10*margin(d.body[0]) < 11*margin(c.body[0]) && len(d.wideEnds(wire, now)) == 0 {
			c, margins = d, less
		}
	}
	return c
}

func (f *wireFinder) contactsOn(wire geom.Polygon) []geom.Polygon {
	var numbers []int
	box := wire.Bounds()
	f.contactsIn.near(box, func(i int) { numbers = append(numbers, i) })
	slices.Sort(numbers)
	var on []geom.Polygon
	for _, i := range slices.Compact(numbers) {
		if c := f.contacts[i]; touch(c.Bounds(), box) && meet(c, wire) {
			on = append(on, c)
		}
	}
	return on
}

func meet(a, b geom.Polygon) bool {
	_, inside := polygons.Cut(a, b)
	return len(inside) > 0
}

// cutAt cuts a wire at margins around the boxes of its contacts, and tells its ends.
func cutAt(wire geom.Polygon, on []geom.Polygon, margins []int) (c *wireCut, ends []geom.Polygon) {
	var around []geom.Polygon
	for i, pg := range on {
		b, m := pg.Bounds(), margins[i]
		around = append(around, geom.Polygon{geom.Box(b.Min.X-m, b.Min.Y-m, b.Max.X+m, b.Max.Y+m).Ring()})
	}
	body, near := polygons.Cut(wire, around...)
	for _, pg := range near {
		if slices.ContainsFunc(on, func(c geom.Polygon) bool { return meet(c, pg) }) {
			ends = append(ends, pg)
		} else {
			body = append(body, pg) // another stretch of the wire that passes by
		}
	}
	if len(ends) != 2 {
		return &wireCut{why: fmt.Sprintf("the wire has contacts in %d places; a resistor has two ends", len(ends))}, nil
	}
	whole := polygons.Union(body...)
	if len(whole) != 1 {
		return &wireCut{why: fmt.Sprintf("between its contacts the wire falls into %d pieces; a resistor is one", len(whole))}, nil
	}
	return &wireCut{body: polygons.Polygons(whole)}, ends
}

// bordersOf returns the length in nm of the borders of a wire's body with its ends.
func bordersOf(wire, body geom.Polygon, ends []geom.Polygon) float64 {
	_, whole := measures(wire)
	_, sum := measures(body)
	for _, pg := range ends {
		_, p := measures(pg)
		sum += p
	}
	return (sum - whole) / 2
}

// borderOf is that of one end.
func borderOf(wire, end geom.Polygon) float64 {
	rest, _ := polygons.Cut(wire, end)
	return bordersOf(wire, end, rest)
}

// measures returns a polygon's area in nm² and its perimeter in nm.
func measures(pg geom.Polygon) (area, perimeter float64) {
	for _, r := range pg {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			area += (float64(a.X)*float64(b.Y) - float64(b.X)*float64(a.Y)) / 2
			perimeter += math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))
		}
	}
	return math.Abs(area), perimeter
}

// wireWidth returns the width in nm of the strip that has a polygon's area and perimeter: the smaller root of
// x² − (perimeter/2)·x + area, or the side of the square of that area for what is rounder.
func wireWidth(pg geom.Polygon) float64 {
	area, perimeter := measures(pg)
	d := perimeter*perimeter/4 - 4*area
	if d <= 0 {
		return math.Sqrt(area)
	}
	return (perimeter/2 - math.Sqrt(d)) / 2
}

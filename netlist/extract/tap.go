package extract

import (
	"math"
	"slices"
)

// narrowNm is the width in nm under which the part of a diffusion that a tap rule marks is taken for a misdrawn edge.
const narrowNm = 10

// tie is a tap: the net it is on and the well below it.
type tie struct {
	tap, net, well node // well 0: the substrate
}

// joinTaps joins wells and substrate to the nets that tap them, unless that would short two labelled nets.
func (j *joiner) joinTaps() {
	byWell := map[node][]tie{}
	var wells []node
	j.ties = j.taps()
	for _, t := range j.ties {
		w := j.wellRoot(t.well)
		if byWell[w] == nil {
			wells = append(wells, w)
		}
		byWell[w] = append(byWell[w], t)
	}
	slices.SortFunc(wells, func(a, b node) int { return j.byPlace(a, b) })
	j.softTies = map[node][]tie{}
	for _, w := range wells {
		ties := byWell[w]
		names := j.disjoint(w, ties)
		if len(names) > 1 {
			j.softTies[w] = ties
			what := "the substrate"
			if w != j.substrate {
				what = j.layerOf(w)
			}
			j.warn("soft-tie", ties[0].tap, "taps tie %s to %s; they stay separate nets, each device's bulk is that of the nearest tap",
				what, listNames(names))
			continue
		}
		for _, t := range ties {
			j.unionNamed(w, t.net)
		}
	}
}

func (j *joiner) wellRoot(w node) node {
	if w == 0 {
		return j.substrate
	}
	return j.root[w]
}

// taps returns the ties in the order of place, without those that are too narrow to be drawn on purpose.
func (j *joiner) taps() []tie {
	var ties []tie
	for root, covers := range j.covered {
		if j.regionKind(root) != tap {
			continue
		}
		t := tie{tap: root}
		var ok bool
		t.net, t.well, ok = j.below(covers)
		if !ok {
			j.warnTapOnResistor(root, covers)
			continue
		}
		if w := j.width(root); w < narrowNm-touchNm {
			j.warn("narrow-tap", root, "a tap's conditions hold on a strip of %s only %.0f nm wide; taken for a misdrawn edge", j.layerOf(root), w)
			continue
		}
		ties = append(ties, t)
	}
	slices.SortFunc(ties, func(a, b tie) int { return j.byPlace(a.tap, b.tap) })
	return ties
}

// warnTapOnResistor warns of a tap that lies in a resistor's body instead of a well.
func (j *joiner) warnTapOnResistor(root node, covers []cover) {
	p := &j.pieces[root]
	g := j.plan.groups[p.group]
	l, isWell := j.plan.st.Taps[g.regions[p.region].rule].Ties.Well()
	if isWell && g.bodyOf[l] >= 0 && slices.ContainsFunc(covers, func(c cover) bool { return c.mask>>l&1 != 0 }) {
		j.warn("contact-on-resistor", root, "a tap lies on the body of a resistor of %s; it ties nothing there", j.plan.st.Layers[l].Name)
	}
}

// disjoint returns a name of each set of labelled nets, among a well and those that tie it, that share no name with the
// others. Where there are several, taps would short them.
func (j *joiner) disjoint(w node, ties []tie) []string {
	var labelled [][]string
	seen := map[node]bool{}
	add := func(n node) {
		if root := j.find(n); !seen[root] && j.names[root] != nil && len(j.names[root].own) > 0 {
			seen[root] = true
			labelled = append(labelled, j.names[root].own)
		}
	}
	add(w)
	for _, t := range ties {
		add(t.net)
	}
	var sets [][]string
	for _, names := range labelled {
		merged := slices.Clone(names)
		sets = slices.DeleteFunc(sets, func(s []string) bool {
			shared := slices.ContainsFunc(s, func(n string) bool { return slices.Contains(merged, n) })
			if shared {
				merged = append(merged, s...)
			}
			return shared
		})
		sets = append(sets, merged)
	}
	var first []string
	for _, s := range sets {
		first = append(first, slices.MinFunc(s, naturalOrder))
	}
	return first
}

// largest returns the region with the largest area, the first by place of several; 0 if there are none, or if it is the
// substrate's.
func (j *joiner) largest(area map[node]float64) node {
	total, best, in := 0.0, -1.0, node(0)
	for _, a := range area {
		total += a
	}
	for n, a := range area {
		if s := share(a, total); s > best || s == best && j.byPlace(n, in) < 0 {
			best, in = s, n
		}
	}
	return in
}

// below returns the diffusion of a tap or diode and the well that most of it lies in, the first by place of several; 0
// is the substrate. ok is false where nothing of it lies where it should.
func (j *joiner) below(covers []cover) (body, in node, ok bool) {
	area := map[node]float64{}
	total := 0.0
	for _, c := range covers {
		if c.area == 0 {
			body = j.root[c.on]
		} else {
			area[j.root[c.on]] += c.area
			total += c.area
		}
	}
	in = j.largest(area)
	return body, in, body != 0 && total > 0
}

// width returns the width in nm of the rectangle that has the area and the perimeter of a region, the square's side
// where the region is rounder than that. For a strip this is its width, however it bends.
func (j *joiner) width(n node) float64 {
	p := &j.pieces[n]
	half := p.perimeter / 2
	d := half*half - 4*p.area // the sides w are the roots of w² - half·w + area
	if d < 0 {
		return math.Sqrt(p.area)
	}
	return (half - math.Sqrt(d)) / 2
}

package extract

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// The kinds of verdict that extraction knows, with the readings that they may have.
const (
	transistorOrCapacitor = "transistor-or-capacitor" // capacitor, transistor, dummy
	polarity              = "polarity"                // n, p
	bulkVerdict           = "bulk"                    // the name of a net
	photodiode            = "photodiode"              // photodiode, diode, junction
	nearMiss              = "near-miss"               // joined, apart
	contactVerdict        = "contact"                 // lands on LAYER; joins, joins-not: nothing changes
	wireOrResistor        = "wire-or-resistor"        // wire, resistor

	// Of these an answer only ends the question.
	floatingGate    = "floating-gate"
	suppliesShorted = "supplies-shorted"
	softTie         = "soft-tie"
	outOfFamily     = "out-of-family"
	asymmetry       = "asymmetry"
)

const (
	besideNm = 500  // a verdict whose place holds nothing of its kind any more is taken for the nearest of these up to here
	missNm   = 2000 // how far from the place both sides of a near miss may be
)

// UsedVerdict is a verdict in one of its places, and what became of it.
type UsedVerdict struct {
	layout.Verdict
	Cell    string     // that it belongs to
	Path    string     // of the instance, empty for the top cell
	At      geom.Point // in the frame; of a verdict whose cell is gone as it was in that
	Devices []int      // of the circuit: those that it decided, ascending
	Lost    bool       // nothing of its kind is at its place
	Unused  bool       // it cannot be followed; a warning says why
}

// placedVerdict is a verdict on its way.
type placedVerdict struct {
	UsedVerdict
	nodes []node // the root of what it is about; of a near miss both sides
	parts []int  // by part.id

	leading bool // it is of Options.Leading
}

// sortVerdicts puts verdicts in the order of place.
func sortVerdicts(all []placedVerdict) {
	slices.SortStableFunc(all, func(a, b placedVerdict) int {
		return cmp.Or(cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X), cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.Path, b.Path),
			cmp.Compare(a.Reading, b.Reading))
	})
}

// lookFor makes the plan keep what verdicts are about: where that lies which near misses are looked for between, and where contacts
// lie, of which those would be dropped that have no choice.
func (p *plan) lookFor(all []placedVerdict) {
	for i := range all {
		l := all[i].Layer
		switch g := p.groupOf[l]; {
		case all[i].Kind == nearMiss && g != nil:
			g.boxed |= 1 << g.regionOf[l]
		case all[i].Kind == contactVerdict:
			for _, g := range p.groups {
				for k := range g.regions {
					r := &g.regions[k]
					if r.kind == plug && r.layer == l {
						r.direct = false
						g.boxed |= 1 << k
					}
				}
			}
		}
	}
}

// suits says how well a region suits a verdict: 0 not at all, less is better.
func (j *joiner) suits(v *placedVerdict, root node) int {
	k, l := j.regionKind(root), j.layer(root)
	switch v.Kind {
	case transistorOrCapacitor, polarity:
		if k == channel && (l == v.Layer || j.plan.groups[0].diffusions>>v.Layer&1 != 0) {
			return 1
		}
	case bulkVerdict:
		return 1 + slices.Index([]kind{channel, junction, well}, k)
	case photodiode:
		if k == junction && l == v.Layer {
			return 1
		}
	case contactVerdict:
		if k == plug && l == v.Layer {
			return 1
		}
	case nearMiss:
		if (k == conductor || k == junction) && l == v.Layer {
			return 1
		}
	}
	return 0
}

// locateVerdicts finds what each verdict is about: the region at its place, or the nearest one within besideNm, since edges
// move a little when a photograph is registered anew. Of a near miss it is the two nearest.
func (j *joiner) locateVerdicts() {
	if len(j.verdicts) == 0 {
		return
	}
	for _, f := range j.found {
		k := int(f.probe) - j.firstVerdict
		if k < 0 || k >= len(j.verdicts) {
			continue
		}
		v, root := &j.verdicts[k], j.root[f.node]
		s := j.suits(v, root)
		if s == 0 || v.Kind == nearMiss || j.bare.of(&v.UsedVerdict) != nil {
			continue
		}
		if len(v.nodes) == 0 {
			v.nodes = []node{root}
		} else if t := j.suits(v, v.nodes[0]); s < t || s == t && j.byPlace(root, v.nodes[0]) < 0 {
			v.nodes[0] = root
		}
	}
	j.locateNear()
	j.noteContacts()
	for i := range j.verdicts {
		j.verdicts[i].Lost = true // until it is used
	}
}

// locateNear looks for what lies near the places of verdicts that lie on nothing.
func (j *joiner) locateNear() {
	type near struct {
		root node
		dist int // nm², of the square of the distance
	}
	var open []int
	for i := range j.verdicts {
		if v := &j.verdicts[i]; len(v.nodes) == 0 && j.bare.of(&v.UsedVerdict) == nil {
			open = append(open, i)
		}
	}
	if len(open) == 0 {
		return
	}
	slices.SortStableFunc(open, func(a, b int) int { return cmp.Compare(j.verdicts[a].At.X, j.verdicts[b].At.X) })
	found := map[int][]near{}
	for root, boxes := range j.boxed {
		for _, b := range boxes {
			at, _ := slices.BinarySearchFunc(open, int(b.x0)-missNm, func(i, x int) int { return cmp.Compare(j.verdicts[i].At.X, x) })
			for ; at < len(open) && j.verdicts[open[at]].At.X <= int(b.x1)+missNm; at++ {
				v := &j.verdicts[open[at]]
				dx := max(0, int(b.x0)-v.At.X, v.At.X-int(b.x1))
				dy := max(0, int(b.y0)-v.At.Y, v.At.Y-int(b.y1))
				far := besideNm
				if v.Kind == nearMiss {
					far = missNm
				}
				if dx > far || dy > far || dx*dx+dy*dy > far*far || j.suits(v, root) == 0 || v.Kind == bulkVerdict && j.regionKind(root) == well {
					continue
				}
				list := found[open[at]]
				if k := slices.IndexFunc(list, func(n near) bool { return n.root == root }); k >= 0 {
					list[k].dist = min(list[k].dist, dx*dx+dy*dy)
				} else {
					found[open[at]] = append(list, near{root, dx*dx + dy*dy})
				}
			}
		}
	}
	for i, list := range found {
		slices.SortFunc(list, func(a, b near) int { return cmp.Or(cmp.Compare(a.dist, b.dist), j.byPlace(a.root, b.root)) })
		v := &j.verdicts[i]
		v.nodes = append(v.nodes, list[0].root)
		if v.Kind == nearMiss && len(list) > 1 {
			v.nodes = append(v.nodes, list[1].root)
		}
	}
}

// landsOn returns the layer that a verdict says a contact lands on, as a mask. Of several verdicts the die's counts.
func (j *joiner) landsOn(contact node, reaches []reach) (take uint64, ok bool) {
	if len(j.onContact[contact]) == 0 {
		return 0, false
	}
	claims := map[claim]int{}
	for _, i := range j.onContact[contact] {
		v := &j.verdicts[i]
		if v.Reading == "joins" || v.Reading == "joins-not" {
			j.takes(claims, i, int(contact))
			continue
		}
		name, isName := strings.CutPrefix(v.Reading, "lands on ")
		l, known := j.plan.st.LayerNamed(name)
		if !isName || !known {
			j.unused(v, fmt.Sprintf("%q says no layer of the stack that a contact lands on", v.Reading))
			continue
		}
		if !slices.ContainsFunc(reaches, func(r reach) bool { return r.layer == l }) {
			j.unused(v, fmt.Sprintf("%s does not lie under the contact: %s", name, j.sayUnder(reaches)))
		} else if j.takes(claims, i, int(contact)) {
			take, ok = 1<<l, true
		}
	}
	return take, ok
}

// sayUnder says what lies under a contact.
func (j *joiner) sayUnder(reaches []reach) string {
	if len(reaches) == 0 {
		return "nothing does that it could join"
	}
	var all []string
	for _, r := range reaches {
		all = append(all, fmt.Sprintf("%s (%.0f %% of its area)", j.layerName(r.layer), 100*r.share))
	}
	if len(all) == 1 {
		return all[0] + " does"
	}
	return strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1] + " do"
}

// answerBare follows what verdicts say of contacts that lie on nothing.
func (j *joiner) answerBare() {
	for _, i := range j.byDepth(contactVerdict) {
		if v := &j.verdicts[i]; v.Lost && !v.Unused {
			j.landsOn(v.nodes[0], nil)
		}
	}
}

// noteContacts notes which verdicts are about which contact.
func (j *joiner) noteContacts() {
	j.onContact = map[node][]int{}
	for _, i := range j.byDepth(contactVerdict) {
		on := j.verdicts[i].nodes[0]
		j.onContact[on] = append(j.onContact[on], i)
	}
}

// joinNear joins the nets on both sides of gaps that a verdict says are none.
func (j *joiner) joinNear() {
	claims := map[claim]int{}
	for _, i := range j.byDepth(nearMiss) {
		v := &j.verdicts[i]
		if len(v.nodes) < 2 {
			continue
		}
		a, b := min(v.nodes[0], v.nodes[1]), max(v.nodes[0], v.nodes[1])
		if v.Reading != "joined" && v.Reading != "apart" {
			j.unused(v, fmt.Sprintf("the reading %q is neither joined nor apart", v.Reading))
		} else if j.takes(claims, i, int(a)<<32|int(b)) && v.Reading == "joined" {
			j.union(a, b)
		}
	}
}

// unused warns of a verdict that cannot be followed.
func (j *joiner) unused(v *placedVerdict, why string) {
	if v.Unused {
		return
	}
	v.Lost, v.Unused = false, true
	if v.leading { // nobody has said it
		return
	}
	j.warnVerdict("verdict-not-used", v, why)
}

func (j *joiner) warnVerdict(code string, v *placedVerdict, text string) {
	j.warnings = append(j.warnings, Warning{code, fmt.Sprintf("verdict on %s: %s", v.Kind, text), j.layerName(v.Layer), v.At.X, v.At.Y})
}

func (j *joiner) layerName(l layout.Layer) string {
	if int(l) < len(j.plan.st.Layers) {
		return j.plan.st.Layers[l].Name
	}
	return ""
}

// warnLostVerdicts warns of verdicts whose places hold nothing of their kind, each once.
func (j *joiner) warnLostVerdicts() {
	type drawnVerdict struct {
		layout.Verdict
		cell string
	}
	places, lost := map[drawnVerdict]int{}, map[drawnVerdict]int{}
	for i := range j.verdicts {
		v := &j.verdicts[i]
		if v.leading {
			continue
		}
		k := drawnVerdict{v.Verdict, v.Cell}
		places[k]++
		if v.Lost {
			lost[k]++
		}
	}
	for i := range j.verdicts {
		v := &j.verdicts[i]
		k := drawnVerdict{v.Verdict, v.Cell}
		if !v.Lost || v.leading || lost[k] == 0 {
			continue
		}
		where := ""
		if places[k] > 1 {
			where = fmt.Sprintf(", in %d of the %d places of cell %s", lost[k], places[k], v.Cell)
		}
		lost[k] = 0
		j.warnVerdict("verdict-lost", v, fmt.Sprintf("nothing of this kind is here any more for the answer %q%s", v.Reading, where))
	}
}

// warnGone warns of verdicts whose cell is gone.
func (j *joiner) warnGone(lost []layout.LostVerdict) {
	for _, v := range lost {
		j.warnings = append(j.warnings, Warning{"verdict-lost", fmt.Sprintf("verdict on %s: the answer %q belongs to cell %q, which is gone, or to no layer", v.Kind, v.Reading, v.Cell),
			j.layerName(v.Layer), v.At.X, v.At.Y})
	}
}

// usedVerdicts returns what became of all verdicts, and of leading readings.
func (j *joiner) usedVerdicts(gone []layout.LostVerdict) (out, leading []UsedVerdict) {
	for _, v := range gone {
		out = append(out, UsedVerdict{Verdict: v.Verdict, Cell: v.Cell, At: v.At, Lost: true})
	}
	for i := range j.verdicts {
		if v := &j.verdicts[i]; v.leading {
			leading = append(leading, v.UsedVerdict)
		} else {
			out = append(out, v.UsedVerdict)
		}
	}
	return out, leading
}

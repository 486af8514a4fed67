package extract

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
)

// butted is the share of a contact's area that each of two layers must take for the contact to join both.
const butted = 0.25

// shared knows the contacts that were swept in several groups by their shapes.
type shared struct {
	whole [layout.MaxLayers][]node // by layer and number of shape: those in one part
	parts map[[3]uint32]node       // by layer, number of shape, part: the others
}

// node returns where the first node that was met for a tag is kept.
func (s *shared) node(t tagged, f func(n *node)) {
	if t.part != 0 {
		k := [3]uint32{uint32(t.layer), t.shape, t.part}
		n := s.parts[k]
		f(&n)
		s.parts[k] = n
		return
	}
	whole := &s.whole[t.layer]
	if n := int(t.shape) + 1 - len(*whole); n > 0 {
		*whole = append(*whole, make([]node, n)...)
	}
	f(&(*whole)[t.shape])
}

// joinShared makes the parts of a contact in several groups one region. joinLanded, later, joins the nets of what stands for
// a contact already.
func (j *joiner) joinShared() {
	j.shared = &shared{parts: map[[3]uint32]node{}}
	j.eachTag(false)
}

func (j *joiner) joinLanded() {
	j.eachTag(true)
	j.shared, j.strips = nil, nil
}

func (j *joiner) eachTag(landed bool) {
	for _, s := range j.strips {
		for _, t := range s.tags {
			if t.landed == landed {
				j.shared.node(t, func(first *node) {
					if *first == 0 {
						*first = t.node + s.base
					} else {
						j.joinParts(*first, t.node+s.base, landed)
					}
				})
			}
		}
	}
}

// joinParts joins two parts of a contact. Rounding may have pinched a region in two within a group: then it is measured
// as one all the same.
func (j *joiner) joinParts(a, b node, landed bool) {
	a, b = j.find(a), j.find(b)
	if a == b {
		return
	}
	root := j.union(a, b)
	if !landed && j.pieces[a].group == j.pieces[b].group {
		j.gather(root, a+b-root)
	}
}

// joinContacts decides, for each contact, which of the conductors below it it reaches.
func (j *joiner) joinContacts() {
	for root, covers := range j.covered {
		if j.regionKind(root) == plug {
			j.joinContact(root, covers)
		}
	}
	j.answerBare()
}

// share returns part / whole to a millionth. Sums of areas round differently in other strips and at other places; what is
// decided by a share must not.
func share(part, whole float64) float64 { return math.Round(part/whole*1e6) / 1e6 }

// reach is a layer below a contact.
type reach struct {
	layer layout.Layer
	area  float64 // nm²
	share float64 // of the contact's area
}

func (j *joiner) joinContact(contact node, covers []cover) {
	var reaches []reach
	area := j.pieces[contact].area
	covers = j.withoutResistors(contact, covers)
	for _, c := range covers {
		if c.area == 0 { // the layer on top
			continue
		}
		l := j.layer(c.on)
		i := slices.IndexFunc(reaches, func(r reach) bool { return r.layer == l })
		if i < 0 {
			reaches = append(reaches, reach{layer: l})
			i = len(reaches) - 1
		}
		reaches[i].area += c.area
	}
	for i := range reaches {
		reaches[i].share = share(reaches[i].area, area)
	}
	slices.SortFunc(reaches, func(a, b reach) int {
		return cmp.Or(cmp.Compare(b.share, a.share), cmp.Compare(a.layer, b.layer))
	})
	take := uint64(0)
	for i, r := range reaches {
		if i == 0 || r.share >= butted && reaches[0].share >= butted {
			take |= 1 << r.layer
		}
	}
	if forced, ok := j.landsOn(contact, reaches); ok {
		take = forced
	} else if len(reaches) > 1 {
		j.warnContact(contact, reaches, take)
	}
	for _, c := range covers {
		if c.area == 0 || take>>j.layer(c.on)&1 != 0 {
			j.union(c.of, c.on)
			j.noteLanding(contact, c)
		}
	}
}

func (j *joiner) warnContact(contact node, reaches []reach, take uint64) {
	names := func(l layout.Layer) string { return j.plan.st.Layers[l].Name }
	var joined []string
	for _, r := range reaches {
		if take>>r.layer&1 != 0 {
			joined = append(joined, fmt.Sprintf("%s (%.0f %% of its area)", names(r.layer), 100*r.share))
		}
	}
	if len(joined) > 1 {
		j.warn("butted-contact", contact, "contact joins %s", strings.Join(joined, " and "))
		return
	}
	a, b := reaches[0], reaches[1]
	j.warn("half-landed-contact", contact, "contact lies on %s with %.0f %% of its area and on %s with %.0f %%; taken to reach %s only",
		names(a.layer), 100*a.share, names(b.layer), 100*b.share, names(a.layer))
}

// withoutResistors returns covers without the bodies of resistors, which a contact joins to nothing, and warns of these.
func (j *joiner) withoutResistors(contact node, covers []cover) []cover {
	if len(j.plan.st.Resistors) == 0 {
		return covers
	}
	isBody := func(c cover) bool { return j.regionKind(c.on) == body }
	if !slices.ContainsFunc(covers, isBody) {
		return covers
	}
	first := layout.Layer(layout.MaxLayers)
	for _, c := range covers {
		if isBody(c) {
			first = min(first, j.layer(c.on))
		}
	}
	j.warn("contact-on-resistor", contact, "contact lies on the body of a resistor of %s; it joins nothing there", j.plan.st.Layers[first].Name)
	return slices.DeleteFunc(slices.Clone(covers), isBody)
}

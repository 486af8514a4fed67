package extract

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout"
)

// butted is the share of a contact's area that each of two layers must take for the contact to join both.
const butted = 0.25

// joinShared joins the two halves of a contact that was swept in two groups: they have the same edges.
func (j *joiner) joinShared() {
	type key struct {
		layer uint8
		part  uint16
		shape uint32
	}
	var whole [layout.MaxLayers][]node // by layer and number: those of shapes in one part
	parts := map[key]node{}
	join := func(t tagged) {
		if t.part != 0 {
			k := key{t.layer, t.part, t.shape}
			if n, ok := parts[k]; ok {
				j.union(n, t.node)
			} else {
				parts[k] = t.node
			}
			return
		}
		if n := int(t.shape) + 1 - len(whole[t.layer]); n > 0 {
			whole[t.layer] = append(whole[t.layer], make([]node, n)...)
		}
		if n := &whole[t.layer][t.shape]; *n != 0 {
			j.union(*n, t.node)
		} else {
			*n = t.node
		}
	}
	for _, s := range j.strips {
		for _, t := range s.tags {
			t.node += s.base
			join(t)
		}
		s.tags = nil
	}
}

// joinContacts decides, for each contact, which of the conductors below it it reaches.
func (j *joiner) joinContacts() {
	for lo := 0; lo < len(j.covers); {
		root := j.root[j.covers[lo].of]
		hi := lo
		for hi < len(j.covers) && j.root[j.covers[hi].of] == root {
			hi++
		}
		if j.regionKind(root) == plug {
			j.joinContact(root, j.covers[lo:hi])
		}
		lo = hi
	}
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
	if len(reaches) > 1 {
		j.warnContact(contact, reaches, take)
	}
	for _, c := range covers {
		if c.area == 0 || take>>j.layer(c.on)&1 != 0 {
			j.union(c.of, c.on)
		}
	}
}

func (j *joiner) warnContact(contact node, reaches []reach, take uint64) {
	names := func(l layout.Layer) string { return j.plan.st.Layers[l].Name }
	a, b := reaches[0], reaches[1]
	if take>>b.layer&1 != 0 {
		j.warn("butted-contact", contact, "contact joins %s (%.0f %% of its area) and %s (%.0f %%)",
			names(a.layer), 100*a.share, names(b.layer), 100*b.share)
		return
	}
	j.warn("half-landed-contact", contact, "contact lies on %s with %.0f %% of its area and on %s with %.0f %%; taken to reach %s only",
		names(a.layer), 100*a.share, names(b.layer), 100*b.share, names(a.layer))
}

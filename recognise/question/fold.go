package question

import (
	"cmp"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// likeness is what questions in placements of one cell have in common: kind, drawn shape, place on it, and all that was seen.
type likeness struct {
	kind  string
	shape *layout.Shape
	at    geom.Point
	saw   string
	said  string // by a verdict
}

// fold makes one draft of those that lie in the same place of the same cell and saw the same: a member of an array that differs
// is a question of its own. The first by place stands for all.
func (v *view) fold(drafts []draft) []draft {
	slices.SortStableFunc(drafts, func(a, b draft) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.layer, b.layer), cmp.Compare(a.at.Y, b.at.Y), cmp.Compare(a.at.X, b.at.X))
	})
	places := make([]layout.Place, len(drafts))
	for i := range drafts {
		places[i] = layout.Place{Layer: drafts[i].layer, At: drafts[i].at}
	}
	drawn := v.res.Drawn(places)
	first := map[likeness]int{}
	var out []draft
	for i := range drafts {
		d := &drafts[i]
		key := likeness{d.kind, drawn[i].Shape, drawn[i].At, outcomes(d.saw), d.verdict}
		if k, ok := first[key]; ok && key.shape != nil {
			out[k].count += max(d.count, 1)
			out[k].devices = append(out[k].devices, d.devices...)
			continue
		}
		first[key] = len(out)
		d.count = max(d.count, 1)
		d.devices = slices.Clone(d.devices)
		if d.path == "" {
			d.path = drawn[i].Path
		}
		out = append(out, *d)
	}
	for i := range out {
		slices.Sort(out[i].devices)
		out[i].devices = slices.Compact(out[i].devices)
	}
	return out
}

// outcomes writes what was seen, without the facts, in order.
func outcomes(saw map[string]seen) string {
	all := make([]string, 0, len(saw))
	for name, s := range saw {
		all = append(all, name+" "+s.outcome)
	}
	slices.Sort(all)
	return strings.Join(all, "\n")
}

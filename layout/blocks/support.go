package blocks

import (
	"cmp"
	"slices"

	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// Suggestion is something that was recognised, with the box around it, in nm of the frame.
type Suggestion struct {
	Name string
	Box  geom.Rect
}

// Support is what was recognised of one name.
type Support struct {
	Name  string
	Count int
	Box   geom.Rect // around all of them
}

// support deals suggestions out: one belongs to every block that covers more than half of its box. A box without width or
// height, such as that of a single device, counts as 1 nm wide or high.
func (m *Map) support(found []Suggestion) {
	lists := make([]map[string]*Support, len(m.Blocks)+1) // the last: in no region
	note := func(i int, s *Suggestion) {
		if lists[i] == nil {
			lists[i] = map[string]*Support{}
		}
		l := lists[i][s.Name]
		if l == nil {
			l = &Support{Name: s.Name, Box: geom.EmptyRect()}
			lists[i][s.Name] = l
		}
		l.Count++
		l.Box = l.Box.Union(s.Box)
	}
	for k := range found {
		s := &found[k]
		placed := false
		for i := range m.Blocks {
			if m.Blocks[i].holds(s.Box) {
				note(i, s)
				placed = true
			}
		}
		if !placed {
			note(len(m.Blocks), s)
		}
	}
	for i := range m.Blocks {
		m.Blocks[i].Support = sorted(lists[i])
	}
	m.Elsewhere = sorted(lists[len(m.Blocks)])
}

// holds reports whether a block covers more than half of a box.
func (b *Block) holds(box geom.Rect) bool {
	if box.Empty() || !b.Box.Overlaps(box) {
		return false
	}
	box.Max.X, box.Max.Y = max(box.Max.X, box.Min.X+1), max(box.Max.Y, box.Min.Y+1)
	_, in := region.Cut(geom.Polygon{box.Ring()}, b.Pieces...)
	return 2*area(in) > float64(box.Width())*float64(box.Height())
}

func sorted(all map[string]*Support) (out []Support) {
	for _, s := range all {
		out = append(out, *s)
	}
	slices.SortFunc(out, func(a, b Support) int { return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Name, b.Name)) })
	return out
}

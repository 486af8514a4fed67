package extract

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	polygons "undermetal/layout/region"
	"undermetal/layout/stack"
)

// mostParts is how many drawn shapes a piece with a neck may be made of. A fuse is drawn of few; what leads on over half the die is
// looked at by nobody.
const mostParts = 24

// Necks returns the necks of gate layers and metals in the order of layer, then place. Either end has a contact or lies under an
// opening in the passivation, and no contact is on the neck. st is the stack of the drawing. Pieces are those of one layer; the time
// goes with its shapes, and pieces that are drawn alike are looked at once.
func (r *Result) Necks(st *stack.Stack) []Neck {
	var out []Neck
	for l := range st.Layers {
		if role := st.Layers[l].Role; role == stack.Gate || role == stack.Metal {
			out = append(out, r.necksOn(st, layout.Layer(l))...)
		}
	}
	slices.SortFunc(out, func(a, b Neck) int {
		return cmp.Or(cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X))
	})
	return out
}

// drawnPart is a shape of a layer in one of its places.
type drawnPart struct {
	shape *layout.Shape
	at    geom.Transform
	index int // of the shape, in layout.Flat.Drawn
	box   geom.Rect
	rect  bool // it is its box
	fixed bool // placed upright
}

func (p *drawnPart) polygon() geom.Polygon { return p.at.ApplyPolygon(p.shape.Polygon) }

func (r *Result) necksOn(st *stack.Stack, l layout.Layer) []Neck {
	var parts []drawnPart
	walk := layout.Walk{Layers: 1 << l, Yield: func(p *layout.Placed) bool {
		box := p.Transform.Bounds(p.Polygon.Bounds())
		parts = append(parts, drawnPart{p.Shape, p.Transform, p.Index, box, p.Upright && isRect(p.Polygon), p.Upright})
		return true
	}}
	walk.Run(r.flat)
	var out []Neck
	var lands *neckLands
	none := map[string]bool{}
	for _, group := range touching(parts) {
		if len(group) > mostParts || len(group) == 1 && parts[group[0]].rect {
			continue
		}
		key := drawnKey(parts, group)
		if key != "" && none[key] {
			continue
		}
		var pgs []geom.Polygon
		for _, i := range group {
			pgs = append(pgs, parts[i].polygon())
		}
		found := false
		for _, piece := range polygons.Union(pgs...) {
			n, ok := neckIn(piece.Polygon)
			if !ok {
				continue
			}
			found = true
			n.Layer = l
			if lands == nil {
				lands = r.neckLands(st, l)
			}
			if lands.on(&n, piece.Polygon) {
				out = append(out, n)
			}
		}
		if key != "" && !found {
			none[key] = true
		}
	}
	return out
}

func isRect(pg geom.Polygon) bool {
	return len(pg) == 1 && len(pg[0]) == 4 && pg[0].Manhattan()
}

// drawnKey says which shapes a group is made of, how they are turned, and where they lie beside the first; empty where one is slanted.
func drawnKey(parts []drawnPart, group []int) string {
	var key []byte
	_, _, _, _, x0, y0 := parts[group[0]].at.Matrix()
	for _, i := range group {
		p := &parts[i]
		if !p.fixed {
			return ""
		}
		xx, xy, yx, yy, dx, dy := p.at.Matrix()
		key = binary.AppendUvarint(key, uint64(p.index))
		for _, v := range [...]float64{xx, xy, yx, yy, dx - x0, dy - y0} {
			key = binary.AppendVarint(key, int64(math.Round(v)))
		}
	}
	return string(key)
}

// touching returns the groups of shapes that touch each other, each in the order of parts.
func touching(parts []drawnPart) [][]int {
	boxes := make([]geom.Rect, len(parts))
	for i := range parts {
		boxes[i] = parts[i].box
	}
	grid := newBoxGrid(boxes)
	of := make(sets, len(parts))
	for i := range of {
		of[i] = node(i)
	}
	for i := range parts {
		grid.near(boxes[i], func(k int) {
			if k < i && touch(boxes[i], boxes[k]) && of.find(node(i)) != of.find(node(k)) && partsTouch(&parts[i], &parts[k]) {
				of.union(node(i), node(k))
			}
		})
	}
	number := map[node]int{}
	var groups [][]int
	for i := range parts {
		root := of.find(node(i))
		k, ok := number[root]
		if !ok {
			k = len(groups)
			number[root] = k
			groups = append(groups, nil)
		}
		groups[k] = append(groups[k], i)
	}
	return groups
}

// partsTouch reports whether two shapes whose boxes touch have a point in common.
func partsTouch(a, b *drawnPart) bool {
	if a.rect && b.rect {
		return true
	}
	p, q := a.polygon(), b.polygon()
	edges := func(pg geom.Polygon, near geom.Rect, visit func(a, b geom.Point) bool) bool {
		for _, r := range pg {
			for i := range r {
				u, v := r[i], r[(i+1)%len(r)]
				if touch(geom.Box(min(u.X, v.X), min(u.Y, v.Y), max(u.X, v.X), max(u.Y, v.Y)), near) && visit(u, v) {
					return true
				}
			}
		}
		return false
	}
	if p[0] != nil && q[0] != nil && (p.Locate(q[0][0]) != geom.Outside || q.Locate(p[0][0]) != geom.Outside) {
		return true
	}
	return edges(p, b.box, func(u, v geom.Point) bool {
		return edges(q, a.box, func(s, t geom.Point) bool { return geom.SegmentsMeet(u, v, s, t) })
	})
}

// neckLands finds contacts and pads on a layer.
type neckLands struct {
	contacts, pads     []geom.Polygon
	contactsIn, padsIn *boxGrid
}

func (r *Result) neckLands(st *stack.Stack, l layout.Layer) *neckLands {
	n := &neckLands{}
	contacts, pads := uint64(0), uint64(0)
	for k := range st.Layers {
		switch c := &st.Layers[k]; {
		case c.Role == stack.Contact && slices.Contains(c.Joins, l):
			contacts |= 1 << k
		case c.Role == stack.Pad && st.Layers[l].Role == stack.Metal:
			pads |= 1 << k
		}
	}
	walk := layout.Walk{Layers: contacts | pads, Yield: func(p *layout.Placed) bool {
		pg := p.Transform.ApplyPolygon(p.Polygon)
		if contacts>>p.Layer&1 != 0 {
			n.contacts = append(n.contacts, pg)
		} else {
			n.pads = append(n.pads, pg)
		}
		return true
	}}
	walk.Run(r.flat)
	n.contactsIn, n.padsIn = gridOf(n.contacts), gridOf(n.pads)
	return n
}

// on fills in what lies on a neck and its ends. It reports whether either end leads somewhere, and no contact is on the neck.
func (n *neckLands) on(k *Neck, pg geom.Polygon) bool {
	ends, body := k.endsOf(pg), k.pieces(pg)
	meets := func(c geom.Polygon, those []geom.Polygon) bool {
		return slices.ContainsFunc(those, func(e geom.Polygon) bool { return touch(e.Bounds(), c.Bounds()) && meet(c, e) })
	}
	each := func(grid *boxGrid, all []geom.Polygon, visit func(geom.Polygon)) {
		seen := map[int]bool{}
		grid.near(k.Box, func(i int) {
			if !seen[i] && touch(all[i].Bounds(), k.Box) {
				seen[i] = true
				visit(all[i])
			}
		})
	}
	free := true
	each(n.contactsIn, n.contacts, func(c geom.Polygon) {
		free = free && !meets(c, body)
		for i := range ends {
			if meets(c, ends[i]) {
				k.Ends[i].Contacts++
			}
		}
	})
	each(n.padsIn, n.pads, func(c geom.Polygon) {
		k.Open = k.Open || meets(c, body)
		for i := range ends {
			k.Ends[i].Pad = k.Ends[i].Pad || meets(c, ends[i])
		}
	})
	return free && k.Ends[0].leads() && k.Ends[1].leads()
}

func (e NeckEnd) leads() bool { return e.Contacts > 0 || e.Pad }

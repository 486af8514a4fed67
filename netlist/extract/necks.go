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
// goes with its shapes, and pieces that are drawn alike are looked at once. With Facts, and no answer on its layer, a piece of a gate layer
// that makes a gate is left out unseen.
func (r *Result) Necks(st *stack.Stack) []Neck {
	var out []Neck
	parts := newDrawnParts(r.flat)
	for l := range st.Layers {
		if role := st.Layers[l].Role; role == stack.Gate || role == stack.Metal {
			out = append(out, r.necksOn(st, layout.Layer(l), parts)...)
		}
	}
	slices.SortFunc(out, func(a, b Neck) int {
		return cmp.Or(cmp.Compare(a.Layer, b.Layer), cmp.Compare(a.At.Y, b.At.Y), cmp.Compare(a.At.X, b.At.X))
	})
	return out
}

// drawnParts are the shapes of a layer in all their places, each cut into boxes where that can be done. There are many, so that they are kept
// small, and their room is used again for the next layer.
type drawnParts struct {
	drawn []*layout.Shape // layout.Flat.Drawn
	known []drawnShape    // of these, once they are met
	all   []drawnPart
	at    []geom.Transform // those of parts that follow each other in one place once
	boxes []geom.Rect      // of all parts, in their order
	part  []int32          // by box: which it is of
	waist waist
	grid  boxGrid
	of    sets              // by part: with which it is one group
	group []int32           // by part: its group's number
	in    []int32           // parts, group by group
	made  []geom.Rect       // boxes of a group
	key   []byte            // of a group
	apart map[[2]int32]bool // parts of several boxes, and others that they do not touch
}

// drawnShape is what is known of a shape in all its places.
type drawnShape struct {
	box   geom.Rect   // around it
	boxes []geom.Rect // that make it, none where they do not
	met   bool
}

type drawnPart struct {
	index int32 // of the shape, in drawnParts.drawn
	at    int32 // index in drawnParts.at
	first int32 // of its boxes: those that make it, or the one around it
	exact bool  // they make it
	fixed bool  // placed upright
}

func newDrawnParts(flat *layout.Flat) *drawnParts {
	return &drawnParts{drawn: flat.Drawn(), known: make([]drawnShape, len(flat.Drawn())), apart: map[[2]int32]bool{}}
}

// reset makes room for so many parts of another layer.
func (d *drawnParts) reset(n int) {
	d.all, d.at = slices.Grow(d.all[:0], n), slices.Grow(d.at[:0], n/2)
	d.boxes, d.part = slices.Grow(d.boxes[:0], n+n/4), slices.Grow(d.part[:0], n+n/4) // most shapes are boxes
}

func (d *drawnParts) polygon(part int32) geom.Polygon {
	return d.at[d.all[part].at].ApplyPolygon(d.drawn[d.all[part].index].Polygon)
}

// shape returns what is known of a shape.
func (d *drawnParts) shape(p *layout.Placed) *drawnShape {
	s := &d.known[p.Index]
	if !s.met {
		*s = drawnShape{p.Polygon.Bounds(), boxesOf(p.Polygon), true}
	}
	return s
}

// add adds a shape in its place.
func (d *drawnParts) add(p *layout.Placed) {
	if n := len(d.at); n == 0 || d.at[n-1] != p.Transform {
		d.at = append(d.at, p.Transform)
	}
	s, n := d.shape(p), int32(len(d.all))
	exact := p.Upright && s.boxes != nil
	d.all = append(d.all, drawnPart{int32(p.Index), int32(len(d.at) - 1), int32(len(d.boxes)), exact, p.Upright})
	if !exact {
		d.boxes, d.part = append(d.boxes, p.Transform.Bounds(s.box)), append(d.part, n)
		return
	}
	for _, b := range s.boxes {
		d.boxes, d.part = append(d.boxes, p.Turn.Bounds(b)), append(d.part, n)
	}
}

// loosePieces returns the boxes of the pieces of a gate layer that may have a neck, as Facts tell: no gate is made of them, and either end
// has a contact. known is false where Facts do not tell, or do not tell of all, since answers have cut some.
func (r *Result) loosePieces(st *stack.Stack, l layout.Layer) (boxes []geom.Rect, known bool) {
	if r.Facts == nil || st.Layers[l].Role != stack.Gate || slices.ContainsFunc(r.Verdicts, func(u UsedVerdict) bool { return u.Kind == wireOrResistor && u.Layer == l }) {
		return nil, false
	}
	for i := range r.Facts.Regions {
		if g := &r.Facts.Regions[i]; g.Kind == GateRegion && g.Layer == l && g.Channels == 0 && g.Contacts > 1 {
			boxes = append(boxes, g.Box)
		}
	}
	return boxes, true
}

func (r *Result) necksOn(st *stack.Stack, l layout.Layer, parts *drawnParts) []Neck {
	loose, known := r.loosePieces(st, l)
	if known && len(loose) == 0 {
		return nil
	}
	in, n := newBoxGrid(loose), 0
	if !known { // all of the layer
		n = r.flat.Count(l)
	}
	parts.reset(n)
	walk := layout.Walk{Layers: 1 << l, Yield: func(p *layout.Placed) bool {
		within := !known
		if known {
			box := p.Transform.Bounds(parts.shape(p).box)
			in.near(box, func(i int) { within = within || loose[i].Contains(box.Min) && loose[i].Contains(box.Max) })
		}
		if within {
			parts.add(p)
		}
		return true
	}}
	walk.Run(r.flat)
	var out []Neck
	var lands *neckLands
	none := map[string]bool{}
	for _, group := range parts.touching() {
		if len(group) > mostParts {
			continue
		}
		boxes := parts.madeOf(group)
		if boxes != nil && thin(boxes) {
			continue
		}
		key := parts.keyOf(group)
		if none[string(key)] {
			continue
		}
		if boxes != nil && !parts.waist.may(boxes) {
			none[string(key)] = true
			continue
		}
		var pgs []geom.Polygon
		for _, i := range group {
			pgs = append(pgs, parts.polygon(i))
		}
		found := false
		for _, piece := range polygons.Union(pgs...) {
			n, ok := neckIn(piece.Polygon)
			found = found || ok
			if !ok || known && !slices.Contains(loose, n.Box) { // or what of another piece lies in the box of a loose one
				continue
			}
			n.Layer = l
			if lands == nil {
				lands = r.neckLands(st, l)
			}
			if lands.on(&n, piece.Polygon) {
				out = append(out, n)
			}
		}
		if key != nil && !found {
			none[string(key)] = true
		}
	}
	return out
}

// madeOf returns the boxes that make a group; nil where some of it is not made of boxes. The next call overwrites them.
func (d *drawnParts) madeOf(group []int32) []geom.Rect {
	d.made = d.made[:0]
	for _, i := range group {
		if !d.all[i].exact {
			return nil
		}
		for k := d.all[i].first; int(k) < len(d.boxes) && d.part[k] == i; k++ {
			d.made = append(d.made, d.boxes[k])
		}
	}
	return d.made
}

// keyOf says which shapes a group is made of, how they are turned, and where they lie beside the first; nil where one is slanted. The next call
// overwrites it.
func (d *drawnParts) keyOf(group []int32) []byte {
	key := d.key[:0]
	_, _, _, _, x0, y0 := d.at[d.all[group[0]].at].Matrix()
	for _, i := range group {
		p := &d.all[i]
		if !p.fixed {
			return nil
		}
		xx, xy, yx, yy, dx, dy := d.at[p.at].Matrix()
		key = binary.AppendUvarint(key, uint64(p.index))
		for _, v := range [...]float64{xx, xy, yx, yy, dx - x0, dy - y0} {
			key = binary.AppendVarint(key, int64(math.Round(v)))
		}
	}
	d.key = key
	return key
}

// touching returns the groups of shapes that touch each other, each in the order of parts.
func (d *drawnParts) touching() [][]int32 {
	n := len(d.all)
	d.of, d.group, d.in = slices.Grow(d.of[:0], n)[:n], slices.Grow(d.group[:0], n)[:n], slices.Grow(d.in[:0], n)[:n]
	of, number := d.of, d.group // the first of a group gives it its number
	for i := range of {
		of[i] = node(i)
	}
	clear(d.apart)
	d.grid.fill(d.boxes)
	d.grid.pairs(d.boxes, func(i, k int) {
		if a, b := of.find(node(d.part[i])), of.find(node(d.part[k])); a != b && d.touch(i, k) {
			of.union(a, b)
		}
	})
	var size []int32 // by group
	for i := range of {
		root := of.find(node(i))
		if root == node(i) { // the root of a set is its first
			number[i] = int32(len(size))
			size = append(size, 0)
		}
		number[i] = number[root]
		size[number[i]]++
	}
	out, in := make([][]int32, len(size)), d.in
	for k, n := range size {
		out[k], in = in[:0:n], in[n:]
	}
	for i, k := range number {
		out[k] = append(out[k], int32(i))
	}
	return out
}

// touch reports whether the shapes of two boxes that touch have a point in common. Where boxes make both they do.
func (d *drawnParts) touch(i, k int) bool {
	a, b := d.part[i], d.part[k]
	if d.all[a].exact && d.all[b].exact {
		return true
	}
	pair := [2]int32{a, b} // always in this order, as pairs tells of boxes
	if d.apart[pair] {
		return false
	}
	meets := d.meet(a, b)
	if !meets && (d.several(a) || d.several(b)) { // else nobody asks again
		d.apart[pair] = true
	}
	return meets
}

// several reports whether a part has more than one box.
func (d *drawnParts) several(part int32) bool {
	k := int(d.all[part].first) + 1
	return k < len(d.part) && d.part[k] == part
}

// meet reports whether two parts have a point in common.
func (d *drawnParts) meet(a, b int32) bool {
	p, q := d.polygon(a), d.polygon(b)
	inP, inQ := p.Bounds(), q.Bounds()
	begins := func(pg geom.Polygon, in geom.Polygon, box geom.Rect) bool { // some ring within what another covers
		return slices.ContainsFunc(pg, func(r geom.Ring) bool { return len(r) > 0 && box.Contains(r[0]) && in.Locate(r[0]) != geom.Outside })
	}
	if begins(p, q, inQ) || begins(q, p, inP) {
		return true
	}
	edges := func(pg geom.Polygon, near geom.Rect, visit func(a, b geom.Point) bool) bool {
		for _, r := range pg {
			for i := range r {
				u, v := r[i], r[(i+1)%len(r)]
				if touch(geom.Box(u.X, u.Y, v.X, v.Y), near) && visit(u, v) {
					return true
				}
			}
		}
		return false
	}
	return edges(p, inQ, func(u, v geom.Point) bool {
		return edges(q, inP, func(s, t geom.Point) bool { return geom.SegmentsMeet(u, v, s, t) })
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

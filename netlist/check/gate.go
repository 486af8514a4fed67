package check

import (
	"cmp"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
)

// gates finds gates that end inside the diffusion, and those that pass its edge by too little.
//
// A gate that crosses a diffusion from edge to edge has source and drain on two stretches of its border. Where all of it is
// one unbroken stretch, with one piece of diffusion beyond, the gate does not split the diffusion: it ends inside. Within the
// tolerance of the rim of what was traced nobody knows where gate and diffusion end, and nothing is said.
func (d *drawing) gates() error {
	byPiece := map[int32][]border{}
	var order []int32
	for _, b := range d.crossing {
		if byPiece[b.piece] == nil {
			order = append(order, b.piece)
		}
		byPiece[b.piece] = append(byPiece[b.piece], b)
	}
	for _, piece := range order {
		if !d.checked(d.pieces[piece].layer) {
			continue
		}
		d.gateEnd(piece, byPiece[piece])
		d.endCaps(byPiece[piece])
	}
	return d.ctx.Err()
}

// gateEnd looks for one unbroken stretch of source and drain.
func (d *drawing) gateEnd(piece int32, bs []border) {
	var sides []border
	for _, b := range bs {
		if b.out&onDiffusion != 0 {
			sides = append(sides, b)
		}
	}
	run, ok := unbroken(sides)
	if !ok || slices.ContainsFunc(run, func(b border) bool { return b.part != run[0].part }) {
		return
	}
	g := d.pieces[piece].layer
	if !d.looked(g, d.pieces[piece].box) {
		return
	}
	mid := run[0].a
	total := 0.0
	for _, b := range run {
		total += length(b.way())
	}
	passed := 0.0
	for _, b := range run { // the border half way along the stretch is the end of the gate
		if l := length(b.way()); passed+l >= total/2 {
			mid = toVec(b.a).plus(toVec(b.way()).times(0.5)).round()
			break
		} else {
			passed += l
		}
	}
	d.add(at(GateEndsInside, g, mid, "%s ends inside the diffusion and does not split it, so that source and drain are one: draw the gate to the other edge, or ask whether it is a capacitor", d.name(g)))
}

// unbroken puts borders in a row, each beginning where the one before ends, and reports whether all of them make one row.
func unbroken(bs []border) ([]border, bool) {
	if len(bs) == 0 {
		return nil, false
	}
	begin := map[geom.Point]int{}
	ends := map[geom.Point]bool{}
	for i, b := range bs {
		if _, twice := begin[b.a]; twice {
			return nil, false // a corner at which the outline touches itself
		}
		begin[b.a] = i
		ends[b.b] = true
	}
	first := slices.IndexFunc(bs, func(b border) bool { return !ends[b.a] })
	at := max(first, 0) // a ring begins anywhere
	var row []border
	for range bs {
		row = append(row, bs[at])
		next, ok := begin[bs[at].b]
		if !ok || next == max(first, 0) {
			break
		}
		at = next
	}
	return row, len(row) == len(bs)
}

// endCaps measures how far the gate goes beyond the edges of the diffusion beneath.
func (d *drawing) endCaps(bs []border) {
	for _, b := range bs {
		if b.out&onDiffusion != 0 {
			continue
		}
		if b.out&onGate == 0 {
			d.shortCap(&b, b.a, 0)
			continue
		}
		best := gap{width: math.Inf(1)}
		for l := range d.st.Layers {
			if d.st.Layers[l].Role != stack.Gate {
				continue
			}
			c := &d.conduct[l]
			c.grid.near(grown(boxOf(b.a, b.b), d.opt.ToleranceNm), func(k int32) bool {
				if cap, ok := capTo(&b, &c.borders[k]); ok && cap.width < float64(d.opt.ToleranceNm) && cmp.Or(cmp.Compare(cap.width, best.width), comparePoints(cap.p, best.p)) < 0 {
					best = cap
				}
				return true
			})
		}
		if best.width < float64(d.opt.ToleranceNm) {
			d.shortCap(&b, best.p, best.width)
		}
	}
}

// capTo measures from the edge of a diffusion, under a gate, outward to an edge of the gate that faces the same way, within
// 45°: in the corner of a channel whose edges are not quite upright the gate's edge beside source or drain, too, has a little
// of that direction.
func capTo(b, e *border) (gap, bool) {
	n, m := toVec(b.outward()), toVec(e.outward())
	if n.dot(m) <= n.length()*m.length()/math.Sqrt2 {
		return gap{}, false
	}
	lo, hi, ok := alongside(b, e)
	if !ok || hi <= lo {
		return gap{}, false
	}
	p := toVec(b.a).plus(toVec(b.way()).times((lo + hi) / 2))
	q := onto(p, e)
	way := q.minus(p)
	if way.dot(n) <= 0 {
		return gap{}, false
	}
	return gap{p: p.round(), q: q.round(), width: way.length()}, true
}

func (d *drawing) shortCap(b *border, p geom.Point, width float64) {
	g := d.pieces[b.piece].layer
	text := "passes the edge of the diffusion by " + um(nearest(width))
	if width == 0 {
		text = "ends at the edge of the diffusion"
		p = toVec(b.a).plus(toVec(b.way()).times(0.5)).round()
	}
	if !d.looked(g, geom.Rect{Min: p, Max: p}) {
		return
	}
	f := at(ShortEndCap, g, p, "%s %s: draw it farther, unless it ends there in the photograph", d.name(g), text)
	f.Gap, f.HasGap = nearest(width), true
	d.add(f)
}

// looked reports whether a box, with the tolerance around it, was looked at on a gate layer and on all diffusions: a layer
// without traced areas was everywhere.
func (d *drawing) looked(gate layout.Layer, box geom.Rect) bool {
	box = grown(box, d.opt.ToleranceNm)
	areas := map[layout.Layer][]geom.Polygon{}
	for _, t := range d.lib.Traced {
		if t.Layer == gate || d.st.Layers[t.Layer].Role == stack.Diffusion {
			if areas[t.Layer] == nil {
				areas[t.Layer] = []geom.Polygon{}
			}
			if t.Polygon.Bounds().Overlaps(box) {
				areas[t.Layer] = append(areas[t.Layer], t.Polygon)
			}
		}
	}
	for _, of := range areas {
		if out, _ := region.Cut(geom.Polygon{box.Ring()}, of...); len(out) > 0 {
			return false
		}
	}
	return true
}

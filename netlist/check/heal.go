package check

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// HealOptions say which gaps to close.
type HealOptions struct {
	ToleranceNm  int
	Layers       []layout.Layer       // none: all
	AcrossLabels bool                 // whether nets with different labels may become one
	At           func(geom.Rect) bool // whether the box around a gap is meant; nil: all are
	Progress     func(done, total int)
}

// Bridge is a shape that closes a gap, or the reason why none may.
type Bridge struct {
	Layer   layout.Layer
	Polygon geom.Polygon  // in the frame
	At      geom.Point    // on one side of the gap
	Gap     int           // nm
	Nets    [2]string     // what it joins, as a finding names it
	Why     string        // why it is not closed; empty: it may be
	Beside  [2]geom.Point // on either side, on shapes of the layer

	nets   [2]int
	labels [2][]string
	gaps   []gap
}

// Heal says how the near misses of a drawing would be closed, in the order of place: one bridge for each two pieces, on their
// own layer. It is refused where it would meet anything of a third net on the layer, where a gate and a diffusion would come
// to lie over each other, where nets have different labels, and where it would join source and drain of a transistor, unless
// both bear the same label. What remains is tried on the whole drawing: extraction must
// find the nets joined two by two as is meant, and no device that is another one or has another net, a well's among them. So whatever else a bridge might do,
// such as join a net by a contact above it, is refused as well. Errors are those of Run.
func Heal(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack, opt HealOptions) ([]Bridge, error) {
	d, err := newDrawing(ctx, lib, top, st, Options{ToleranceNm: opt.ToleranceNm, Layers: opt.Layers, Progress: opt.Progress})
	if err != nil {
		return nil, err
	}
	if err := d.nearMisses(); err != nil {
		return nil, err
	}
	sortFindings(d.findings)
	h := &healer{drawing: d, across: opt.AcrossLabels, nets: newSets(d.netCount() + 1), labels: map[int32][]string{}}
	h.findEnds()
	for i := range d.findings {
		if b := h.candidate(&d.findings[i]); opt.At == nil || opt.At(boxOf(b.Beside[0], b.Beside[1])) {
			h.bridges = append(h.bridges, b)
		}
	}
	h.choose()
	if err := h.prove(ctx); err != nil {
		return nil, err
	}
	return h.bridges, nil
}

// healer decides which gaps may be closed.
type healer struct {
	*drawing
	across  bool
	bridges []Bridge
	nets    sets               // those that bridges join
	labels  map[int32][]string // by root: of the nets joined
	ends    map[int32][]end    // by root: of the nets joined
}

func (d *drawing) netCount() int {
	most := 0
	for i := range d.pieces {
		most = max(most, d.pieces[i].net)
	}
	return most
}

func (h *healer) candidate(f *Finding) Bridge {
	b := Bridge{Layer: f.Layer, At: f.At, Gap: f.Gap, Beside: [2]geom.Point{f.At, f.other}, gaps: f.gaps}
	for i, p := range f.pieces {
		b.Nets[i] = h.netName(p)
		b.nets[i] = h.pieces[p].net
		b.labels[i] = h.asked[p].Labels
		if h.labels[int32(b.nets[i])] == nil {
			h.labels[int32(b.nets[i])] = b.labels[i]
		}
	}
	return b
}

// choose accepts bridges, the narrowest gap first, until no more can be: what has become one net by a bridge is no third
// net to the next.
func (h *healer) choose() {
	order := make([]int, len(h.bridges))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(h.bridges[a].gaps[0].width, h.bridges[b].gaps[0].width) })
	for again := true; again; {
		again = false
		for _, i := range order {
			b := &h.bridges[i]
			if b.Polygon != nil {
				continue
			}
			if b.Why = h.fit(b); b.Why == "" {
				h.accept(b)
				again = true
			}
		}
	}
}

func (h *healer) accept(b *Bridge) {
	x, y := h.nets.find(int32(b.nets[0])), h.nets.find(int32(b.nets[1]))
	all := append(slices.Clone(h.labels[x]), h.labels[y]...)
	slices.Sort(all)
	h.nets.union(x, y)
	root := h.nets.find(x)
	h.labels[root] = slices.Compact(all)
	h.joinEnds(root, x, y)
}

// fit looks for a polygon that closes a gap, and says why there is none.
func (h *healer) fit(b *Bridge) string {
	x, y := h.nets.find(int32(b.nets[0])), h.nets.find(int32(b.nets[1]))
	if p, q := h.labels[x], h.labels[y]; x != y && len(p) > 0 && len(q) > 0 && !slices.Equal(p, q) && !h.across {
		return fmt.Sprintf("it would join %s and %s, which have different labels: --across-labels allows that", strings.Join(p, "/"), strings.Join(q, "/"))
	}
	if at, short := h.shorts(x, y); short && !h.across {
		return fmt.Sprintf("it would join source and drain of the transistor at (%s, %s) µm, which no label calls one net: --across-labels allows that", geom.AppendUm(nil, at.X), geom.AppendUm(nil, at.Y))
	}
	why := errNotAsMeant.Error()
	for i := range b.gaps {
		pg, ok := b.gaps[i].bridge(h.opt.ToleranceNm)
		if !ok {
			continue
		}
		if why = h.inTheWay(b, pg); why == "" {
			g := &b.gaps[i]
			b.Polygon, b.At, b.Gap, b.Beside = pg, g.p, nearest(g.width), [2]geom.Point{g.p, g.q}
			return ""
		}
	}
	return why
}

// inTheWay says what a polygon between two nets would meet.
func (h *healer) inTheWay(b *Bridge, pg geom.Polygon) (why string) {
	box := pg.Bounds()
	c := &h.conduct[b.Layer]
	root := h.nets.find(int32(b.nets[0]))
	other := h.nets.find(int32(b.nets[1]))
	var third *border
	var place geom.Point
	c.grid.near(box, func(k int32) bool {
		e := &c.borders[k]
		if e.part >= 0 {
			if r := h.nets.find(int32(h.pieces[e.part].net)); r == root || r == other {
				return true
			}
		}
		if !meets(pg, geom.Polygon{{e.a, e.b}}) {
			return true
		}
		p := e.a
		if pg.Locate(p) == geom.Outside {
			p = e.b
		}
		if third == nil || comparePoints(p, place) < 0 {
			third, place = e, p
		}
		return true
	})
	switch {
	case third != nil && third.part < 0:
		return "it would touch a channel, and alter the transistor"
	case third != nil:
		return fmt.Sprintf("it would touch a third net, %s, at (%s, %s) µm", h.netName(third.part), geom.AppendUm(nil, place.X), geom.AppendUm(nil, place.Y))
	}
	against := map[stack.Role]stack.Role{stack.Gate: stack.Diffusion, stack.Diffusion: stack.Gate}[h.st.Layers[b.Layer].Role]
	if against == 0 {
		return ""
	}
	h.shapesNear(box, func(s *placed) bool {
		if h.st.Layers[s.layer].Role != against {
			return true
		}
		if _, both := region.Cut(pg, h.polygon(s)); len(both) > 0 {
			why = fmt.Sprintf("it would lie over %s, and make a transistor or alter one", h.name(s.layer))
		}
		return why == ""
	})
	return why
}

// errNotAsMeant is the reason for bridges that pass every look, and still do something else.
var errNotAsMeant = errors.New("it would do more than join these two nets, by a contact or a tap, or alter a transistor")

// prove extracts the drawing with the bridges. If that does more than join nets as is meant, halves of the bridges are tried,
// and so on, until those that do are known, which are refused.
func (h *healer) prove(ctx context.Context) error {
	var all []int
	for i := range h.bridges {
		if h.bridges[i].Polygon != nil {
			all = append(all, i)
		}
	}
	var kept []int
	var try func(some []int) error
	try = func(some []int) error {
		if len(some) == 0 {
			return nil
		}
		good, err := h.asMeant(ctx, append(slices.Clone(kept), some...))
		switch {
		case err != nil:
			return err
		case good:
			kept = append(kept, some...)
		case len(some) == 1:
			h.bridges[some[0]].Polygon, h.bridges[some[0]].Why = nil, errNotAsMeant.Error()
		default:
			half := len(some) / 2
			return errors.Join(try(some[:half]), try(some[half:]))
		}
		return nil
	}
	return try(all)
}

// asMeant reports whether the drawing with some bridges differs by nothing but the nets that these join.
func (h *healer) asMeant(ctx context.Context, some []int) (bool, error) {
	top := *h.top
	top.Shapes = slices.Clone(h.top.Shapes)
	want := newSets(len(h.nets))
	for _, i := range some {
		b := &h.bridges[i]
		top.Shapes = append(top.Shapes, layout.Shape{Layer: b.Layer, Polygon: b.Polygon})
		want.union(int32(b.nets[0]), int32(b.nets[1]))
	}
	ask := make([]layout.Place, len(h.pieces))
	for i := range h.pieces {
		ask[i] = layout.Place{Layer: h.pieces[i].layer, At: h.pieces[i].within}
	}
	res, err := extract.Run(ctx, h.lib, &top, h.st, extract.Options{Ask: ask})
	if err != nil {
		return false, err
	}
	is := map[int32]int{} // by net as meant: the net that there is
	was := map[int]int32{}
	for i, a := range res.Asked {
		if (a.Net == 0) != (h.asked[i].Net == 0) {
			return false, nil
		}
		if a.Net == 0 {
			continue
		}
		meant := want.find(int32(h.asked[i].Net))
		if n, ok := is[meant]; ok && n != a.Net {
			return false, nil
		}
		if m, ok := was[a.Net]; ok && m != meant {
			return false, nil
		}
		is[meant], was[a.Net] = a.Net, meant
	}
	before := devices(h.devices, func(net int) int32 { return want.find(int32(net)) })
	return sameDevices(before, devices(res, func(net int) int32 { return was[net] })), nil
}

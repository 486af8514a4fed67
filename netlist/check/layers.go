package check

import (
	"context"
	"fmt"
	"math/bits"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// drawing is what is known of a drawing while it is looked at.
type drawing struct {
	ctx      context.Context
	lib      *layout.Library
	top      *layout.Cell
	st       *stack.Stack
	opt      Options
	flat     *layout.Flat
	shapes   []placed
	pieces   []piece                     // of all layers
	conduct  [layout.MaxLayers]conductor // by layer
	crossing conductor                   // gate over diffusion
	asked    []extract.Asked             // by piece: its net
	devices  *extract.Result
	byPlace  *grid                  // of shapes
	landing  [layout.MaxLayers]bool // contact layers that were swept
	findings []Finding
	done     int
}

// conductor is a layer with the borders of its pieces.
type conductor struct {
	borders []border
	grid    *grid
	reach   []int32 // memory for what is near
}

func newDrawing(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack, opt Options) (*drawing, error) {
	if opt.ToleranceNm < 1 {
		return nil, fmt.Errorf("a tolerance of %s: give one above 0", um(opt.ToleranceNm))
	}
	if err := lib.CheckCycles(); err != nil {
		return nil, err
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, fmt.Errorf("flatten: %w", err)
	}
	d := &drawing{ctx: ctx, lib: lib, top: top, st: st, opt: opt, flat: flat, shapes: flatten(flat)}
	d.step()
	if err := d.sweepDevices(); err != nil {
		return nil, err
	}
	for l := range st.Layers {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		switch st.Layers[l].Role {
		case stack.Metal, stack.Pad:
			d.sweepOne(layout.Layer(l))
		case stack.Contact:
			d.sweepContact(layout.Layer(l))
		}
		d.step()
	}
	return d, d.findNets()
}

// step tells of progress: one step a layer, and a few more.
func (d *drawing) step() {
	d.done++
	if d.opt.Progress != nil {
		total := len(d.st.Layers) + 10
		d.opt.Progress(min(d.done, total), total)
	}
}

// take adds what a sweep has found. layerOf says which layer a region is of.
func (d *drawing) take(t *tracer, layers uint64, bitOf func(layout.Layer) uint8, more []layout.Shape, moreBit func(layout.Layer) uint8, layerOf func(region int) layout.Layer) (borders []border) {
	edges, x0, x1 := d.edges(layers, bitOf, more, moreBit)
	if len(edges) == 0 {
		return nil
	}
	pieces, borders := t.run(edges, x0, x1)
	base := int32(len(d.pieces))
	for i := range pieces {
		pieces[i].layer = layerOf(int(pieces[i].kind))
	}
	d.pieces = append(d.pieces, pieces...)
	for i := range borders {
		b := &borders[i]
		b.piece += base
		if b.part >= 0 {
			b.part += base
		}
		d.pieces[b.piece].perimeter += length(b.way())
	}
	return borders
}

func own(int) int { return -1 }

// sweepOne takes a layer that makes no device.
func (d *drawing) sweepOne(l layout.Layer) {
	t := &tracer{derive: func(m uint64) uint64 { return m }, kept: 1, partOf: own}
	bs := d.take(t, 1<<l, func(layout.Layer) uint8 { return 0 }, nil, nil, func(int) layout.Layer { return l })
	d.conduct[l] = conductor{borders: bs, grid: borderGrid(bs)}
}

// The regions of the sweep of devices: a layer itself is the region of its number; the source or drain of the k-th
// diffusion is that of firstPart + k.
type deviceRegions struct {
	diffusions []layout.Layer
	firstPart  int
	crossing   int
}

// sweepDevices takes diffusions and gates, and what a capacitor's rule asks for.
func (d *drawing) sweepDevices() error {
	var diffusions, gates, conditions uint64
	r := deviceRegions{}
	for l, layer := range d.st.Layers {
		switch layer.Role {
		case stack.Diffusion:
			diffusions |= 1 << l
			r.diffusions = append(r.diffusions, layout.Layer(l))
		case stack.Gate:
			gates |= 1 << l
		}
	}
	for _, c := range d.st.Capacitors {
		for _, w := range c.Where {
			conditions |= 1 << w.Layer
		}
	}
	// Numbers of layers may fill all bits of a mask, so that regions are numbered anew.
	var of []layout.Layer // by region
	region := map[layout.Layer]int{}
	for m := diffusions | gates; m != 0; m &= m - 1 {
		l := layout.Layer(bits.TrailingZeros64(m))
		region[l] = len(of)
		of = append(of, l)
	}
	r.firstPart = len(of)
	of = append(of, r.diffusions...)
	r.crossing = len(of)
	of = append(of, 0)
	if r.crossing >= layout.MaxLayers {
		return fmt.Errorf("%d diffusions and gates are more than can be looked at, %d with each diffusion counted twice; leave out layers that the stack does not use", r.firstPart, layout.MaxLayers-1)
	}
	derive := func(mask uint64) uint64 {
		var set uint64
		for m := mask & (diffusions | gates); m != 0; m &= m - 1 {
			set |= 1 << region[layout.Layer(bits.TrailingZeros64(m))]
		}
		if crosses(d.st, mask, diffusions, gates) {
			return set | 1<<r.crossing
		}
		for k, l := range r.diffusions {
			if mask>>l&1 != 0 {
				set |= 1 << (r.firstPart + k)
			}
		}
		return set
	}
	t := &tracer{derive: derive, kept: 1<<r.firstPart - 1 | 1<<r.crossing, partOf: func(k int) int {
		if k < r.firstPart {
			for i, l := range r.diffusions {
				if of[k] == l {
					return r.firstPart + i
				}
			}
		}
		return -1
	}}
	t.beyond[r.crossing] = (1<<len(r.diffusions) - 1) << r.firstPart
	bs := d.take(t, diffusions|gates|conditions, func(l layout.Layer) uint8 { return uint8(l) }, nil, nil, func(k int) layout.Layer { return of[k] })
	d.deal(bs, &r, of)
	return nil
}

// deal gives borders to their layers. What lies beyond the border of a crossing is told by two bits: onward.
func (d *drawing) deal(bs []border, r *deviceRegions, of []layout.Layer) {
	parts, gates := uint64(0), uint64(0)
	for k := range r.diffusions {
		parts |= 1 << (r.firstPart + k)
	}
	for k := range r.firstPart {
		if d.st.Layers[of[k]].Role == stack.Gate {
			gates |= 1 << k
		}
	}
	for _, b := range bs {
		kind := int(d.pieces[b.piece].kind)
		if kind == r.crossing {
			var out uint64
			if b.out&parts != 0 {
				out |= onDiffusion
			}
			if b.out&gates != 0 {
				out |= onGate
			}
			b.out = out
			d.crossing.borders = append(d.crossing.borders, b)
			continue
		}
		c := &d.conduct[of[kind]]
		c.borders = append(c.borders, b)
	}
	for k := range r.firstPart {
		c := &d.conduct[of[k]]
		c.grid = borderGrid(c.borders)
	}
	for i := range d.pieces {
		if p := &d.pieces[i]; int(p.kind) == r.crossing {
			p.layer, p.crossing = d.gateAt(p.within), true
		}
	}
}

// What lies right of the border of a crossing.
const (
	onDiffusion = 1 << iota
	onGate
)

// gateAt returns the gate layer that covers a place.
func (d *drawing) gateAt(p geom.Point) layout.Layer {
	gate := layout.Layer(0)
	d.shapesNear(geom.Rect{Min: p, Max: p}, func(s *placed) bool {
		if d.st.Layers[s.layer].Role == stack.Gate && d.polygon(s).Locate(p) != geom.Outside {
			gate = s.layer
		}
		return d.st.Layers[gate].Role != stack.Gate
	})
	return gate
}

// crosses reports whether gate crosses diffusion where a mask holds, as netlist/extract has it: a capacitor's rule may let
// the diffusion pass beneath the gate.
func crosses(st *stack.Stack, mask, diffusions, gates uint64) bool {
	if mask&diffusions == 0 {
		return false
	}
	below := layout.Layer(bits.TrailingZeros64(mask & diffusions))
next:
	for m := mask & gates; m != 0; m &= m - 1 {
		upper := layout.Layer(bits.TrailingZeros64(m))
		for _, c := range st.Capacitors {
			if c.Upper == upper && c.Lower == below && holds(c.Where, mask) {
				continue next
			}
		}
		return true
	}
	return false
}

func holds(where []stack.Condition, mask uint64) bool {
	for _, c := range where {
		if mask>>c.Layer&1 != 0 == c.Not {
			return false
		}
	}
	return true
}

// findNets asks netlist/extract which net each piece of a conductor is part of.
func (d *drawing) findNets() error {
	ask := make([]layout.Place, len(d.pieces))
	for i := range d.pieces {
		ask[i] = layout.Place{Layer: d.pieces[i].layer, At: d.pieces[i].within}
	}
	res, err := extract.Run(d.ctx, d.lib, d.top, d.st, extract.Options{Ask: ask})
	if err != nil {
		return err
	}
	d.devices, d.asked = res, res.Asked
	for i := range d.pieces {
		d.pieces[i].net = d.asked[i].Net
	}
	return nil
}

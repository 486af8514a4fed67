package check

import (
	"fmt"
	"math/bits"

	"undermetal/layout"
	"undermetal/layout/stack"
)

// deviceRegions are the regions of the sweep of diffusions and gates: first the layers themselves, then the sources and drains
// of each diffusion, then where gate crosses diffusion. They are numbered anew, since layers may fill all bits of a mask.
type deviceRegions struct {
	st                *stack.Stack
	diffusions, gates uint64 // layers
	of                []layout.Layer
	region            [layout.MaxLayers]int // of a diffusion or gate
	part              []int                 // by region of a diffusion: that of its sources and drains
	parts             uint64                // these, as a mask
	crossing          int
}

func newDeviceRegions(st *stack.Stack) (*deviceRegions, error) {
	r := &deviceRegions{st: st}
	for l, layer := range st.Layers {
		switch layer.Role {
		case stack.Diffusion:
			r.diffusions |= 1 << l
		case stack.Gate:
			r.gates |= 1 << l
		default:
			continue
		}
		r.region[l] = len(r.of)
		r.of = append(r.of, layout.Layer(l))
	}
	layers := len(r.of)
	r.part = make([]int, layers)
	for k, l := range r.of[:layers] {
		r.part[k] = -1
		if r.diffusions>>l&1 != 0 {
			r.part[k] = len(r.of)
			r.parts |= 1 << len(r.of)
			r.of = append(r.of, l)
		}
	}
	r.crossing = len(r.of)
	r.of = append(r.of, 0)
	if r.crossing >= layout.MaxLayers {
		return nil, fmt.Errorf("%d layers of diffusion and gate are too many to look at: %d at most, each diffusion counted twice; leave out those that the drawing does not use", layers, layout.MaxLayers-1)
	}
	return r, nil
}

// derive returns the regions that cover a place with the layers of mask.
func (r *deviceRegions) derive(mask uint64) uint64 {
	crossed := crosses(r.st, mask, r.diffusions, r.gates)
	var set uint64
	for m := mask & (r.diffusions | r.gates); m != 0; m &= m - 1 {
		k := r.region[bits.TrailingZeros64(m)]
		set |= 1 << k
		if p := r.part[k]; p >= 0 && !crossed {
			set |= 1 << p
		}
	}
	if crossed {
		set |= 1 << r.crossing
	}
	return set
}

// partOf returns the region of sources and drains that a diffusion has.
func (r *deviceRegions) partOf(region int) int {
	if region < len(r.part) {
		return r.part[region]
	}
	return -1
}

// sweepDevices takes diffusions and gates, and what a capacitor's rule asks for.
func (d *drawing) sweepDevices() (*job, error) {
	r, err := newDeviceRegions(d.st)
	if err != nil {
		return nil, err
	}
	layers := r.diffusions | r.gates
	for _, c := range d.st.Capacitors {
		for _, w := range c.Where {
			layers |= 1 << w.Layer
		}
	}
	t := &tracer{derive: r.derive, kept: 1<<len(r.part) - 1 | 1<<r.crossing, partOf: r.partOf, note: func(m uint64) uint64 { return m & r.gates }}
	t.beyond[r.crossing] = r.parts
	return &job{tracer: t, layers: layers, bitOf: func(l layout.Layer) uint8 { return uint8(l) },
		layerOf: func(k int) layout.Layer { return r.of[k] }, put: func(bs []border) { d.deal(bs, r) }}, nil
}

// deal gives borders to their layers. What lies right of the border of a crossing is told by two bits: onDiffusion, onGate.
func (d *drawing) deal(bs []border, r *deviceRegions) {
	var gates uint64
	for k, p := range r.part {
		if p < 0 {
			gates |= 1 << k
		}
	}
	for _, b := range bs {
		p := &d.pieces[b.piece]
		if int(p.kind) != r.crossing {
			c := &d.conduct[p.layer]
			c.borders = append(c.borders, b)
			continue
		}
		p.crossing = true
		var out uint64
		if b.out&r.parts != 0 {
			out |= onDiffusion
		}
		if b.out&gates != 0 {
			out |= onGate
		}
		b.out = out
		d.crossing = append(d.crossing, b)
	}
	for k := range r.part {
		c := &d.conduct[r.of[k]]
		c.grid = borderGrid(c.borders)
	}
	for i := range d.pieces {
		if p := &d.pieces[i]; p.crossing {
			p.layer = layout.Layer(bits.TrailingZeros64(p.seen)) // of several gates, the first of the stack
		}
	}
}

// What lies right of the border of a crossing.
const (
	onDiffusion = 1 << iota
	onGate
)

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

package check

import (
	"context"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"

	"undermetal/layout"
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
	crossing []border                    // of where gate crosses diffusion
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
	d := &drawing{ctx: ctx, lib: lib, top: top, st: uncut(st), opt: opt, flat: flat, shapes: flatten(flat)}
	d.step()
	if err := d.sweepAll(); err != nil {
		return nil, err
	}
	return d, d.findNets()
}

// uncut returns a stack without its rules for resistors: a piece goes through a resistor's body here, so that its ends must
// be one net.
func uncut(st *stack.Stack) *stack.Stack {
	s := *st
	s.Resistors = nil
	return &s
}

// sweepAll sweeps the layers, several at a time.
func (d *drawing) sweepAll() error {
	devices, err := d.sweepDevices()
	if err != nil {
		return err
	}
	jobs := []*job{devices}
	for l := range d.st.Layers {
		switch d.st.Layers[l].Role {
		case stack.Metal, stack.Pad:
			jobs = append(jobs, d.sweepOne(layout.Layer(l)))
		case stack.Contact:
			jobs = append(jobs, d.sweepContact(layout.Layer(l)))
		}
	}
	eg, ctx := errgroup.WithContext(d.ctx)
	workers := d.opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	eg.SetLimit(workers)
	for _, j := range jobs {
		eg.Go(func() error {
			if ctx.Err() == nil {
				j.pieces, j.borders = j.tracer.run(ctx, d.strips(j))
			}
			return ctx.Err()
		})
	}
	if err := eg.Wait(); err != nil {
		return err
	}
	for _, j := range jobs {
		d.take(j)
		d.step()
	}
	return nil
}

// job is one sweep.
type job struct {
	tracer  *tracer
	layers  uint64 // whose shapes are swept
	bitOf   func(layout.Layer) uint8
	more    []layout.Shape // and others
	moreBit func(layout.Layer) uint8
	layerOf func(region int) layout.Layer // that a region's pieces are of
	put     func([]border)                // takes the borders

	pieces  []piece
	borders []border
}

// step tells of progress: one step a layer, and a few more.
func (d *drawing) step() {
	d.done++
	if d.opt.Progress != nil {
		total := len(d.st.Layers) + 10
		d.opt.Progress(min(d.done, total), total)
	}
}

// take adds what a sweep has found.
func (d *drawing) take(j *job) {
	base := int32(len(d.pieces))
	for i := range j.pieces {
		j.pieces[i].layer = j.layerOf(int(j.pieces[i].kind))
	}
	d.pieces = append(d.pieces, j.pieces...)
	for i := range j.borders {
		b := &j.borders[i]
		b.piece += base
		if b.part >= 0 {
			b.part += base
		}
		d.pieces[b.piece].perimeter += length(b.way())
	}
	j.put(j.borders)
}

func own(int) int { return -1 }

// sweepOne takes a layer that makes no device.
func (d *drawing) sweepOne(l layout.Layer) *job {
	return &job{tracer: &tracer{derive: func(m uint64) uint64 { return m }, kept: 1, partOf: own}, layers: 1 << l, bitOf: func(layout.Layer) uint8 { return 0 },
		layerOf: func(int) layout.Layer { return l }, put: func(bs []border) { d.conduct[l] = conductor{borders: bs, grid: borderGrid(bs)} }}
}

// findNets asks netlist/extract which net each piece of a conductor is part of.
func (d *drawing) findNets() error {
	ask := make([]layout.Place, len(d.pieces))
	for i := range d.pieces {
		ask[i] = layout.Place{Layer: d.pieces[i].layer, At: d.pieces[i].within}
	}
	res, err := extract.Run(d.ctx, d.lib, d.top, d.st, extract.Options{Ask: ask, Workers: d.opt.Workers})
	if err != nil {
		return err
	}
	d.devices, d.asked = res, res.Asked
	for i := range d.pieces {
		d.pieces[i].net = d.asked[i].Net
	}
	return nil
}

package extract

import (
	"context"
	"math/bits"
	"runtime"
	"slices"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// shapesPerStrip is about how many shapes a strip gets: few enough that a height is crossed by some dozen edges, many
// enough that the pieces cut by the borders do not count. stripsPerBand is how many strips a walk through the drawing
// deals edges to: all that is held of the drawing's edges at a time is a band a worker.
const (
	shapesPerStrip = 2000
	stripsPerBand  = 16
)

// scene is the drawing as all groups see it; it does not change while they are swept.
type scene struct {
	flat     *layout.Flat
	traced   []layout.Shape
	labels   []label
	outlines map[*layout.Shape]outline
	bounds   geom.Rect
	upright  bool // no placement turns by other than quarters
}

// outline is that of a drawn shape in its cell, found once for all its placements.
type outline struct {
	segs    []sweep.Seg
	slanted bool
}

// label is a name with the place that it has in the frame.
type label struct {
	layer layout.Layer
	at    geom.Point
	text  string
	path  string // of the instance it was drawn in, empty for the top cell
}

func (p *plan) newScene(lib *layout.Library, flat *layout.Flat) *scene {
	s := &scene{flat: flat, traced: lib.Traced, outlines: map[*layout.Shape]outline{}, bounds: flat.Bounds(), upright: flat.Upright()}
	layers := uint64(0)
	for _, g := range p.groups {
		layers |= g.layers
	}
	prepare := func(sh *layout.Shape) {
		if layers>>sh.Layer&1 != 0 {
			segs := sweep.Outline(sh.Polygon)
			s.outlines[sh] = outline{segs, slices.ContainsFunc(segs, sweep.Seg.Slanted)}
		}
	}
	flat.Drawn(prepare)
	for i := range s.traced {
		prepare(&s.traced[i])
		s.bounds = s.bounds.Union(s.traced[i].Polygon.Bounds())
	}
	flat.Labels(func(l *layout.Label, at geom.Point, path string) {
		if (l.Layer == p.st.SubstrateLayer() || p.groupOf[l.Layer] != nil) && l.Text != "" {
			s.labels = append(s.labels, label{l.Layer, at, l.Text, path})
		}
	})
	return s
}

// outlineOf returns the outline of a shape that is placed by t, in buf where it must be made.
func (s *scene) outlineOf(sh *layout.Shape, t geom.Transform, buf []sweep.Seg) (segs []sweep.Seg, slanted bool) {
	if !t.Upright() {
		segs = sweep.Outline(t.ApplyPolygon(sh.Polygon))
		return segs, slices.ContainsFunc(segs, sweep.Seg.Slanted)
	}
	o := s.outlines[sh]
	mirror := t.Mirrors()
	for _, g := range o.segs {
		a, b := t.Apply(g.A), t.Apply(g.B)
		if mirror {
			a, b = b, a
		}
		buf = append(buf, sweep.Seg{A: a, B: b, Part: g.Part})
	}
	return buf, o.slanted
}

// dealing is a group on its way to strips.
type dealing struct {
	*group
	scene  *scene
	noder  *sweep.Noder
	cut    *sweep.Dealer // all strips, without edges
	probes []sweep.Probe // by x
	sinks  []*collector
}

// sweepAll sweeps every group and merges what was found into f.
func (p *plan) sweepAll(ctx context.Context, f *forest, s *scene, opt Options) error {
	if s.bounds.Empty() {
		return nil
	}
	if opt.Workers <= 0 {
		opt.Workers = runtime.GOMAXPROCS(0)
	}
	type job struct {
		d     *dealing
		first int // strip of the band
	}
	var jobs []job
	var all []*dealing
	done := progress{tell: opt.Progress}
	for _, g := range p.groups {
		d, err := g.newDealing(ctx, s, opt)
		if err != nil {
			return err
		}
		all = append(all, d)
		for k := 0; k < len(d.sinks); k += stripsPerBand {
			jobs = append(jobs, job{d, k})
		}
		done.total += len(d.sinks)
	}
	var next atomic.Int64
	eg, ectx := errgroup.WithContext(ctx)
	for range opt.Workers {
		eg.Go(func() error {
			var w worker
			for k := next.Add(1) - 1; int(k) < len(jobs); k = next.Add(1) - 1 {
				if err := w.band(ectx, jobs[k].d, jobs[k].first, &done); err != nil {
					return err
				}
			}
			return nil
		})
	}
	if err := eg.Wait(); err != nil {
		return err
	}
	for _, d := range all {
		f.merge(d.group, d.sinks)
		d.sinks = nil
	}
	return ctx.Err()
}

// newDealing cuts the drawing into strips for a group, and settles where its slanted edges go.
func (g *group) newDealing(ctx context.Context, s *scene, opt Options) (*dealing, error) {
	d := &dealing{group: g, scene: s}
	n := opt.Strips
	if n <= 0 {
		count := 0
		for m := g.layers; m != 0; m &= m - 1 {
			count += s.flat.Count(layout.Layer(bits.TrailingZeros64(m)))
		}
		n = count/shapesPerStrip + 1
	}
	d.cut = sweep.NewDealer(s.bounds.Min.X-1, s.bounds.Max.X+1, n)
	d.sinks = make([]*collector, len(d.cut.Strips))
	for i, l := range s.labels {
		if l.layer != g.plan.st.SubstrateLayer() && g.plan.groupOf[l.layer] == g {
			d.probes = append(d.probes, sweep.Probe{X: int32(l.at.X), Y: int32(l.at.Y), Layer: uint8(l.layer), ID: int32(i)})
		}
	}
	slices.SortStableFunc(d.probes, func(a, b sweep.Probe) int { return int(a.X) - int(b.X) })
	err := d.node(ctx, opt.Workers)
	return d, err
}

// node finds out which grid points the slanted edges of the group are led through.
func (d *dealing) node(ctx context.Context, workers int) error {
	var slanted []sweep.Seg
	if !d.scene.upright || d.anySlanted() {
		err := d.each(ctx, nil, func(segs []sweep.Seg, _ layout.Layer, isSlanted bool) {
			if isSlanted {
				for _, s := range segs {
					if s.Slanted() {
						slanted = append(slanted, s)
					}
				}
			}
		})
		if err != nil {
			return err
		}
	}
	d.noder = sweep.NewNoder(slanted)
	if len(slanted) == 0 {
		return nil
	}
	err := d.each(ctx, d.noder.Near, func(segs []sweep.Seg, _ layout.Layer, _ bool) {
		for _, s := range segs {
			d.noder.AddUpright(s)
		}
	})
	d.noder.Settle(workers)
	return err
}

func (d *dealing) anySlanted() bool {
	for s, o := range d.scene.outlines {
		if o.slanted && d.layers>>s.Layer&1 != 0 {
			return true
		}
	}
	return false
}

// each calls f with the outline of the group's shapes and traced areas, as far as overlaps is true of a box around them
// or a cell that they are in; nil: all. Edges of contacts are tagged with the number of their shape, by which the parts
// of a contact are known again in another group. Traced areas come with the number of their mask bit for a layer.
func (d *dealing) each(ctx context.Context, overlaps func(geom.Rect) bool, f func(segs []sweep.Seg, layer layout.Layer, slanted bool)) error {
	var buf []sweep.Seg
	n := 0
	w := layout.Walk{Layers: d.layers, Numbered: d.tagged, Overlaps: overlaps, Yield: func(sh *layout.Shape, t geom.Transform, number int) bool {
		var slanted bool
		buf, slanted = d.scene.outlineOf(sh, t, buf[:0])
		if d.tagged>>sh.Layer&1 != 0 {
			for i := range buf {
				buf[i].Tag = uint32(number + 1)
			}
		}
		f(buf, sh.Layer, slanted)
		n++
		return n%1024 != 0 || ctx.Err() == nil
	}}
	w.Run(d.scene.flat)
	for i := range d.scene.traced {
		if sh := &d.scene.traced[i]; d.plan.groupOf[sh.Layer] == d.group {
			o := d.scene.outlines[sh]
			f(o.segs, layout.Layer(bits.TrailingZeros64(d.plan.tracedBit[sh.Layer])), o.slanted)
		}
	}
	return ctx.Err()
}

// worker sweeps bands, one after the other.
type worker struct {
	dealer sweep.Dealer
	noded  []sweep.Seg
	squeeze
}

// band deals the edges of some strips and sweeps these.
func (w *worker) band(ctx context.Context, d *dealing, first int, done *progress) error {
	w.dealer.Take(d.cut, first, min(stripsPerBand, len(d.sinks)-first))
	strips := w.dealer.Strips
	lo, hi := strips[0].X0, strips[len(strips)-1].X1
	err := d.each(ctx, func(r geom.Rect) bool { return r.Max.X >= lo && r.Min.X <= hi }, func(segs []sweep.Seg, layer layout.Layer, slanted bool) {
		if slanted {
			w.noded = w.noded[:0]
			for _, s := range segs {
				w.noded = d.noder.AppendNoded(w.noded, s)
			}
			segs = w.noded
		}
		w.dealer.Shape(segs, uint8(layer))
	})
	if err != nil {
		return err
	}
	at, _ := slices.BinarySearchFunc(d.probes, lo, func(p sweep.Probe, x int) int { return int(p.X) - x })
	for ; at < len(d.probes) && int(d.probes[at].X) <= hi; at++ {
		w.dealer.Probe(d.probes[at])
	}
	for k, s := range strips {
		if err := ctx.Err(); err != nil {
			return err
		}
		c := &collector{forest: newForest(), group: d.forStrip(), labels: d.scene.labels, clip: sweep.Clip{X0: float64(s.X0), X1: float64(s.X1)}}
		sweep.Sweep(s, c)
		w.squeeze.run(c)
		d.sinks[first+k] = c
		done.one()
	}
	return nil
}

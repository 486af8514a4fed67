package extract

import (
	"context"
	"math"
	"math/bits"
	"runtime"
	"slices"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

const (
	crossed       = 12 // about how many shapes a height of a strip crosses
	leastShapes   = 500
	stripsPerBand = 8 // how many strips a walk through the drawing deals edges to
)

// stripCount returns into how many strips a drawing of so many shapes is cut. In narrow strips a height is crossed by few
// edges, which the sweep looks at anew for every event; in wide ones fewer shapes are cut by borders. For shapes that lie
// evenly, a pitch of √(area / count) apart, the strip is as wide as some of these.
func stripCount(shapes int, box geom.Rect) int {
	pitch := math.Sqrt(float64(box.Width()+1) * float64(box.Height()+1) / float64(shapes+1))
	return min(int(float64(box.Width())/(crossed*pitch)), shapes/leastShapes) + 1
}

// scene is the drawing as all groups see it; it does not change while they are swept.
type scene struct {
	flat     *layout.Flat
	traced   []layout.Shape
	labels   []label
	outlines []outline // by layout.Placed.Index, then those of traced
	bounds   geom.Rect
	slanted  uint64 // layers on which edges may be slanted

	verdicts     []placedVerdict
	firstVerdict int // the index of the first one's label
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
	asked bool   // no label, but a place of Options.Ask or of a verdict

	verdict bool // all regions at the place are wanted
}

func (p *plan) newScene(lib *layout.Library, flat *layout.Flat, opt Options) *scene {
	s := &scene{flat: flat, traced: lib.Traced, bounds: flat.Bounds()}
	layers := uint64(0)
	for _, g := range p.groups {
		layers |= g.layers
	}
	prepare := func(sh *layout.Shape) {
		var o outline
		if layers>>sh.Layer&1 != 0 {
			o.segs = sweep.Outline(sh.Polygon)
			o.slanted = anySlanted(o.segs)
		}
		s.outlines = append(s.outlines, o)
		if o.slanted {
			s.slanted |= 1 << sh.Layer
		}
	}
	for _, sh := range flat.Drawn() {
		prepare(sh)
	}
	for i := range s.traced {
		prepare(&s.traced[i])
		s.bounds = s.bounds.Union(s.traced[i].Polygon.Bounds())
	}
	if !flat.Upright() {
		s.slanted = ^uint64(0)
	}
	flat.Labels(func(l *layout.Label, at geom.Point, path string) {
		if (l.Layer == p.substrate || p.groupOf[l.Layer] != nil || path == "") && l.Text != "" {
			s.labels = append(s.labels, label{layer: l.Layer, at: at, text: l.Text, path: path})
		}
	})
	flat.Verdicts(func(v *layout.Verdict, at geom.Point, in layout.Instance) {
		s.verdicts = append(s.verdicts, placedVerdict{UsedVerdict: UsedVerdict{Verdict: *v, Path: in.Path, Cell: in.Cell.Name, At: at, Region: NoRegion}})
	})
	for _, v := range opt.Leading {
		s.verdicts = append(s.verdicts, placedVerdict{UsedVerdict: UsedVerdict{Verdict: v, At: v.At, Region: NoRegion}, leading: true})
	}
	sortVerdicts(s.verdicts)
	s.firstVerdict = len(s.labels)
	for i := range s.verdicts {
		s.labels = append(s.labels, label{layer: s.verdicts[i].Layer, at: s.verdicts[i].At, asked: true, verdict: true})
	}
	for _, a := range opt.Ask {
		s.labels = append(s.labels, label{layer: a.Layer, at: a.At, asked: true})
	}
	return s
}

// mayBeSlanted reports whether a placed shape may have slanted edges.
func (s *scene) mayBeSlanted(p *layout.Placed) bool { return !p.Upright || s.outlines[p.Index].slanted }

func anySlanted(segs []sweep.Seg) bool {
	for i := range segs {
		if segs[i].Slanted() {
			return true
		}
	}
	return false
}

// outlineOf returns the outline of a placed shape, in buf where there is room; turned is memory, too.
func (s *scene) outlineOf(p *layout.Placed, buf []sweep.Seg, turned *geom.Polygon) (segs []sweep.Seg, slanted bool) {
	if !p.Upright {
		*turned = p.Transform.ApplyPolygonIn(*turned, p.Polygon)
		segs = sweep.AppendOutline(buf, *turned)
		return segs, anySlanted(segs)
	}
	o := &s.outlines[p.Index]
	mirror := p.Turn.Mirrors()
	var was, is geom.Point // the last end, as drawn and as placed: most edges begin where the one before ends
	for i := range o.segs {
		g := &o.segs[i]
		if i == 0 || g.A != was {
			is = p.Turn.Apply(g.A)
		}
		a, b := is, p.Turn.Apply(g.B)
		was, is = g.B, b
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
	strips []*swept
}

// sweepAll sweeps every group, merges their regions into f and returns what the strips tell of them.
func (p *plan) sweepAll(ctx context.Context, f *forest, s *scene, opt Options) ([]*swept, error) {
	if s.bounds.Empty() {
		return nil, nil
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
	eg, ectx := errgroup.WithContext(ctx)
	eg.SetLimit(opt.Workers)
	for _, g := range p.groups {
		d := g.newDealing(s, opt)
		all = append(all, d)
		for k := 0; k < len(d.strips); k += stripsPerBand {
			jobs = append(jobs, job{d, k})
		}
		done.total += len(d.strips)
		eg.Go(func() error { return d.node(ectx, opt.Workers) })
	}
	if err := eg.Wait(); err != nil {
		return nil, err
	}
	var next atomic.Int64
	eg, ectx = errgroup.WithContext(ctx)
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
		return nil, err
	}
	f.grow(all)
	var strips []*swept
	for _, d := range all {
		f.merge(d.group, d.strips)
		strips = append(strips, d.strips...)
	}
	return strips, ctx.Err()
}

// newDealing cuts the drawing into strips for a group.
func (g *group) newDealing(s *scene, opt Options) *dealing {
	d := &dealing{group: g, scene: s}
	n := opt.Strips
	if n <= 0 {
		count := 0
		for m := g.layers; m != 0; m &= m - 1 {
			count += s.flat.Count(layout.Layer(bits.TrailingZeros64(m)))
		}
		n = stripCount(count, s.bounds)
	}
	d.cut = sweep.NewDealer(s.bounds.Min.X-1, s.bounds.Max.X+1, n)
	d.strips = make([]*swept, len(d.cut.Strips))
	for i, l := range s.labels {
		in := l.layer != g.plan.substrate && g.plan.groupOf[l.layer] == g
		if in = in || l.verdict && g.tagged>>l.layer&1 != 0; in && s.bounds.Contains(l.at) {
			d.probes = append(d.probes, sweep.Probe{X: int32(l.at.X), Y: int32(l.at.Y), Layer: uint8(l.layer), ID: int32(i)})
		}
	}
	slices.SortStableFunc(d.probes, func(a, b sweep.Probe) int { return int(a.X) - int(b.X) })
	return d
}

// node finds out which grid points the slanted edges of the group are led through.
func (d *dealing) node(ctx context.Context, workers int) error {
	var slanted, upright []sweep.Line
	if d.scene.slanted != 0 {
		err := d.each(ctx, want{layers: d.scene.slanted, slanted: yes}, func(segs []sweep.Seg, _ layout.Layer, _ bool) {
			if len(slanted)+len(segs) > cap(slanted) {
				slanted = slices.Grow(slanted, len(slanted)+len(segs)) // append alone would copy them over four times
			}
			slanted, upright = sweep.AppendLines(slanted, upright, segs)
		})
		if err != nil {
			return err
		}
	}
	d.noder = sweep.NewNoder(slanted, upright)
	if len(slanted) == 0 {
		return nil
	}
	err := d.each(ctx, want{layers: d.layers, slanted: no, overlaps: d.noder.Near}, func(segs []sweep.Seg, _ layout.Layer, _ bool) {
		for i := range segs {
			d.noder.AddUpright(segs[i].Line())
		}
	})
	d.noder.Settle(workers)
	return err
}

// asked says of some shapes whether they are asked for.
type asked uint8

const (
	also asked = iota // all shapes
	yes               // no others
	no                // only others
)

func (a asked) allows(slanted bool) bool { return a == also || slanted == (a == yes) }

// want is what of the drawing is asked for.
type want struct {
	layers   uint64               // as far as the group has them
	slanted  asked                // shapes with slanted edges
	overlaps func(geom.Rect) bool // whether a box around shapes may hold what is asked for; nil: all do
}

// each calls f with the outline of shapes and traced areas of the group. Edges of contacts are tagged with the number of
// their shape, by which the parts of a contact are known again in another group. Traced areas come with the number of
// their mask bit for a layer.
func (d *dealing) each(ctx context.Context, which want, f func(segs []sweep.Seg, layer layout.Layer, slanted bool)) error {
	var buf []sweep.Seg
	var turned geom.Polygon
	n := 0
	w := layout.Walk{Layers: d.layers & which.layers, Numbered: d.tagged, Overlaps: which.overlaps, Yield: func(p *layout.Placed) bool {
		if !which.slanted.allows(d.scene.mayBeSlanted(p)) {
			return true
		}
		var slanted bool
		buf, slanted = d.scene.outlineOf(p, buf[:0], &turned)
		if d.tagged>>p.Layer&1 != 0 {
			for i := range buf {
				buf[i].Tag = uint32(p.Number + 1)
			}
		}
		f(buf, p.Layer, slanted)
		n++
		return n%1024 != 0 || ctx.Err() == nil
	}}
	w.Run(d.scene.flat)
	for i := range d.scene.traced {
		if sh := &d.scene.traced[i]; d.plan.groupOf[sh.Layer] == d.group {
			o := d.scene.outlines[len(d.scene.flat.Drawn())+i]
			if which.slanted.allows(o.slanted) {
				f(o.segs, layout.Layer(bits.TrailingZeros64(d.plan.tracedBit[sh.Layer])), o.slanted)
			}
		}
	}
	return ctx.Err()
}

// worker sweeps bands, one after the other.
type worker struct {
	dealer  sweep.Dealer
	noded   []sweep.Seg
	sweeper sweep.Sweeper
	collector
	squeeze
}

// band deals the edges of some strips and sweeps these.
func (w *worker) band(ctx context.Context, d *dealing, first int, done *progress) error {
	w.dealer.Take(d.cut, first, min(stripsPerBand, len(d.strips)-first))
	strips := w.dealer.Strips
	lo, hi := strips[0].X0, strips[len(strips)-1].X1
	inBand := func(r geom.Rect) bool { return r.Max.X >= lo && r.Min.X <= hi }
	err := d.each(ctx, want{layers: d.layers, overlaps: inBand}, func(segs []sweep.Seg, layer layout.Layer, slanted bool) {
		if slanted {
			w.noded = d.noder.AppendNoded(w.noded[:0], segs)
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
		w.collector.reset(d, s)
		w.sweeper.Sweep(s, &w.collector)
		d.strips[first+k] = w.squeeze.run(&w.collector)
		done.one()
	}
	return nil
}

package extract

import (
	"context"
	"math/bits"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/sweep"
)

// shapesPerStrip is about how many shapes a strip gets: few enough that a height is crossed by some dozen edges, many
// enough that the pieces cut by the borders do not count.
const shapesPerStrip = 2000

// label is a name with the place that it has in the frame.
type label struct {
	layer layout.Layer
	at    geom.Point
	text  string
	path  string // of the instance it was drawn in, empty for the top cell
}

func (p *plan) collectLabels(flat *layout.Flat) []label {
	var labels []label
	flat.Labels(func(l *layout.Label, at geom.Point, path string) {
		if (l.Layer == p.st.SubstrateLayer() || p.groupOf[l.Layer] != nil) && l.Text != "" {
			labels = append(labels, label{l.Layer, at, l.Text, path})
		}
	})
	return labels
}

// sweepAll sweeps every group and merges what was found into f.
func (p *plan) sweepAll(ctx context.Context, f *forest, flat *layout.Flat, traced []layout.Shape, labels []label, opt Options) error {
	workers := opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	outlines := &outlines{known: map[*layout.Shape][]sweep.Seg{}}
	for i, g := range p.groups {
		strips, err := g.deal(ctx, flat, traced, labels, outlines, opt.Strips)
		if err != nil {
			return err
		}
		sinks := make([]*collector, len(strips))
		var done progress
		done.start(opt.Progress, i*len(strips), len(p.groups)*len(strips))
		eg, ectx := errgroup.WithContext(ctx)
		eg.SetLimit(workers)
		for k := range strips {
			eg.Go(func() error {
				if err := ectx.Err(); err != nil {
					return err
				}
				s := strips[k]
				sinks[k] = &collector{forest: newForest(), group: g.forStrip(), clip: sweep.Clip{X0: float64(s.X0), X1: float64(s.X1)}}
				sweep.Sweep(s, sinks[k])
				strips[k].Edges = nil
				done.one()
				return nil
			})
		}
		if err := eg.Wait(); err != nil {
			return err
		}
		f.merge(g, sinks)
	}
	return ctx.Err()
}

// progress counts strips and tells the caller.
type progress struct {
	mu          sync.Mutex
	tell        func(done, total int)
	done, total int
}

func (p *progress) start(tell func(int, int), done, total int) {
	p.tell, p.done, p.total = tell, done, total
}

func (p *progress) one() {
	if p.tell == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done++
	p.tell(p.done, p.total)
}

// outlines keeps the outline of each drawn shape, so that it is found once for all its placements.
type outlines struct {
	known map[*layout.Shape][]sweep.Seg
	buf   []sweep.Seg
}

// of returns the outline of s placed by t. It is valid until the next call.
func (o *outlines) of(s *layout.Shape, t geom.Transform) []sweep.Seg {
	if !t.Upright() {
		return sweep.Outline(t.ApplyPolygon(s.Polygon))
	}
	segs, ok := o.known[s]
	if !ok {
		segs = sweep.Outline(s.Polygon)
		o.known[s] = segs
	}
	o.buf = o.buf[:0]
	mirror := t.Mirrors()
	for _, g := range segs {
		a, b := t.Apply(g.A), t.Apply(g.B)
		if mirror {
			a, b = b, a
		}
		o.buf = append(o.buf, sweep.Seg{A: a, B: b})
	}
	return o.buf
}

// slantedShape is one that waits for the noder.
type slantedShape struct {
	segs  []sweep.Seg
	layer uint8
}

// deal makes the strips of one group.
func (g *group) deal(ctx context.Context, flat *layout.Flat, traced []layout.Shape, labels []label, o *outlines, n int) ([]sweep.Strip, error) {
	if n <= 0 {
		count := 0
		for l := range g.plan.st.Layers {
			if g.layers>>l&1 != 0 {
				count += flat.Count(layout.Layer(l))
			}
		}
		n = count/shapesPerStrip + 1
	}
	b := flat.Bounds()
	for i := range traced {
		b = b.Union(traced[i].Polygon.Bounds())
	}
	if b.Empty() {
		return nil, nil
	}
	d := sweep.NewDealer(b.Min.X-1, b.Max.X+1, n)
	slanted, all := g.dealUpright(ctx, flat, traced, o, d)
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(slanted) > 0 {
		noder := sweep.NewNoder(all)
		g.each(ctx, flat, traced, o, func(segs []sweep.Seg, _ uint8) {
			for _, s := range segs {
				noder.AddUpright(s)
			}
		})
		dealSlanted(slanted, noder, d)
	}
	for i, l := range labels {
		if l.layer != g.plan.st.SubstrateLayer() && g.plan.groupOf[l.layer] == g {
			g.probeRegion[int32(i)] = g.regionOf[l.layer]
			d.Probe(sweep.Probe{X: int32(l.at.X), Y: int32(l.at.Y), Layer: uint8(l.layer), ID: int32(i)})
		}
	}
	return d.Strips, nil
}

// each calls f with the outline of every shape of the group and of its traced areas. Edges of contacts are tagged with
// their number on the layer, by which the parts of a contact are known again in another group.
func (g *group) each(ctx context.Context, flat *layout.Flat, traced []layout.Shape, o *outlines, f func([]sweep.Seg, uint8)) {
	tagged := uint64(0)
	for i := range g.regions {
		if g.regions[i].kind == plug {
			tagged |= 1 << g.regions[i].layer
		}
	}
	n := 0
	var count [layout.MaxLayers]uint32
	flat.Shapes(func(s *layout.Shape, t geom.Transform) bool {
		if g.layers>>s.Layer&1 != 0 {
			segs := o.of(s, t)
			if tagged>>s.Layer&1 != 0 {
				for i := range segs {
					count[s.Layer]++
					segs[i].Tag = count[s.Layer]
				}
			}
			f(segs, uint8(s.Layer))
		}
		n++
		return n%1024 != 0 || ctx.Err() == nil
	})
	for i := range traced {
		s := &traced[i]
		if g.plan.groupOf[s.Layer] != g {
			continue
		}
		f(o.of(s, geom.Identity), uint8(bits.TrailingZeros64(g.plan.tracedBit[s.Layer])))
	}
}

// dealUpright deals out the shapes without slanted edges and returns the others with all their edges.
func (g *group) dealUpright(ctx context.Context, flat *layout.Flat, traced []layout.Shape, o *outlines, d *sweep.Dealer) (slanted []slantedShape, all []sweep.Seg) {
	g.each(ctx, flat, traced, o, func(segs []sweep.Seg, layer uint8) {
		for _, s := range segs {
			if s.Slanted() {
				slanted = append(slanted, slantedShape{append([]sweep.Seg(nil), segs...), layer})
				all = append(all, segs...)
				return
			}
		}
		d.Shape(segs, layer)
	})
	return slanted, all
}

// dealSlanted deals out the shapes with slanted edges, as noded.
func dealSlanted(shapes []slantedShape, noder *sweep.Noder, d *sweep.Dealer) {
	chains := noder.Node()
	var segs []sweep.Seg
	for _, s := range shapes {
		segs = segs[:0]
		for _, e := range s.segs {
			if !e.Slanted() {
				segs = append(segs, e)
				continue
			}
			chain := chains[0]
			chains = chains[1:]
			for i := 0; i+1 < len(chain); i++ {
				segs = append(segs, sweep.Seg{A: chain[i], B: chain[i+1], Tag: e.Tag})
			}
		}
		d.Shape(segs, s.layer)
	}
}

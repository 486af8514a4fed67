package desk

import (
	"context"
	"runtime"
	"slices"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise"
	"undermetal/recognise/question"
)

// live is the circuit of one state of the dossier. It does not change.
type live struct {
	snap      *snapshot
	stack     *stack.Stack
	res       *extract.Result
	sizes     []measure.Size // by device
	pieces    []piece
	byNet     map[int][]int // of pieces, by piece.net
	byPlace   []int32       // pieces in blocks
	blocks    []block
	whole     bool // all conductors are in pieces
	found     []check.Finding
	tolerance int
	questions []question.Question
	groups    []recognise.Suggestion
}

// piece is a part of a conductor that is one net, or a contact on it.
type piece struct {
	layer layout.Layer
	pg    geom.Polygon
	box   geom.Rect
	at    geom.Point // within
	net   int        // extract.Asked.Net; 0: none
	named netlist.Net
}

// mostPieces is how many flattened shapes nets are lit for.
const mostPieces = 200_000

// extract reads the circuit anew.
func (d *Desk) extract(ctx context.Context, j *job) (func(*Desk), error) {
	var s *snapshot
	var st *stack.Stack
	var over checking
	cell := d.cellNow()
	err := d.file.Moment(func(m dossier.Moment) (err error) {
		if s, err = take(m, cell); err != nil {
			return err
		}
		if st, err = m.Stack(); err != nil {
			return err
		}
		over, err = readChecking(m, st)
		return err
	})
	if err != nil {
		return nil, err
	}
	l, err := circuitOf(ctx, s, st, over, func(done, total int) { d.progress(j, done, total) })
	if err != nil {
		return nil, err
	}
	return func(d *Desk) {
		if s.cell != d.cell() {
			return // one is elsewhere now
		}
		d.live = l
		d.keepNet()
		d.keepQuestion()
		d.refresh()
	}, nil
}

// circuitOf extracts, checks, and asks.
func circuitOf(ctx context.Context, s *snapshot, st *stack.Stack, over checking, progress func(done, total int)) (*live, error) {
	l := &live{snap: s, stack: st, tolerance: over.opt.ToleranceNm, byNet: map[int][]int{}}
	lib, top := s.circuit(), s.top
	if s.cell != dossier.Frame { // these speak of the die's shapes
		over.opt.Shots, over.opt.Over, over.opt.Healed = nil, nil, nil
	}
	var err error
	if l.pieces, l.whole, err = pieces(ctx, lib, top, st); err != nil {
		return nil, err
	}
	contacts, err := l.contacts(top)
	if err != nil {
		return nil, err
	}
	ask := make([]layout.Place, 0, len(l.pieces)+3*len(contacts))
	for _, p := range l.pieces {
		ask = append(ask, layout.Place{Layer: p.layer, At: p.at})
	}
	for _, c := range contacts {
		for _, joined := range st.Layers[c.layer].Joins {
			ask = append(ask, layout.Place{Layer: joined, At: c.at})
		}
	}
	if l.res, err = extract.Run(ctx, lib, top, st, extract.Options{Progress: progress, Ask: ask, Facts: true, Outlines: true, Workers: spare()}); err != nil {
		return nil, err
	}
	for i := range l.pieces {
		l.pieces[i].net, l.pieces[i].named = l.res.Asked[i].Net, l.res.AskedNet(i)
	}
	l.land(contacts)
	l.arrange()
	for i, p := range l.pieces {
		if p.net > 0 {
			l.byNet[p.net] = append(l.byNet[p.net], i)
		}
	}
	from := over.sources(s)
	if over.known {
		measure.Correct(l.res, st, from)
	}
	solution, err := measure.Solve(ctx, l.res, measure.SolveOptions{Progress: progress, Gradient: true, Tolerance: 1e-4, Workers: spare()})
	if err != nil {
		return nil, err
	}
	l.sizes = measure.Sizes(l.res, st, from, solution)
	if over.opt.ToleranceNm > 0 {
		over.opt.Progress, over.opt.Workers = progress, spare()
		if l.found, err = check.Run(ctx, lib, top, st, over.opt); err != nil {
			return nil, err
		}
	}
	if l.questions, err = question.Ask(ctx, l.res, st, l.found, question.Options{Traced: lib.Traced, Progress: progress}); err != nil {
		return nil, err
	}
	found, err := recognise.Find(ctx, l.res.Circuit, recognise.Options{Missing: 1, Looked: recognise.LookedAt(lib.Traced), Workers: spare()})
	if err != nil {
		return nil, err
	}
	l.groups = recognise.Suggestions(l.res.Circuit, found)
	return l, nil
}

// spare is how many processors the background takes: all but one, which is for keys and pictures.
func spare() int { return max(1, runtime.GOMAXPROCS(0)-1) }

// pieces are the connected parts of all conductors, diffusion without what lies beneath gates.
func pieces(ctx context.Context, lib *layout.Library, top *layout.Cell, st *stack.Stack) (out []piece, whole bool, err error) {
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, false, err
	}
	byLayer := make([][]geom.Polygon, len(lib.Layers))
	n := 0
	flat.Shapes(func(s *layout.Shape, t geom.Transform) bool {
		if role := st.Layers[s.Layer].Role; role == stack.Diffusion || role == stack.Gate || role == stack.Metal {
			byLayer[s.Layer] = append(byLayer[s.Layer], t.ApplyPolygon(s.Polygon))
			n++
		}
		return n <= mostPieces
	})
	if n > mostPieces {
		return nil, false, nil
	}
	var gates []geom.Polygon
	for i := range st.Layers {
		if st.Layers[i].Role == stack.Gate {
			gates = append(gates, byLayer[i]...)
		}
	}
	crossing := newBoxes(gates)
	var trim region.Trimmer
	for i := range st.Layers {
		if ctx.Err() != nil { // an edit came meanwhile
			return nil, false, ctx.Err()
		}
		for _, p := range region.Polygons(region.Union(byLayer[i]...)) {
			if ctx.Err() != nil {
				return nil, false, ctx.Err()
			}
			parts := []geom.Polygon{p}
			if st.Layers[i].Role == stack.Diffusion {
				parts = without(&trim, p, crossing)
			}
			for _, pg := range parts {
				if at, ok := within(pg); ok {
					out = append(out, piece{layer: layout.Layer(i), pg: pg, box: pg.Bounds(), at: at, named: netlist.NoNet})
				}
			}
		}
	}
	return out, true, nil
}

// boxes finds polygons whose boxes meet another.
type boxes struct {
	all    []geom.Polygon // by the left sides of their boxes
	box    []geom.Rect
	widest int
}

func newBoxes(pgs []geom.Polygon) *boxes {
	x := &boxes{all: slices.Clone(pgs)}
	slices.SortFunc(x.all, func(a, b geom.Polygon) int { return a.Bounds().Min.X - b.Bounds().Min.X })
	for _, p := range x.all {
		b := p.Bounds()
		x.box = append(x.box, b)
		x.widest = max(x.widest, b.Width())
	}
	return x
}

func (x *boxes) near(box geom.Rect) (out []geom.Polygon) {
	from, _ := slices.BinarySearchFunc(x.box, box.Min.X-x.widest, func(b geom.Rect, v int) int { return b.Min.X - v })
	for k := from; k < len(x.box) && x.box[k].Min.X <= box.Max.X; k++ {
		if x.box[k].Overlaps(box) {
			out = append(out, x.all[k])
		}
	}
	return out
}

// without is what is left of a polygon beside others.
func without(trim *region.Trimmer, pg geom.Polygon, others *boxes) []geom.Polygon {
	near := others.near(pg.Bounds())
	if len(near) == 0 {
		return []geom.Polygon{pg}
	}
	return trim.Outside(pg, near...)
}

// within returns a point within a polygon, away from its edges: the middle of the widest stretch of a few level lines.
func within(pg geom.Polygon) (best geom.Point, ok bool) {
	box := pg.Bounds()
	widest := 0.0
	for k := 1; k <= 7; k++ {
		y := box.Min.Y + box.Height()*k/8
		xs := crossings(pg, float64(y)+0.25)
		for i := 0; i+1 < len(xs); i++ {
			p := geom.Point{X: geom.RoundHalfUp((xs[i] + xs[i+1]) / 2), Y: y}
			if w := xs[i+1] - xs[i]; w > widest && pg.Locate(p) == geom.Inside {
				best, widest, ok = p, w, true
			}
		}
	}
	return best, ok
}

// crossings are where edges meet a level line between two rows of the grid, from left to right.
func crossings(pg geom.Polygon, y float64) (xs []float64) {
	for _, r := range pg {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (float64(a.Y) < y) != (float64(b.Y) < y) {
				xs = append(xs, float64(a.X)+(y-float64(a.Y))*float64(b.X-a.X)/float64(b.Y-a.Y))
			}
		}
	}
	sortFloats(xs)
	return xs
}

// contacts are all contacts, as pieces without a net.
func (l *live) contacts(top *layout.Cell) (all []piece, err error) {
	if !l.whole {
		return nil, nil
	}
	flat, err := layout.Flatten(top)
	if err != nil {
		return nil, err
	}
	flat.Shapes(func(s *layout.Shape, t geom.Transform) bool {
		if l.stack.Layers[s.Layer].Role != stack.Contact {
			return true
		}
		pg := t.ApplyPolygon(s.Polygon)
		if at, ok := within(pg); ok {
			all = append(all, piece{layer: s.Layer, pg: pg, box: pg.Bounds(), at: at, named: netlist.NoNet})
		}
		return true
	})
	return all, nil
}

// land gives each contact the net of the topmost of what it joins that lies under its middle: that was asked for after all pieces.
func (l *live) land(contacts []piece) {
	asked := len(l.pieces)
	for _, c := range contacts {
		joins := len(l.stack.Layers[c.layer].Joins)
		for k := asked; k < asked+joins; k++ {
			if n := l.res.Asked[k].Net; n > 0 {
				c.net, c.named = n, l.res.AskedNet(k)
				break
			}
		}
		asked += joins
		l.pieces = append(l.pieces, c)
	}
}

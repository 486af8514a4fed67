package measure

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"undermetal/layout"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure/field"
)

// SolveOptions are what a caller may choose. None but Tolerance changes the result.
type SolveOptions struct {
	Workers   int                   // how many shapes are solved at a time; 0: one a processor
	Progress  func(done, total int) // called now and then, from one goroutine at a time; may be nil
	Tolerance float64               // of the figures, relative, 1e-10 to 0.1; 0: DefaultTolerance, and ManyTolerance where an outline has more than manyCorners
	Gradient  bool                  // what moving edges do is wanted: Sizes then says how well the figures are known
}

// DefaultTolerance is what nobody's photograph comes near.
const DefaultTolerance = 1e-6

// ManyTolerance is what outlines with many corners are solved to where nobody asks for more. Such an outline was traced, or comes from
// a mask of pixels, and is far less certain than that; to DefaultTolerance its steps, each a corner with a singularity, would take 30 times
// as long. Solution.Errors tells the bound that was reached. The steps are kept as they are: what moves a border to smooth them changes W/L
// by up to their height over W and over L, which is no less than what a pixel leaves open.
const (
	ManyTolerance = 1e-4
	manyCorners   = 100
)

// Solution says how well Solve knows its figures. All is by device of the circuit.
type Solution struct {
	Errors []float64 // bounds of what is numerically wrong with Device.Ratio, as parts of it; 0 where there is none
	Shapes int       // how many different outlines were solved
	Solved int       // how many devices have a figure

	gains [][]gain // of Device.Ratio; nil without SolveOptions.Gradient
}

// Solve finds the effective W/L of all channels that are not straight, and the squares of all resistors that are no
// rectangles, by Laplace's equation in their outlines (netlist/measure/field), and puts them into res: Device.Ratio, and of a
// resistor Value. res must come with Options.Outlines. W and L stay as they are.
//
// Source and drain, or the ends, are electrodes; all else of the border is insulated. Where there are more than two nets, the
// figure of each pair is what conducts between the two directly, as if each pair had a device of its own. A channel with one
// net has none: its source is its drain. Of a device that verdicts made of several channels it is the sum.
//
// What was drawn by hand is hardly ever a rectangle to the nanometre. Four corners that lie off by 1 % of the
// shorter side at most are taken for one: W/L by the rule is right there to 1e-4.
//
// Equal outlines, turned, mirrored and moved or not, are solved once. What cannot be solved keeps its simple figures and makes a
// warning, `not-solved`, of res. The error is that of ctx, or of a tolerance that makes no sense.
func Solve(ctx context.Context, res *extract.Result, opt SolveOptions) (*Solution, error) {
	if t := opt.Tolerance; t != 0 && !(t >= 1e-10 && t <= 0.1) {
		return nil, fmt.Errorf("W/L to %g of it was asked for: it must be between 1e-10 and 0.1", opt.Tolerance)
	}
	s := &solver{res: res, opt: opt, byKey: map[string]*solved{}, of: make([]*solved, len(res.Outlines)), normal: make([]*normal, len(res.Outlines))}
	s.gather()
	if err := s.solveAll(ctx); err != nil {
		return nil, err
	}
	s.warn(ctx)
	return s.apply(), ctx.Err()
}

// solver is Solve under way.
type solver struct {
	res    *extract.Result
	opt    SolveOptions
	byKey  map[string]*solved
	shapes []*solved // in the order of the outlines that they were found at first
	of     []*solved // by outline; nil where there is nothing to solve
	normal []*normal // by outline
}

// solved is what is known of one shape.
type solved struct {
	first, count int // the first outline that has it, and how many have
	shape        *normal
	conductance  [][]float64
	err          float64
	gains        map[[2]int][]gain // by pair of electrodes, the smaller first
	why          error             // it has no solution
}

// gather finds the outlines to be solved and which of them are equal.
func (s *solver) gather() {
	for i := range s.res.Outlines {
		o := &s.res.Outlines[i]
		if kind := s.res.Circuit.Devices[o.Devices[0]].Kind; !kind.IsMOS() && kind != netlist.Resistor {
			continue
		}
		if o.Broken {
			s.of[i] = &solved{first: i, count: 1, why: fmt.Errorf("its outline does not close; look for shapes that touch or overlap along one edge only")}
			s.shapes = append(s.shapes, s.of[i])
			continue
		}
		n := normalise(o)
		if len(n.nets) < 2 || n.nearlyStraight() {
			continue
		}
		s.normal[i] = n
		v := s.byKey[n.key]
		if v == nil {
			v = &solved{first: i, shape: n}
			s.byKey[n.key], s.shapes = v, append(s.shapes, v)
		}
		v.count++
		s.of[i] = v
	}
}

func (s *solver) solveAll(ctx context.Context) error {
	eg, ectx := errgroup.WithContext(ctx)
	workers := s.opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	eg.SetLimit(workers)
	var mu sync.Mutex
	done := 0
	for _, v := range s.shapes {
		if ectx.Err() != nil {
			break
		}
		eg.Go(func() error {
			if v.why == nil {
				v.solve(ectx, s.opt)
			}
			mu.Lock()
			defer mu.Unlock()
			if done++; s.opt.Progress != nil {
				s.opt.Progress(done, len(s.shapes))
			}
			return ectx.Err()
		})
	}
	if err := eg.Wait(); err != nil {
		return err
	}
	return ctx.Err()
}

// toleranceOf returns what a shape is solved to.
func (opt *SolveOptions) toleranceOf(s *field.Shape) float64 {
	corners := 0
	for _, r := range s.Rings {
		corners += len(r)
	}
	switch {
	case opt.Tolerance != 0:
		return opt.Tolerance
	case corners > manyCorners:
		return ManyTolerance
	}
	return DefaultTolerance
}

func (v *solved) solve(ctx context.Context, opt SolveOptions) {
	shape := v.shape.fieldShape()
	tolerance := opt.toleranceOf(&shape)
	if !opt.Gradient {
		var r *field.Result
		if r, v.why = field.Solve(ctx, shape, tolerance); v.why == nil {
			v.conductance, v.err = r.Conductance, r.Error
		}
		return
	}
	v.gains = map[[2]int][]gain{}
	for j := range v.shape.nets {
		for i := range j {
			r, g, err := field.SolveGradient(ctx, shape, tolerance, i, j)
			if err != nil {
				v.why = err
				return
			}
			v.conductance, v.err = r.Conductance, r.Error
			v.gains[[2]int{i, j}] = v.shape.gains(func(ring, edge int) float64 { return g.Edge[ring][edge] })
		}
	}
}

// warn tells of what has no solution, with the place at which it first lies.
func (s *solver) warn(ctx context.Context) {
	for _, v := range s.shapes {
		if v.why == nil || ctx.Err() != nil {
			continue
		}
		o := &s.res.Outlines[v.first]
		if v.shape != nil { // again, where it is drawn, so that the place in the text is right
			drawn := asDrawn(o)
			if _, err := field.Solve(ctx, drawn, s.opt.toleranceOf(&drawn)); err != nil {
				v.why = err
			}
		}
		what := "the W/L of a channel"
		if !s.res.Circuit.Devices[o.Devices[0]].Kind.IsMOS() {
			what = "the squares of a resistor"
		}
		more := ""
		if v.count > 1 {
			more = fmt.Sprintf(" (and of %d more of its shape)", v.count-1)
		}
		s.res.Warnings = append(s.res.Warnings, extract.Warning{Code: "not-solved", Text: fmt.Sprintf("%s%s could not be solved for and stays a rough figure: %v", what, more, v.why),
			Layer: s.res.LayerName(o.Layer), X: o.At.X, Y: o.At.Y})
	}
	slices.SortStableFunc(s.res.Warnings, func(a, b extract.Warning) int { return cmp.Compare(a.Code, b.Code) })
}

// apply gives devices their figures.
func (s *solver) apply() *Solution {
	devices := s.res.Circuit.Devices
	sol := &Solution{Errors: make([]float64, len(devices))}
	for _, v := range s.shapes {
		if v.why == nil {
			sol.Shapes++
		}
	}
	if s.opt.Gradient {
		sol.gains = make([][]gain, len(devices))
	}
	absolute := make([]float64, len(devices))
	for i, v := range s.of {
		if v == nil || v.why != nil {
			continue
		}
		o := &s.res.Outlines[i]
		for _, k := range o.Devices {
			d := &devices[k]
			a, b := s.electrodes(i, d)
			if a < 0 || b < 0 || a == b {
				continue
			}
			a, b = min(a, b), max(a, b)
			g := -v.conductance[a][b]
			switch simple := s.simple(o, d); {
			case d.Ratio == 0 && d.Fingers > 1:
				d.Ratio = d.W/d.L + g - simple
			case d.Fingers > 1:
				d.Ratio += g - simple
			default:
				d.Ratio = g
			}
			absolute[k] += v.err * math.Sqrt(v.conductance[a][a]*v.conductance[b][b])
			if d.Kind == netlist.Resistor && o.Sheet > 0 {
				d.Value = o.Sheet / d.Ratio
			}
			if s.opt.Gradient {
				sol.gains[k] = append(sol.gains[k], v.gains[[2]int{a, b}]...)
			}
		}
	}
	for k := range devices {
		if devices[k].Ratio > 0 {
			sol.Errors[k] = absolute[k] / devices[k].Ratio
			sol.Solved++
		}
	}
	return sol
}

// electrodes returns those of the nets of a device, -1 for none.
func (s *solver) electrodes(outline int, d *netlist.Device) (a, b int) {
	nets := s.normal[outline].nets
	if d.Kind.IsMOS() {
		return slices.Index(nets, d.Terminals[netlist.Drain]), slices.Index(nets, d.Terminals[netlist.Source])
	}
	return slices.Index(nets, d.Terminals[0]), slices.Index(nets, d.Terminals[1])
}

// simple returns W/L of one of several channels of a device, as the rule has it: half of its edges beside the two nets, over L.
func (s *solver) simple(o *extract.Outline, d *netlist.Device) float64 {
	if d.Fingers <= 1 {
		return 0
	}
	w := 0.0
	for r, ring := range o.Rings {
		for i, p := range ring {
			if n := o.Edges[r][i].Net; n == d.Terminals[netlist.Drain] || n == d.Terminals[netlist.Source] {
				q := ring[(i+1)%len(ring)]
				w += math.Hypot(q.X-p.X, q.Y-p.Y) / 2
			}
		}
	}
	return w / o.L
}

// asDrawn is an outline as field takes it, where it is drawn.
func asDrawn(o *extract.Outline) field.Shape {
	var nets []netlist.Net
	sh := field.Shape{Rings: o.Rings}
	for _, edges := range o.Edges {
		var ids []int
		for _, e := range edges {
			ids = append(ids, electrode(&nets, e.Net))
		}
		sh.Electrode = append(sh.Electrode, ids)
	}
	return sh
}

// electrode numbers nets in the order in which they come.
func electrode(nets *[]netlist.Net, n netlist.Net) int {
	if n == netlist.NoNet {
		return field.Insulated
	}
	k := slices.Index(*nets, n)
	if k < 0 {
		k = len(*nets)
		*nets = append(*nets, n)
	}
	return k
}

// gain is what a figure does when the edges of one layer move out, per nm.
type gain struct {
	layer layout.Layer
	noise float64 // root of the sum of the squares of what each line of edges does
	bias  float64 // all of them together
	scale float64 // what it does, relative, when the layer grows about the middle: per part
}

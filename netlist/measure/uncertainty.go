package measure

import (
	"maps"
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// Sigma holds the parts of the standard uncertainty of a figure, each in its unit and independent of the others.
type Sigma struct {
	Edge  float64 // from where edges were drawn
	Bias  float64 // from all edges of a layer lying off alike in a photograph (focus, threshold)
	Scale float64 // from the photograph's scale
}

// Combined is the standard uncertainty as a whole.
func (s Sigma) Combined() float64 { return math.Hypot(math.Hypot(s.Edge, s.Bias), s.Scale) }

// Origin is where a shape comes from.
type Origin struct {
	SigmaNm float64 // standard uncertainty of where its edges lie
	Shot    int     // the number of the photograph that it was traced over, from 0; negative: none
}

// Sources say how well a drawing is known.
type Sources struct {
	Origin func(*layout.Shape) Origin // of a shape of the drawing
	Scales []float64                  // standard uncertainties of the photographs' scales, as parts of them, by number, each for itself
	Frame  []float64                  // what all have in common beside that: the part of the frame's scale in theirs; may be nil

	// Bias says what is known of all edges of a layer lying off alike in a photograph, by its number; negative: in what was traced
	// over none. It may be nil: nothing is.
	Bias func(shot int, l layout.Layer) Bias
}

// Bias says how far all edges of a layer lie off alike.
type Bias struct {
	OutNm   float64 // how much further out of what the layer covers they really lie than they were drawn: Correct takes that into account
	SigmaNm float64 // standard uncertainty of that: Sizes does
}

func (s *Sources) bias(shot int, l layout.Layer) Bias {
	if s.Bias == nil {
		return Bias{}
	}
	return s.Bias(shot, l)
}

func (s *Sources) frame(shot int) float64 {
	if s.Frame == nil {
		return 0
	}
	return s.Frame[shot]
}

// Size says how well the sizes of a device are known, and from which photographs they come, in the order of their numbers. What
// a device does not have is 0, and all is for what was not traced over a photograph and states no uncertainty.
type Size struct {
	W, L      Sigma // nm, of a transistor by the rule, and of a resistor
	Ratio     Sigma // of W/L, effective where that was solved for; of a resistor of one over its squares
	Value     Sigma // ohm, farad
	Area      Sigma // nm², of a diode or a capacitor
	Perimeter Sigma // nm
	AS, AD    Sigma // nm², of a transistor, where extract.Options.Junctions asked for their outlines
	PS, PD    Sigma // nm
	Shots     []int
}

// Sizes returns the uncertainty of all devices of a circuit, in its order. solution is what Solve returned with
// SolveOptions.Gradient, or nil; then nothing is said of the effective W/L.
//
// Source and drain face each other across the gate's edges, and lie between the diffusion's. With σ the standard
// uncertainty of an edge of the shape over the channel, b that of the bias of its layer in its photograph, and s that of the scale of its
// photograph, with what it has in common with the others, as a part of it,
//
//	σ(W)² = 2·σ(diffusion)² + (2·b(diffusion))² + (s·W)²    σ(L)² = 2·σ(gate)² + (2·b(gate))² + (s·L)²
//
// the law of propagation, first order, for edges that err independently of each other (JCGM 100:2008, 5.1.2): exact for a
// straight channel, since moving an edge of the diffusion by δ changes W = ½·(both edges) by δ and L = area/W not at all, and
// the reverse for the gate. Where several shapes cover the channel, the most uncertain counts, for σ, b and s each.
//
// Everything else, and W and L of what has an outline, goes by what it does when one edge of that moves out by δ, g: of W/L the gradient
// of the solution, of an area the edge's length, of a perimeter the tangents of half the angles at its ends. Of W = ½·B, with B the border with source
// and drain, an edge changes what it ends: its own length by -cot θ, the next one's by 1/sin θ, of those that are of B (perBorder); of
// L = area/W it is (length - L·g(W))/W. So a mesh of n openings, all inside the diffusion, has g(W) = 1 for each of 4·n edges, and
// σ(W)² = 4·n·σ(gate)² + (4·n·b(gate))² + (s·W)²: not two edges of the diffusion, but all of the gate, and a bias of these adds up. An edge of the
// diffusion that 2·m bars of it end on counts m times, since all of them become longer together. Parts of one drawn edge are one (lineOf).
//
//	edge² = Σ over lines of (σ(layer)·Σg)²    bias² = Σ over layers of (b·Σg)²
//	scale² = Σ over photographs of (s·Σ g·h)² + (Σ f·g·h)²
//
// with s without what the photographs have in common, f that, and h the distance of an edge's line from the middle of the outline, positive where it faces away. W/L of what was traced
// over one photograph has no scale in it.
func Sizes(res *extract.Result, st *stack.Stack, from Sources, solution *Solution) []Size {
	u := newUncertainty(res, st, from)
	outlines := make([][]int, len(u.sizes)) // by device
	for k := range res.Outlines {
		for _, i := range res.Outlines[k].Devices {
			outlines[i] = append(outlines[i], k)
		}
	}
	for i := range u.sizes {
		d, s := &res.Circuit.Devices[i], &u.sizes[i]
		if w, l := u.sides(i); w >= 0 {
			by := func(ofW, ofL float64) Sigma { return u.sigma(i, u.lengths(i, outlines[i], w, l, ofW, ofL)) }
			s.W, s.L = by(1, 0), by(0, 1)
			switch {
			case !(d.W > 0 && d.L > 0):
			case d.Ratio == 0:
				s.Ratio = by(1/d.L, -d.W/d.L/d.L)
			case solution != nil && solution.gains != nil:
				s.Ratio = u.sigma(i, solution.gains[i])
			}
		}
		if d.Kind == netlist.Resistor && d.W > 0 && !math.IsNaN(d.Value) {
			r := d.W / d.L
			if d.Ratio > 0 {
				r = d.Ratio
			}
			s.Value = s.Ratio.times(d.Value / r)
		}
	}
	u.plates()
	u.junctions()
	return u.sizes
}

// known is what is known of the edges of a layer at a device.
type known struct {
	sigma  float64
	bias   float64 // its standard uncertainty
	out    float64 // what is known of it
	differ bool    // by the shapes that cover the device, out is not the same
	shots  []int
}

type uncertainty struct {
	res    *extract.Result
	st     *stack.Stack
	from   Sources
	sizes  []Size
	layers []map[layout.Layer]known // by device
}

func newUncertainty(res *extract.Result, st *stack.Stack, from Sources) *uncertainty {
	u := &uncertainty{res: res, st: st, from: from, sizes: make([]Size, len(res.Circuit.Devices)), layers: make([]map[layout.Layer]known, len(res.Circuit.Devices))}
	u.origins()
	return u
}

// origins gathers what is known of the layers of each device.
func (u *uncertainty) origins() {
	of := make([][]layout.Layer, len(u.sizes))
	var diffusions []layout.Layer
	for l := range u.st.Layers {
		if u.st.Layers[l].Role == stack.Diffusion {
			diffusions = append(diffusions, layout.Layer(l))
		}
	}
	for i := range of {
		switch d := &u.res.Circuit.Devices[i]; {
		case d.Kind.IsMOS():
			of[i] = append([]layout.Layer{u.res.Layer(i)}, diffusions...)
		case d.Kind == netlist.Resistor:
			of[i] = append([]layout.Layer{u.res.Layer(i)}, u.ends(i))
		}
	}
	for k := range u.res.Outlines {
		o := &u.res.Outlines[k]
		for _, i := range o.Devices {
			for _, edges := range o.Edges {
				for _, e := range edges {
					if int(e.Layer) < len(u.st.Layers) && !slices.Contains(of[i], e.Layer) { // a wire that a verdict made a resistor of has a mark that nobody drew
						of[i] = append(of[i], e.Layer)
					}
				}
			}
		}
	}
	u.res.DeviceShapes(func(i int) []layout.Layer { return slices.Compact(of[i]) }, func(i int, s *layout.Shape, t geom.Transform) {
		if u.layers[i] == nil {
			u.layers[i] = map[layout.Layer]known{}
		}
		is := u.knownOf(s, t)
		if k, again := u.layers[i][s.Layer]; again {
			is.differ = k.out != is.out
			is = k.or(is)
		}
		u.layers[i][s.Layer] = is
		for _, shot := range is.shots {
			if !slices.Contains(u.sizes[i].Shots, shot) {
				u.sizes[i].Shots = append(u.sizes[i].Shots, shot)
				slices.Sort(u.sizes[i].Shots)
			}
		}
	})
}

// knownOf returns what is known of the edges of a shape in one of its places.
func (u *uncertainty) knownOf(s *layout.Shape, t geom.Transform) known {
	from := u.from.Origin(s)
	_, magnification, _, _ := t.Parts()
	bias := u.from.bias(from.Shot, s.Layer)
	k := known{sigma: from.SigmaNm * magnification, bias: bias.SigmaNm * magnification, out: bias.OutNm * magnification}
	if from.Shot >= 0 {
		k.shots = []int{from.Shot}
	}
	return k
}

// or is what is known of edges of which some are known as k, others as l: the less certain counts.
func (k known) or(l known) known {
	shots := slices.Concat(k.shots, l.shots)
	slices.Sort(shots)
	return known{max(k.sigma, l.sigma), max(k.bias, l.bias), l.out, k.differ || l.differ, slices.Compact(shots)}
}

// ends returns the layer whose edges are the ends of a resistor's body: the first condition of its rule.
func (u *uncertainty) ends(device int) layout.Layer {
	body := u.res.Layer(device)
	for i := range u.st.Resistors {
		r := &u.st.Resistors[i]
		if r.Model != u.res.Circuit.Devices[device].Model || r.Body != body {
			continue
		}
		for _, c := range r.Where {
			if !c.Not {
				return c.Layer
			}
		}
	}
	return body
}

// sides returns the layers between whose edges W and L lie, -1 for a device without.
func (u *uncertainty) sides(device int) (w, l int) {
	at := int(u.res.Layer(device))
	switch d := &u.res.Circuit.Devices[device]; {
	case d.Kind == netlist.Resistor && d.W > 0:
		return at, int(u.ends(device))
	case d.Kind.IsMOS():
		w = -2 // a diffusion is not found there: nothing is known of it
		for layer, k := range u.layers[device] {
			if u.st.Layers[layer].Role == stack.Diffusion && (w < 0 || k.sigma > u.layers[device][layout.Layer(w)].sigma || k.sigma == u.layers[device][layout.Layer(w)].sigma && int(layer) < w) {
				w = int(layer)
			}
		}
		if w < 0 {
			w = layout.MaxLayers - 1
		}
		return w, at
	}
	return -1, -1
}

// side is a length between two edges of a layer that err independently.
func side(layer int, length float64) gain {
	return gain{layer: layout.Layer(layer), noise: math.Sqrt2, bias: 2, scale: length}
}

func (g gain) times(f float64) gain {
	return gain{g.layer, g.noise * math.Abs(f), g.bias * f, g.scale * f}
}

func (s Sigma) times(f float64) Sigma {
	f = math.Abs(f)
	return Sigma{s.Edge * f, s.Bias * f, s.Scale * f}
}

// sigma returns the uncertainty of a figure of a device by what moving edges do to it.
func (u *uncertainty) sigma(device int, gains []gain) Sigma {
	return u.sigmaBy(u.layers[device], device, gains)
}

// sigmaBy is sigma by what is known of layers elsewhere than at the device.
func (u *uncertainty) sigmaBy(layers map[layout.Layer]known, device int, gains []gain) Sigma {
	var s Sigma
	most := known{}
	for _, k := range layers { // for edges of a layer that does not cover the place
		most.sigma = max(most.sigma, k.sigma)
	}
	bias, scale, frame := map[layout.Layer]float64{}, map[int]float64{}, 0.0
	for _, g := range gains {
		k, ok := layers[g.layer]
		if !ok {
			k = most
			k.shots = u.sizes[device].Shots
			for _, n := range u.shots(device) {
				if int(g.layer) >= len(u.st.Layers) { // nobody drew it
					break
				}
				k.bias = max(k.bias, u.from.bias(n, g.layer).SigmaNm)
			}
		}
		s.Edge = math.Hypot(s.Edge, g.noise*k.sigma)
		bias[g.layer] += g.bias * k.bias
		// of several photographs the least certain scale counts
		shot, worst := -1, 0.0
		for _, n := range k.shots {
			if s := math.Hypot(u.from.Scales[n], u.from.frame(n)); shot < 0 || s > worst {
				shot, worst = n, s
			}
		}
		if shot >= 0 {
			scale[shot] += g.scale
			frame += g.scale * u.from.frame(shot)
		}
	}
	for _, l := range slices.Sorted(maps.Keys(bias)) {
		s.Bias = math.Hypot(s.Bias, bias[l])
	}
	for _, n := range slices.Sorted(maps.Keys(scale)) {
		s.Scale = math.Hypot(s.Scale, scale[n]*u.from.Scales[n])
	}
	s.Scale = math.Hypot(s.Scale, frame)
	return s
}

// shots returns the photographs that a device was traced over, -1 where it was over none.
func (u *uncertainty) shots(device int) []int {
	if len(u.sizes[device].Shots) == 0 {
		return []int{-1}
	}
	return u.sizes[device].Shots
}

// plates adds what is known of capacitors and diodes.
func (u *uncertainty) plates() {
	area, perimeter, value := make([][]gain, len(u.sizes)), make([][]gain, len(u.sizes)), make([][]gain, len(u.sizes))
	for k := range u.res.Outlines {
		o := &u.res.Outlines[k]
		kind := u.res.Circuit.Devices[o.Devices[0]].Kind
		if kind != netlist.Capacitor && kind != netlist.Diode || o.Broken {
			continue
		}
		n := oriented(o, 0)
		n.number(o)
		i := o.Devices[0]
		area[i] = append(area[i], n.gains(n.perArea)...)
		perimeter[i] = append(perimeter[i], n.gains(n.perPerimeter)...)
		value[i] = append(value[i], n.gains(func(r, e int) float64 {
			return (o.AreaAF*n.perArea(r, e)/1e6 + o.EdgeAF*n.perPerimeter(r, e)/1e3) / 1e18
		})...)
	}
	for i := range u.sizes {
		if area[i] != nil {
			s := &u.sizes[i]
			s.Area, s.Perimeter = u.sigma(i, area[i]), u.sigma(i, perimeter[i])
			if u.res.Circuit.Devices[i].Kind == netlist.Capacitor {
				s.Value = u.sigma(i, value[i])
			}
		}
	}
}

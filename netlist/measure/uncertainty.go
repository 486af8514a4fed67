package measure

import (
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
)

// Sigma holds the parts of the standard uncertainty of a length, each in nm and independent of the others.
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

// Size says how well W and L of a transistor are known, and from which photographs they come, in the order of their numbers.
// All is 0 for what was not traced over one and states no uncertainty.
type Size struct {
	W, L  Sigma
	Shots []int
}

// Sizes returns the uncertainty of all devices of a circuit, in its order. origin says where a shape of the drawing comes
// from, scales are the standard uncertainties of the photographs' scales as parts of them, by number. Nothing is said of
// devices other than transistors.
//
// Source and drain face each other across the gate's edges, and lie between the diffusion's. With σ the standard
// uncertainty of an edge of the shape over the channel, and s that of the scale of its photograph, as a part of it,
//
//	σ(W)² = 2·σ(diffusion)² + (s·W)²    σ(L)² = 2·σ(gate)² + (s·L)²
//
// the law of propagation, first order, for edges that err independently of each other (JCGM 100:2008, 5.1.2): exact for a
// straight channel, since moving an edge of the diffusion by δ changes W = ½·(both edges) by δ and L = area/W not at all, and
// the reverse for the gate. For bent and closed gates it is as rough as their W and L are. Where several shapes cover the
// channel, the most uncertain counts.
func Sizes(res *extract.Result, st *stack.Stack, scales []float64, origin func(*layout.Shape) Origin) []Size {
	sizes := make([]Size, len(res.Circuit.Devices))
	var diffusions []layout.Layer
	for l := range st.Layers {
		if st.Layers[l].Role == stack.Diffusion {
			diffusions = append(diffusions, layout.Layer(l))
		}
	}
	res.ChannelShapes(diffusions, func(i int, s *layout.Shape, t geom.Transform) {
		d := &res.Circuit.Devices[i]
		sigma, length := &sizes[i].L, d.L
		if st.Layers[s.Layer].Role == stack.Diffusion {
			sigma, length = &sizes[i].W, d.W
		}
		from := origin(s)
		_, magnification, _, _ := t.Parts()
		sigma.Edge = max(sigma.Edge, math.Sqrt2*from.SigmaNm*magnification)
		if from.Shot < 0 {
			return
		}
		sigma.Scale = max(sigma.Scale, scales[from.Shot]*length)
		if !slices.Contains(sizes[i].Shots, from.Shot) {
			sizes[i].Shots = append(sizes[i].Shots, from.Shot)
			slices.Sort(sizes[i].Shots)
		}
	})
	return sizes
}

package measure

import (
	"math"

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

// Size says how well W and L of a transistor are known, and from which photographs they come, by their numbers in
// Library.Shots counted from 1, in that order. All is 0 for what was not traced over one and states no uncertainty.
type Size struct {
	W, L  Sigma
	Shots []int
}

// Sizes returns the uncertainty of all devices of a circuit, in its order. scales are the standard uncertainties of the
// photographs' scales as parts of them, in the order of Library.Shots; none where there are none. Nothing is said of
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
func Sizes(res *extract.Result, st *stack.Stack, scales []float64) []Size {
	sizes := make([]Size, len(res.Circuit.Devices))
	var diffusions []layout.Layer
	for l := range st.Layers {
		if st.Layers[l].Role == stack.Diffusion {
			diffusions = append(diffusions, layout.Layer(l))
		}
	}
	shots := make([]map[int]bool, len(sizes))
	res.ChannelShapes(diffusions, func(i int, s *layout.Shape, t geom.Transform) {
		d := &res.Circuit.Devices[i]
		size, length := &sizes[i].L, d.L
		if st.Layers[s.Layer].Role == stack.Diffusion {
			size, length = &sizes[i].W, d.W
		}
		_, magnification, _, _ := t.Parts()
		size.Edge = max(size.Edge, math.Sqrt2*float64(s.SigmaNm)*magnification)
		if s.Shot > 0 {
			if k := int(s.Shot) - 1; k < len(scales) {
				size.Scale = max(size.Scale, scales[k]*length)
			}
			if shots[i] == nil {
				shots[i] = map[int]bool{}
			}
			shots[i][int(s.Shot)] = true
		}
	})
	for i, of := range shots {
		for k := range scales {
			if of[k+1] {
				sizes[i].Shots = append(sizes[i].Shots, k+1)
			}
		}
	}
	return sizes
}

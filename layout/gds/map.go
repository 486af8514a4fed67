package gds

import (
	"undermetal/layout"
	"undermetal/layout/stack"
)

// Pair is a layer number with a datatype, texttype or boxtype: what a stream has in place of a layer's name. Numbers
// above 32767, which some writers use, come out negative.
type Pair = stack.Pair

// Map says which layer a pair belongs to: for shapes (BOUNDARY, BOX, PATH) and, apart from them, for labels (TEXT).
type Map struct {
	Layers         []string // names, at most layout.MaxLayers
	Shapes, Labels map[Pair]layout.Layer
}

// ForStack returns the map that a stack asks for. Its layers are those of the stack and, where texts name the substrate,
// one more for these: stack.Stack.SubstrateLayer.
func ForStack(st *stack.Stack) *Map {
	m := &Map{Layers: st.LayerNames(), Shapes: map[Pair]layout.Layer{}, Labels: map[Pair]layout.Layer{}}
	for i, l := range st.Layers {
		for _, p := range l.GDS {
			m.Shapes[p] = layout.Layer(i)
		}
		for _, p := range l.Labels {
			m.Labels[p] = layout.Layer(i)
		}
	}
	if len(st.Substrate.Labels) > 0 {
		m.Layers = append(m.Layers, "substrate")
	}
	for _, p := range st.Substrate.Labels {
		m.Labels[p] = st.SubstrateLayer()
	}
	return m
}

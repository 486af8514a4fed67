package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/mask"
	"undermetal/layout/stack"
	"undermetal/layout/svg"
)

// mapping says what belongs to which layer of a stack.
type mapping struct {
	texts []string // the rules, WHAT=LAYER
	layer string   // of what nothing else gives one
	leave bool     // the rest is left out
	any   bool     // what a drawing says of layers does not matter

	held map[int]bool // rules that were about something in a drawing
}

// holds notes that a rule was about something.
func (m *mapping) holds(rule int, it bool) {
	if m.held == nil {
		m.held = map[int]bool{}
	}
	m.held[rule] = m.held[rule] || it
}

// idle returns what is to be said of rules that were about nothing in any of the drawings that were read by rules.
func (m *mapping) idle() (notes []string) {
	for i, text := range m.texts {
		if it, asked := m.held[i]; asked && !it {
			notes = append(notes, fmt.Sprintf("--map %s: there was nothing that it is about, or an earlier rule took it: look at how it is spelt", word(text)))
		}
	}
	return notes
}

func (m *mapping) flags(c *cobra.Command) {
	c.Flags().StringArrayVar(&m.texts, "map", nil, "what belongs to a layer, as in lime=metal1; give one for each")
	c.Flags().BoolVar(&m.leave, "leave-unmapped", false, "leave out what nothing gives a layer")
}

// check returns an error where a rule is none, or a layer is not in the stack.
func (m *mapping) check(st *stack.Stack) error {
	for _, text := range m.texts {
		what, layer, ok := cutRule(text)
		switch {
		case !ok || what == "":
			return usagef("--map %s: write what belongs to a layer, and the layer, as in lime=metal1, class:wire=metal1, group:METAL=metal1 or 34/0=metal1\n    with nothing behind the = it is left out", text)
		case layer != "":
			if err := inStack(st, "--map "+text, layer); err != nil {
				return err
			}
		}
	}
	if m.layer != "" {
		return inStack(st, "--layer "+m.layer, m.layer)
	}
	return nil
}

// cutRule takes a rule apart. The layer is behind the last =, since names may have one.
func cutRule(text string) (what, layer string, ok bool) {
	i := strings.LastIndexByte(text, '=')
	if i < 0 {
		return "", "", false
	}
	return text[:i], text[i+1:], true
}

// inStack returns an error where a stack does not have a layer; said is how it was asked for.
func inStack(st *stack.Stack, said, layer string) error {
	if _, ok := st.LayerNamed(layer); ok {
		return nil
	}
	return usagef("%s: there is no layer %q\n    %sthe stack has %s", said, layer, nearest(st, layer), strings.Join(st.LayerNames(), ", "))
}

// nearest asks whether a layer is meant that is called nearly so; empty where none is.
func nearest(st *stack.Stack, layer string) string {
	if near := st.Nearest(layer); near != "" {
		return fmt.Sprintf("did you mean %q? ", near)
	}
	return ""
}

// forSVG are the rules for an SVG drawing.
func (m *mapping) forSVG() (rules []svg.Rule, err error) {
	for _, text := range m.texts {
		r, err := svg.ParseRule(text)
		if err != nil {
			return nil, usagef("--map %s: %v", text, err)
		}
		rules = append(rules, r)
	}
	return rules, nil
}

// forGeoJSON are the rules for the property "layer".
func (m *mapping) forGeoJSON() map[string]string {
	names := map[string]string{}
	for _, text := range m.texts {
		what, layer, _ := cutRule(text)
		names[what] = layer
	}
	return names
}

// forMask are the rules for the colours of a mask; none where it is one of a single layer.
func (m *mapping) forMask(name string) (meanings []mask.Meaning, err error) {
	switch {
	case m.layer == "" && len(m.texts) == 0:
		return nil, usagef("%s is a mask: --layer says what layer its bright pixels stand for, or --map '#rrggbb=LAYER' what each of its colours does", name)
	case m.layer != "" && len(m.texts) > 0:
		return nil, usagef("%s is a mask of one layer (--layer), or of several by their colours (--map): give one of them", name)
	}
	for _, text := range m.texts {
		what, layer, _ := cutRule(text)
		colour, err := svg.ParseColour(what)
		if err != nil {
			return nil, usagef("--map %s: %v: a mask has colours, as in '#ff0000=metal1'", text, err)
		}
		meanings = append(meanings, mask.Meaning{Colour: mask.Colour(colour), Layer: layer})
	}
	return meanings, nil
}

// gdsMap is what the pairs of a stream are, and which of them are left out without a word.
type gdsMap struct {
	*gds.Map
	out       map[gds.Pair]bool
	substrate []gds.Pair // whose texts name the substrate, for which a dossier has no layer
}

// forGDS returns what the pairs of a stream are: as the stack says, and as the rules do. A text on the pair of a layer's
// shapes is a label on that layer, unless the stack has another use for it.
func (m *mapping) forGDS(name string, st *stack.Stack) (*gdsMap, error) {
	if m.layer != "" && !m.any {
		return nil, usagef("%s: --layer is for masks, SVG and GeoJSON: a GDSII file has layers by number\n    --map 34/0=%s says which is which", name, m.layer)
	}
	g := &gdsMap{gds.ForStack(st), map[gds.Pair]bool{}, st.Substrate.Labels}
	g.Layers = st.LayerNames()
	for _, p := range g.substrate {
		delete(g.Labels, p)
	}
	for p, l := range g.Shapes {
		if _, ok := g.Labels[p]; !ok && !slices.Contains(g.substrate, p) {
			g.Labels[p] = l
		}
	}
	for _, text := range m.texts {
		what, layer, _ := cutRule(text)
		p, err := parsePair(what)
		if err != nil {
			return nil, usagef("--map %s: %v", text, err)
		}
		delete(g.Shapes, p)
		delete(g.Labels, p)
		if g.out[p] = layer == ""; layer != "" {
			l, _ := st.LayerNamed(layer)
			g.Shapes[p], g.Labels[p] = layout.Layer(l), layout.Layer(l)
		}
	}
	return g, nil
}

// parsePair reads a GDSII layer and datatype, as in 34/0.
func parsePair(text string) (p gds.Pair, err error) {
	if n, err := fmt.Sscanf(text+" ", "%d/%d ", &p.Layer, &p.Datatype); n != 2 || err != nil || p.String() != text {
		return p, fmt.Errorf("a GDSII file has layers by number and datatype, as in 34/0=metal1")
	}
	return p, nil
}

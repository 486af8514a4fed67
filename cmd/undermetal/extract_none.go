package main

import (
	"fmt"
	"io"
	"strings"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// printNoDevice says why a drawing makes no device, and what else was left out.
func printNoDevice(w io.Writer, name string, d *drawing, res *extract.Result) error {
	flat, err := layout.Flatten(d.top)
	if err != nil {
		return err
	}
	p := &printer{w: w}
	p.f("%s: no devices: %s\n", name, whyNone(flat, d.stack, res.Crossings))
	switch n := res.LeftOut; {
	case n == 1:
		p.f("%s: 1 piece of conductor without device or label is not counted as a net\n", name)
	case n > 1:
		p.f("%s: %d pieces of conductor without device or label are not counted as nets\n", name, n)
	}
	return p.err
}

// whyNone says why no device came of a drawing.
func whyNone(flat *layout.Flat, st *stack.Stack, crossings int) string {
	drawn := map[stack.Role]int{}
	names := map[stack.Role][]string{}
	all := 0
	for l, layer := range st.Layers {
		n := flat.Count(layout.Layer(l))
		all += n
		drawn[layer.Role] += n
		names[layer.Role] = append(names[layer.Role], layer.Name)
	}
	for _, role := range []stack.Role{stack.Diffusion, stack.Gate} {
		switch n := names[role]; {
		case all == 0:
			return "nothing is drawn on the layers of the stack"
		case len(n) == 0:
			return fmt.Sprintf("the stack has no %s layer", role)
		case drawn[role] == 0 && len(n) == 1:
			return fmt.Sprintf("layer %s has no shapes, so that no gate crosses diffusion", n[0])
		case drawn[role] == 0:
			return fmt.Sprintf("layers %s have no shapes, so that no gate crosses diffusion", strings.Join(n, ", "))
		}
	}
	if crossings == 0 {
		return "no gate crosses diffusion"
	}
	return fmt.Sprintf("gate crosses diffusion in %s, but no source or drain is beside it", counted(crossings, "place"))
}

// idleNames returns the names of the nets that no device touches, as of a line that ends short of its gate.
func idleNames(c *netlist.Circuit) (names []string) {
	touched := c.Touched()
	for n := range c.Nets {
		if !touched[n] && c.Nets[n].Name != "" {
			names = append(names, c.Nets[n].Name)
		}
	}
	return names
}

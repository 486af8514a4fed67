package main

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
	"undermetal/spice"
)

// checkNetlist holds a circuit against lines of SPICE, "ports NAME …" and "open NAME …".
func checkNetlist(t *testing.T, c *netlist.Circuit, text string) {
	t.Helper()
	var elements []string
	for _, line := range strings.Split(text, "\n") {
		words := strings.Fields(line)
		switch {
		case len(words) == 0:
		case words[0] == "ports" || words[0] == "open":
			var got []string
			for i, n := range c.Nets {
				if words[0] == "open" && n.Open || words[0] == "ports" && slices.Contains(c.Ports, netlist.Net(i)) {
					got = append(got, n.Name)
				}
			}
			slices.Sort(got)
			if !slices.Equal(got, words[1:]) {
				t.Errorf("%s: %v, want %v", words[0], got, words[1:])
			}
		default:
			elements = append(elements, line)
		}
	}
	d, err := spice.Read("hand.sp", strings.NewReader("* by hand\n.subckt hand\n"+strings.Join(elements, "\n")+"\n.ends\n"), spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	want := d.Circuits[0]
	res, err := compare.Compare(context.Background(), c, want, compare.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if !res.Same {
		for _, x := range res.Differences {
			t.Error(x.Text)
		}
		return
	}
	for i := range c.Devices { // names, which compare leaves out, and junctions where the netlist gives them
		a, b := &c.Devices[i], &want.Devices[res.Devices[i]]
		names := func(c *netlist.Circuit, d *netlist.Device) []string {
			var list []string
			for k := range min(3, len(d.Kind.TerminalNames())) { // of a transistor without the bulk
				list = append(list, c.Nets[d.Terminals[k]].Name)
			}
			return list
		}
		x, y := names(c, a), names(want, b)
		turned := a.Kind.IsMOS() && x[0] != y[0]
		if turned {
			y[0], y[2] = y[2], y[0]
		}
		if !slices.Equal(x, y) {
			t.Errorf("device %d is between %v, want %v", i, x, y)
		}
		if b.AD == 0 {
			continue
		}
		ad, as, pd, ps := b.AD, b.AS, b.PD, b.PS
		if turned {
			ad, as, pd, ps = as, ad, ps, pd
		}
		if a.AD != ad || a.AS != as || a.PD != pd || a.PS != ps {
			t.Errorf("device %d: AD %v AS %v PD %v PS %v, want %v %v %v %v", i, a.AD, a.AS, a.PD, a.PS, ad, as, pd, ps)
		}
	}
}

func extractText(t *testing.T, drawing string) *extract.Result {
	t.Helper()
	return extractWith(t, ruleStack, drawing)
}

func extractWith(t *testing.T, process, drawing string) *extract.Result {
	t.Helper()
	st, err := stack.Parse("rules.stack.toml", []byte(process))
	if err != nil {
		t.Fatal(err)
	}
	lib := drawText(t, st, drawing)
	res, err := extract.Run(context.Background(), lib, lib.Cells[0], st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func drawText(t *testing.T, st *stack.Stack, drawing string) *layout.Library {
	c := &layout.Cell{Name: "TOP"}
	lib := &layout.Library{Layers: st.LayerNames(), Cells: []*layout.Cell{c}}
	for _, line := range strings.Split(drawing, "\n") {
		f := strings.Fields(line)
		if len(f) == 0 {
			continue
		}
		verb := f[0]
		if verb == "ring" || verb == "label" || verb == "traced" {
			f = f[1:]
		} else {
			verb = "box"
		}
		l, ok := st.LayerNamed(f[0])
		if f[0] == "substrate" {
			l, ok = st.SubstrateLayer(), true
		}
		if !ok {
			t.Fatalf("no layer in %q", line)
		}
		var n []int
		for _, s := range f[1:] {
			var v int
			if _, err := fmt.Sscanf(s, "%d", &v); err == nil {
				n = append(n, v)
			}
		}
		shape := layout.Shape{Layer: l}
		switch verb {
		case "label":
			c.Labels = append(c.Labels, layout.Label{Layer: l, At: geom.Point{X: n[0], Y: n[1]}, Text: f[len(f)-1]})
			continue
		case "ring":
			var r geom.Ring
			for i := 0; i < len(n); i += 2 {
				r = append(r, geom.Point{X: n[i], Y: n[i+1]})
			}
			shape.Polygon = geom.Polygon{r}
		default:
			shape.Polygon = geom.Polygon{geom.Box(n[0], n[1], n[2], n[3]).Ring()}
		}
		if verb == "traced" {
			lib.Traced = append(lib.Traced, shape)
		} else {
			c.Shapes = append(c.Shapes, shape)
		}
	}
	return lib
}

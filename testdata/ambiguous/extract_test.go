package ambiguous

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// TestExtracted holds the drawer's count of channels and nets, its places and its arithmetic against extraction, which
// knows nothing but the shapes.
func TestExtracted(t *testing.T) {
	cases := Hand()
	for seed := range uint64(400) {
		cases = append(cases, Generate(seed))
	}
	for i := range cases {
		c := &cases[i]
		t.Run(c.Name, func(t *testing.T) { compare(t, c) })
	}
}

func compare(t *testing.T, c *Case) {
	var ask []layout.Place
	for _, n := range c.Nets {
		ask = append(ask, n.Places...)
	}
	r, err := extract.Run(context.Background(), c.Library, c.Top, c.Stack, extract.Options{Workers: 1, Ask: ask})
	if err != nil {
		t.Fatal(err)
	}
	same := ends(c, r)
	drawn := map[int]string{} // the drawer's net for each of extraction
	met := map[string]int{}   // and the reverse
	names := map[netlist.Net]string{}
	k := 0
	for _, n := range c.Nets {
		name := same[n.Name]
		for _, p := range n.Places {
			got := r.Asked[k].Net
			names[r.AskedNet(k)] = name
			k++
			if got == 0 {
				t.Errorf("no conductor at %s, which should lie on %s", where(c, p), n.Name)
				continue
			}
			if was, ok := drawn[got]; ok && was != name {
				t.Errorf("%s lies on %s, not on %s", where(c, p), was, name)
			}
			if was, ok := met[name]; ok && was != got {
				t.Errorf("%s lies on a net apart from the rest of %s", where(c, p), name)
			}
			drawn[got], met[name] = name, got
		}
	}
	devices(t, c, r, same, names)
}

// ends returns the drawer's nets by name, where the ends of a resistor are one if extraction does not know it.
func ends(c *Case, r *extract.Result) map[string]string {
	same := map[string]string{}
	for _, n := range c.Nets {
		same[n.Name] = n.Name
	}
	known := !slices.ContainsFunc(r.Warnings, func(w extract.Warning) bool { return w.Code == "rule-not-used" })
	for _, st := range c.Structures() {
		if st.Ohmic != nil && !(st.Ohmic.Rule && known) {
			same[st.Ohmic.B] = st.Ohmic.A
		}
	}
	return same
}

func devices(t *testing.T, c *Case, r *extract.Result, same map[string]string, names map[netlist.Net]string) {
	var want, got []string
	nets := map[string]bool{}
	closed := 0
	for _, st := range c.Structures() {
		for _, ch := range st.Channels {
			if ch.Stretches == 0 {
				closed++
				continue
			}
			ab := []string{same[ch.A], same[ch.B]}
			slices.Sort(ab)
			want = append(want, device(same[ch.Gate], ab, strings.TrimRight(ch.Bulk, " 0123456789"), ch.W(), ch.L()))
			for _, n := range []string{same[ch.Gate], same[ch.A], same[ch.B], ch.Bulk} {
				nets[n] = true
			}
		}
	}
	for _, n := range c.Nets {
		if n.Labelled {
			nets[same[n.Name]] = true
		}
	}
	name := func(n netlist.Net) string {
		if s, ok := names[n]; ok {
			return s
		}
		return fmt.Sprintf("net %d", n)
	}
	for i := range r.Circuit.Devices {
		d := &r.Circuit.Devices[i]
		if d.Kind.IsMOS() {
			ab := []string{name(d.Terminals[netlist.Drain]), name(d.Terminals[netlist.Source])}
			slices.Sort(ab)
			got = append(got, device(name(d.Terminals[netlist.Gate]), ab, bulkName(d, names), d.W, d.L))
		}
	}
	slices.Sort(want)
	slices.Sort(got)
	if !slices.Equal(want, got) {
		t.Errorf("transistors\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if n := len(r.Circuit.Nets); n != len(nets) {
		t.Errorf("%d nets %v, want %d %v", n, r.Circuit.Nets, len(nets), nets)
	}
	n := 0
	for _, w := range r.Warnings {
		switch w.Code {
		case "no-source-drain":
			n++
		case "source-is-drain", "polarity-unknown", "bulk-unknown", "rule-not-used", "two-names":
		default:
			t.Errorf("%s: %s at (%d, %d)", w.Code, w.Text, w.X, w.Y)
		}
	}
	if n != closed {
		t.Errorf("%d channels without source and drain, want %d", n, closed)
	}
}

func device(gate string, ab []string, bulk string, w, l float64) string {
	return fmt.Sprintf("%s %s in %s W %.0f L %.1f", gate, ab, bulk, w, math.Round(l*10)/10)
}

// bulkName is the name of a transistor's bulk, "well" for all wells that nothing ties: how many there are shows in the count of nets.
func bulkName(d *netlist.Device, names map[netlist.Net]string) string {
	switch s, ok := names[d.Terminals[netlist.Bulk]]; {
	case ok:
		return s
	case d.Kind == netlist.MOS:
		return unknown
	case d.Kind == netlist.NMOS:
		return substrate
	}
	return "well"
}

func where(c *Case, p layout.Place) string {
	um := func(at geom.Point) string { return fmt.Sprintf("(%.3f, %.3f)", float64(at.X)/1000, float64(at.Y)/1000) }
	return c.Stack.Layers[p.Layer].Name + " " + um(p.At)
}

package spice

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"undermetal/netlist"
)

// corpus returns the folder of published netlists, or skips.
func corpus(t testing.TB) string {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published netlists are not here to check against")
	}
	return root
}

func read(t testing.TB, text string) *netlist.Design {
	t.Helper()
	d, err := Read("deck.sp", strings.NewReader(text), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// readFlat reads a netlist and flattens the circuit of that name.
func readFlat(t testing.TB, text, name string) *netlist.Circuit {
	t.Helper()
	d := read(t, text)
	c := d.Circuit(name)
	if c == nil {
		t.Fatalf("no circuit %s, but %v", name, circuitNames(d))
	}
	flat, err := netlist.Flatten(d, c)
	if err != nil {
		t.Fatal(err)
	}
	return flat
}

func circuitNames(d *netlist.Design) (names []string) {
	for _, c := range d.Circuits {
		names = append(names, c.Name)
	}
	return names
}

func write(t testing.TB, d *netlist.Design, opt WriteOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, d, opt); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// lines describes a circuit, a line a device: name, kind, nets, model and what is not 0 (nm, nm²).
func lines(c *netlist.Circuit) string {
	var s strings.Builder
	for i := range c.Devices {
		d := &c.Devices[i]
		fmt.Fprintf(&s, "%s %s", d.Name, d.Kind)
		for _, n := range d.Terminals {
			if n != netlist.NoNet {
				s.WriteString(" " + c.Nets[n].Name)
			}
		}
		if d.Model != "" {
			s.WriteString(" " + d.Model)
		}
		for _, x := range []struct {
			key string
			v   float64
		}{{"w", d.W}, {"l", d.L}, {"as", d.AS}, {"ad", d.AD}, {"ps", d.PS}, {"pd", d.PD}, {"area", d.Area}, {"perim", d.Perim}, {"fingers", float64(d.Fingers)}} {
			if x.v != 0 {
				fmt.Fprintf(&s, " %s=%v", x.key, x.v)
			}
		}
		if !math.IsNaN(d.Value) {
			fmt.Fprintf(&s, " %v", d.Value)
		}
		s.WriteByte('\n')
	}
	for _, in := range c.Instances {
		s.WriteString(in.Name + " " + in.Of.Name)
		for _, n := range in.Nets {
			s.WriteString(" " + c.Nets[n].Name)
		}
		s.WriteByte('\n')
	}
	return s.String()
}

func expectLines(t testing.TB, c *netlist.Circuit, want string) {
	t.Helper()
	if c == nil {
		t.Fatal("no such circuit")
	}
	want = strings.TrimPrefix(want, "\n")
	if got := lines(c); got != want {
		t.Errorf("circuit %s:\n%swant\n%s", c.Name, got, want)
	}
}

package compare

import (
	"slices"
	"strings"

	"undermetal/netlist"
)

// Renamed is a net that is labelled in both circuits, with different names.
type Renamed struct {
	A, B string
	Nets [2]netlist.Net // their numbers in A and B
}

// renamings returns the labelled nets of A that are called otherwise in B, in natural order. Labelled are the ports that have
// a name, as extraction and subcircuits have them; in a circuit without ports all nets with a name.
func renamings(a, b *netlist.Circuit, nets []netlist.Net) (found []Renamed) {
	inA, inB := labelled(a), labelled(b)
	for x, y := range nets {
		if y == netlist.NoNet || !inA[x] || !inB[y] {
			continue
		}
		if p, q := &a.Nets[x], &b.Nets[y]; !sameName(p, q) {
			found = append(found, Renamed{p.Name, q.Name, [2]netlist.Net{netlist.Net(x), y}})
		}
	}
	slices.SortStableFunc(found, func(x, y Renamed) int {
		switch {
		case netlist.NaturalLess(x.A, y.A):
			return -1
		case netlist.NaturalLess(y.A, x.A):
			return 1
		}
		return 0
	})
	return found
}

func labelled(c *netlist.Circuit) []bool {
	is := make([]bool, len(c.Nets))
	for _, n := range c.Ports {
		is[n] = c.Nets[n].Name != ""
	}
	if len(c.Ports) == 0 {
		for n := range c.Nets {
			is[n] = c.Nets[n].Name != ""
		}
	}
	return is
}

// sameName reports whether two nets have a name in common; netlists make no difference between upper and lower case.
func sameName(p, q *netlist.NetInfo) bool {
	for _, x := range append(slices.Clone(p.Labels), p.Name) {
		for _, y := range append(slices.Clone(q.Labels), q.Name) {
			if strings.EqualFold(x, y) {
				return true
			}
		}
	}
	return false
}

package compare

import (
	"strings"

	"undermetal/netlist"
)

// Bare is a name that both circuits have, on a net that no device touches in the one, and on a net of devices in the other: a
// label on a line that ends short of its gate, say. Nets without devices are left aside, so that it makes no difference.
type Bare struct {
	Name  string
	In    string      // "A" or "B": where no device touches it
	Net   netlist.Net // its number there
	Stand netlist.Net // the net there that stands for the other circuit's of that name; NoNet where there is none
}

// bareIn returns the labelled nets of a that no device touches, while devices of b touch one of that name, in the order of a's
// nets. nets maps the nets of a on b's.
func bareIn(a, b *netlist.Circuit, in string, nets []netlist.Net) (found []Bare) {
	touched := a.Touched()
	var named map[string]netlist.Net // the nets of b that have a device and a label, by their names in lower case
	for x, is := range labelled(a) {
		if !is || touched[x] {
			continue
		}
		if named == nil {
			named = namedNets(b)
		}
		for _, name := range append([]string{a.Nets[x].Name}, a.Nets[x].Labels...) {
			y, ok := named[strings.ToLower(name)]
			if !ok {
				continue
			}
			w := Bare{Name: name, In: in, Net: netlist.Net(x), Stand: netlist.NoNet}
			for n, to := range nets {
				if to == y {
					w.Stand = netlist.Net(n)
				}
			}
			found = append(found, w)
			break
		}
	}
	return found
}

func namedNets(c *netlist.Circuit) map[string]netlist.Net {
	named, touched := map[string]netlist.Net{}, c.Touched()
	for n, is := range labelled(c) {
		if !is || !touched[n] {
			continue
		}
		for _, name := range append([]string{c.Nets[n].Name}, c.Nets[n].Labels...) {
			named[strings.ToLower(name)] = netlist.Net(n)
		}
	}
	return named
}

// inverse turns a mapping of nets on n others around.
func inverse(nets []netlist.Net, n int) []netlist.Net {
	back := make([]netlist.Net, n)
	for i := range back {
		back[i] = netlist.NoNet
	}
	for x, y := range nets {
		if y != netlist.NoNet {
			back[y] = netlist.Net(x)
		}
	}
	return back
}

package question

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/recognise"
	"undermetal/recognise/library"
)

// gateAround looks whether a known circuit lacks nothing but a wire to a gate that floats.
func (v *view) gateAround(at *Place, partial bool) seen {
	if len(at.Devices) == 0 || !partial {
		return seen{}
	}
	d := &v.c.Devices[at.Devices[0]]
	gate := d.Terminals[netlist.Gate]
	v.around.by[FloatingGate]++
	found := v.find(netsOf(d), recognise.Reading{}, 1)
	for i := range found.Partial {
		f := &found.Partial[i]
		if len(f.Missing) != 1 || len(f.Extra) > 0 || len(f.Members) <= leastOthers {
			continue
		}
		if p := &f.Missing[0]; p.Kind == "connection" && slices.Contains(at.Devices, int(p.Device)) && slices.Contains(p.Between, gate) {
			return seen{"lacking", v.tell(func() string {
				return fmt.Sprintf("joined to %s, it is %s of %s, with %s", v.sayNet(otherOf(p.Between, gate)), p.Role, withArticle(f.Pattern.Title), plural(len(f.Members)-1, "other device", "other devices"))
			})}
		}
	}
	return seen{}
}

func otherOf(nets []netlist.Net, n netlist.Net) netlist.Net {
	for _, m := range nets {
		if m != n {
			return m
		}
	}
	return netlist.NoNet
}

// gapAround looks at what lies beside a gap with both sides apart, and as one net. What fits both ways says nothing.
func (v *view) gapAround(d *draft) seen {
	if len(d.sides) != 2 || d.sides[0] == d.sides[1] {
		return seen{}
	}
	apart, joined := v.find(d.sides, recognise.Reading{}, 0), v.find(nil, recognise.Reading{Join: d.sides}, 0)
	one, a := largest(apart.NotIn(joined), d.sides)
	other, j := largest(joined.NotIn(apart), d.sides)
	switch {
	case other != nil && j > a:
		return seen{"joined", v.tell(func() string { return sayGap(other, "joined") })}
	case one != nil && a > j:
		return seen{"apart", v.tell(func() string { return sayGap(one, "apart") })}
	}
	return seen{}
}

// largest returns the heaviest of some fits that has three devices or more and lies on one of some nets, and what all weigh.
func largest(fits []*recognise.Fit, nets []netlist.Net) (best *recognise.Fit, sum float64) {
	for _, f := range fits {
		sum += f.Weight
		on := func(n netlist.Net) bool { return slices.Contains(f.Ports, n) || slices.Contains(f.Inner, n) }
		if len(f.Members) > leastOthers && slices.ContainsFunc(nets, on) && (best == nil || f.Weight > best.Weight) {
			best = f
		}
	}
	return best, sum
}

func sayGap(f *recognise.Fit, how string) string {
	return fmt.Sprintf("with its sides %s there is %s, %s in all", how, withArticle(f.Pattern.Title), plural(len(f.Members), "device", "devices"))
}

// sizeAround compares the place of a transistor in a known circuit with those of its likes. Sizes do not count for fits.
func (v *view) sizeAround(at *Place, likes []int) seen {
	if len(at.Devices) == 0 {
		return seen{}
	}
	where := func(i int) (stand, string) {
		if s, known := v.around.stand[i]; known {
			return s.stand, s.role
		}
		s := v.stands(v.find(netsOf(&v.c.Devices[i]), recognise.Reading{}, 0), func(k int32) bool { return int(k) == i }, nil, false)
		role := ""
		if s.as == whole {
			role = roleIn(s.fit.Pattern, s.how)
		}
		v.around.stand[i] = standsAs{s, role}
		return s, role
	}
	own, role := where(at.Devices[0])
	if role == "" {
		return seen{}
	}
	same, other := 0, 0
	for k, n := 0, min(len(likes), mostPlaces); k < n && same <= other+n-k; k++ { // until the others cannot outnumber the same
		switch _, r := where(likes[k*len(likes)/n]); r {
		case "":
		case role:
			same++
		default:
			other++
		}
	}
	fact := v.tell(func() string { return "it is " + own.say() })
	switch {
	case same > other:
		return seen{"same", fact}
	case other > 1 && same == 0:
		return seen{"another", fact}
	}
	return seen{}
}

// roleIn is what a device is for in its pattern, the same for those that only a mirror image tells apart: the pattern, the device's
// kind, and what its nets are for.
func roleIn(p *library.Pattern, device string) string {
	for i := range p.Circuit.Devices {
		d := &p.Circuit.Devices[i]
		if d.Name != device {
			continue
		}
		var ends []string
		for t, n := range d.Terminals {
			if t >= netlist.Bulk || n == netlist.NoNet {
				continue
			}
			role := "inner"
			if k := slices.Index(p.Circuit.Ports, n); k >= 0 {
				role = p.Ports[k].Role
			}
			ends = append(ends, role)
		}
		if d.Kind.IsMOS() && ends[netlist.Drain] > ends[netlist.Source] {
			ends[netlist.Drain], ends[netlist.Source] = ends[netlist.Source], ends[netlist.Drain]
		}
		return fmt.Sprintf("%s %v %s", p.Name, d.Kind, strings.Join(ends, " "))
	}
	return p.Name + " " + device
}

package question

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
)

// askContacts asks about contacts that land on too little: those that netlist/check found, and those that extraction saw
// half on one conductor and half on another.
func (v *view) askContacts() []draft {
	var out []draft
	for i := range v.checks {
		f := &v.checks[i]
		landing := map[string]string{check.ContactOnNone: "none", check.ContactOnOne: "one"}[f.Code]
		if landing == "" {
			continue
		}
		saw := map[string]seen{"landing": {landing, "it " + f.Text}, "repeat": repeated(f.Count)}
		out = append(out, draft{kind: Contact, at: f.At, layer: f.Layer, path: f.Path, count: f.Count, saw: saw})
	}
	for i := range v.res.Warnings {
		w := &v.res.Warnings[i]
		if w.Code != "half-landed-contact" && w.Code != "butted-contact" {
			continue
		}
		if l, ok := v.st.LayerNamed(w.Layer); ok {
			d := draft{kind: Contact, at: geom.Point{X: w.X, Y: w.Y}, layer: l, saw: map[string]seen{"landing": {"half", w.Text}}}
			if _, on, ok := strings.Cut(w.Text, "taken to reach "); ok {
				d.answers = map[string]string{"joins-not": "lands on " + strings.TrimSuffix(on, " only")}
			}
			out = append(out, d)
		}
	}
	v.contactSizes(out)
	return out
}

// contactSizes compares each contact with the usual one.
func (v *view) contactSizes(ds []draft) {
	if len(ds) == 0 {
		return
	}
	sides := v.contactSizesSorted()
	if len(sides) < manyPlaces {
		return
	}
	usual := sides[len(sides)/2]
	places := make([]layout.Place, len(ds))
	for i := range ds {
		places[i] = layout.Place{Layer: ds[i].layer, At: ds[i].at}
	}
	for i, d := range v.res.Drawn(places) {
		if d.Shape == nil {
			continue
		}
		b := d.Shape.Polygon.Bounds()
		what, w, h := "odd", float64(b.Width()), float64(b.Height())
		if math.Abs(w/usual-1) < 0.25 && math.Abs(h/usual-1) < 0.25 {
			what = "usual"
		}
		ds[i].saw["size"] = seen{what, fmt.Sprintf("its sides are %s and %s, the usual one %s", um(w), um(h), um(usual))}
	}
}

// contactSizesSorted returns the sides of the contacts that land on gates and junctions, in nm, sorted.
func (v *view) contactSizesSorted() []float64 {
	sides := make([]float64, 0, len(v.f.Regions))
	for i := range v.f.Regions {
		if r := &v.f.Regions[i]; r.Contacts > 0 && r.ContactArea > 0 {
			sides = append(sides, math.Sqrt(r.ContactArea/float64(r.Contacts)))
		}
	}
	slices.Sort(sides)
	return sides
}

// askNearMisses asks about gaps that netlist/check found.
func (v *view) askNearMisses() []draft {
	var out []draft
	for i := range v.checks {
		f := &v.checks[i]
		if f.Code != check.NearMiss {
			continue
		}
		saw := map[string]seen{"repeat": repeated(f.Count)}
		if v.feature > 0 {
			k := float64(f.Gap) / v.feature
			saw["gap"] = seen{pick(k, []float64{0.1, 0.5}, "hair", "narrow", "space"), fmt.Sprintf("%s, %s times %s", um(float64(f.Gap)), figure(k), v.featureHow)}
		}
		a, b := f.Nets[0], f.Nets[1]
		switch {
		case a == "" || b == "":
			saw["names"] = seen{"other", ""}
		case a == b:
			saw["names"] = seen{"equal", a}
		default:
			saw["names"] = seen{"different", a + " and " + b}
		}
		saw["dead"] = seen{"no", ""}
		if f.Dead {
			saw["dead"] = seen{"yes", ""}
		}
		d := draft{kind: NearMiss, at: f.At, layer: f.Layer, path: f.Path, count: f.Count, saw: saw}
		d.nets = v.named(f.Nets[:]...)
		for _, at := range f.On {
			if n, ok := v.netAt(at); ok {
				d.sides = append(d.sides, n)
			}
		}
		out = append(out, d)
	}
	return out
}

// netAt returns the net of the circuit that is called by a layer and a place.
func (v *view) netAt(at layout.Place) (netlist.Net, bool) {
	if v.netPlaced == nil {
		v.netPlaced = map[layout.Place]netlist.Net{}
		for i := range v.c.Nets {
			if l, ok := v.st.LayerNamed(v.c.Nets[i].Layer); ok {
				v.netPlaced[layout.Place{Layer: l, At: v.c.Nets[i].At}] = netlist.Net(i)
			}
		}
	}
	n, ok := v.netPlaced[at]
	return n, ok
}

// named returns the nets of the circuit that have these names.
func (v *view) named(names ...string) []netlist.Net {
	if v.netNamed == nil {
		v.netNamed = map[string]netlist.Net{}
		for i := range v.c.Nets {
			if n := v.c.Nets[i].Name; n != "" {
				v.netNamed[n] = netlist.Net(i)
			}
		}
	}
	var nets []netlist.Net
	for _, name := range names {
		if n, ok := v.netNamed[name]; ok && !slices.Contains(nets, n) {
			nets = append(nets, n)
		}
	}
	return nets
}

// askShorts asks about nets that carry the names of two supplies.
func (v *view) askShorts() []draft {
	var out []draft
	for i := range v.c.Nets {
		info := &v.c.Nets[i]
		var grounds, supplies []string
		for _, l := range info.Labels {
			switch nameRole(l) {
			case ground:
				grounds = append(grounds, l)
			case supply:
				supplies = append(supplies, l)
			}
		}
		if len(grounds)+len(supplies) < 2 {
			continue
		}
		names := append(grounds, supplies...)
		saw := map[string]seen{"names": {"alike", fmt.Sprintf("one net is labelled %s and %s", names[0], names[len(names)-1])}}
		if len(grounds) > 0 && len(supplies) > 0 {
			saw["names"] = seen{"opposite", saw["names"].fact}
		}
		if v.checks != nil {
			saw["bridge"] = v.bridge()
		}
		l, _ := v.st.LayerNamed(info.Layer)
		d := draft{kind: SuppliesShorted, at: info.At, layer: l, nets: []netlist.Net{netlist.Net(i)}, saw: saw}
		d.devices = v.devicesOn(netlist.Net(i))
		out = append(out, d)
	}
	return out
}

// bridge looks for narrow overlaps. On which net one lies the findings do not tell.
func (v *view) bridge() seen {
	for i := range v.checks {
		if f := &v.checks[i]; f.Code == check.NearOverlap {
			return seen{"narrow", fmt.Sprintf("the first at (%s, %s) µm on %s", geom.AppendUm(nil, f.At.X), geom.AppendUm(nil, f.At.Y), v.st.Layers[f.Layer].Name)}
		}
	}
	return seen{outcome: "none"}
}

// askSoftTies asks about wells, and the substrate, that taps tie to several labelled nets.
func (v *view) askSoftTies() []draft {
	var out []draft
	of := map[extract.RegionID]int{}
	for i := range v.c.Devices {
		cs := v.channelsOf[i]
		if len(cs) == 0 || v.res.Questions[i] != "soft-tie" {
			continue
		}
		c := &v.f.Channels[cs[0]]
		k, ok := of[c.Well]
		if !ok {
			k = len(out)
			of[c.Well] = k
			out = append(out, draft{kind: SoftTie, at: c.At, layer: c.Layer, path: c.Path})
		}
		d := &out[k]
		d.devices = append(d.devices, i)
		if b := v.c.Devices[i].Terminals[netlist.Bulk]; b != netlist.NoNet && !slices.Contains(d.nets, b) {
			d.nets = append(d.nets, b)
		}
	}
	for i := range out {
		d := &out[i]
		d.nets = v.tiesOf(d.nets, of, i)
		d.saw = map[string]seen{"names": v.tieNames(d.nets)}
	}
	return out
}

// tiesOf adds to the bulk nets of devices those of the body's other taps.
func (v *view) tiesOf(nets []netlist.Net, of map[extract.RegionID]int, k int) []netlist.Net {
	for i := range v.f.Regions {
		r := &v.f.Regions[i]
		if at, ok := of[r.Well]; ok && at == k && r.Kind == extract.JunctionRegion && r.TapArea > 0 && r.Net != netlist.NoNet && !slices.Contains(nets, r.Net) {
			nets = append(nets, r.Net)
		}
	}
	slices.Sort(nets)
	return nets
}

func (v *view) tieNames(nets []netlist.Net) seen {
	fact := ""
	count := map[role]int{}
	for i, n := range nets {
		if i > 0 {
			fact += ", "
		}
		fact += v.sayNet(n)
		count[v.namesRole(&v.c.Nets[n])]++
	}
	switch {
	case count[signal] > 0:
		return seen{"signal", fact}
	case count[ground] > 0 && count[supply] > 0:
		return seen{"opposite", fact}
	}
	return seen{"alike", fact}
}

// askBulks asks about bodies that nothing ties.
func (v *view) askBulks() []draft {
	var out []draft
	of := map[netlist.Net]int{}
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		cs := v.channelsOf[i]
		b := d.Terminals[netlist.Bulk]
		if !d.Kind.IsMOS() || b == netlist.NoNet || len(cs) == 0 || !v.untied(b) && !v.decided(Bulk, i) {
			continue
		}
		k, ok := of[b]
		if !ok {
			c := &v.f.Channels[cs[0]]
			k = len(out)
			of[b] = k
			out = append(out, draft{kind: Bulk, at: c.At, layer: c.Layer, path: c.Path, nets: []netlist.Net{b}})
		}
		out[k].devices = append(out[k].devices, i)
	}
	for i := range out {
		out[i].saw = v.lookAtBulk(out[i].devices)
		out[i].answers = v.bulkAnswers(out[i].devices)
	}
	return out
}

// bulkAnswers names the nets that the readings of a bulk stand for, as far as they have names.
func (v *view) bulkAnswers(devices []int) map[string]string {
	answers := map[string]string{}
	want := ground
	if v.known(devices[0]) == netlist.PMOS {
		want = supply
	}
	for n := range v.c.Nets {
		if v.namesRole(&v.c.Nets[n]) == want && v.c.Nets[n].Name != "" {
			answers["supply"] = v.c.Nets[n].Name
			break
		}
	}
	for _, t := range []int{netlist.Source, netlist.Drain} {
		n := v.c.Devices[devices[0]].Terminals[t]
		shared := !slices.ContainsFunc(devices, func(i int) bool {
			d := &v.c.Devices[i]
			return d.Terminals[netlist.Source] != n && d.Terminals[netlist.Drain] != n
		})
		if name := v.c.Nets[n].Name; shared && name != "" && name != answers["supply"] {
			answers["source"] = name
			break
		}
	}
	return answers
}

func (v *view) lookAtBulk(devices []int) map[string]seen {
	saw := map[string]seen{}
	common := map[netlist.Net]int{}
	tied := false
	for _, i := range devices {
		d := &v.c.Devices[i]
		s, dr := d.Terminals[netlist.Source], d.Terminals[netlist.Drain]
		common[s]++
		if dr != s {
			common[dr]++
		}
		tied = tied || v.role[s] != signal || v.role[dr] != signal
	}
	shared := false
	for _, n := range common {
		shared = shared || n == len(devices)
	}
	saw["shared"] = seen{"many", plural(len(devices), "transistor", "transistors")}
	if shared {
		saw["shared"] = seen{"one", plural(len(devices), "transistor", "transistors")}
	}
	if v.supplies() {
		saw["source"] = seen{"signal", ""}
		if tied {
			saw["source"] = seen{"supply", ""}
		}
	}
	return saw
}

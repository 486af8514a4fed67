package question

import (
	"fmt"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// mostFuseSquares is from how many squares on a neck is no fuse, where nothing but its ends makes it one (judgement): it would take
// more than its ends to blow.
const mostFuseSquares = 20

// piece is a piece of a layer, by the box around it.
type piece struct {
	layer layout.Layer
	box   geom.Rect
}

// gatesByBox are the pieces of gate layers.
func (v *view) gatesByBox() map[piece]extract.RegionID {
	gates := map[piece]extract.RegionID{}
	for i := range v.f.Regions {
		if r := &v.f.Regions[i]; r.Kind == extract.GateRegion {
			gates[piece{r.Layer, r.Box}] = extract.RegionID(i)
		}
	}
	return gates
}

// askNecks asks about necks between two wide ends: fuse, wire or resistor? taken are the regions that are asked about.
func (v *view) askNecks() (out []draft, taken map[extract.RegionID]bool) {
	taken = map[extract.RegionID]bool{}
	var gates map[piece]extract.RegionID // few necks are on a gate layer
	var necks []extract.Neck
	for _, n := range v.res.Necks(v.st) {
		if n.Squares <= mostFuseSquares || v.st.Layers[n.Layer].Role == stack.Gate {
			necks = append(necks, n)
		}
	}
	for i := range necks {
		n := &necks[i]
		d := draft{kind: WireOrResistor, at: n.At, layer: n.Layer, saw: v.lookAtNeck(necks, i), box: n.Box}
		answered := v.answers.in(WireOrResistor, n.Layer, n.Box)
		if answered >= 0 { // a body that was cut out is no region any more
			d.devices = v.answers.all[answered].Devices
		}
		if v.st.Layers[n.Layer].Role == stack.Gate {
			if gates == nil {
				gates = v.gatesByBox()
			}
			id, there := gates[piece{n.Layer, n.Box}]
			if there && v.f.Regions[id].Channels > 0 || !there && answered < 0 || there && n.Squares > mostFuseSquares && !v.isStrip(id) {
				continue // a gate that is narrow where it crosses diffusion is one; what a rule cut is a resistor
			}
			if there {
				taken[id] = true
				d.about = []extract.RegionID{id}
				if r := &v.f.Regions[id]; r.Net != netlist.NoNet {
					d.path, d.nets = v.f.Path(id), []netlist.Net{r.Net}
					d.devices = v.devicesOn(r.Net)
				}
			}
		}
		out = append(out, d)
	}
	return out, taken
}

// lookAtNeck makes the observations of one of several necks.
func (v *view) lookAtNeck(necks []extract.Neck, i int) map[string]seen {
	n := &necks[i]
	layer := &v.st.Layers[n.Layer]
	fact := fmt.Sprintf("%s is %s wide over %s, %s squares", layer.Name, um(n.Width), um(n.Length), figure(n.Squares))
	if layer.SheetOhm > 0 {
		fact += ", " + engineering(n.Squares*layer.SheetOhm, "Ω")
	}
	saw := map[string]seen{
		"squares": {pick(n.Squares, []float64{20, 60}, "some", "many", "most"), fact},
		"neck":    {"waist", fmt.Sprintf("its ends are %s times as wide, with %s", figure(n.Wide/n.Width), ends(n))},
		"course":  {outcome: "direct"},
		"likes":   {"alone", ""},
		"opening": {outcome: beside},
		"ends":    {outcome: beside},
	}
	if v.feature > 0 {
		saw["width"] = seen{pick(n.Width/v.feature, []float64{1.3}, "narrow", "wide"), fmt.Sprintf("%s times %s", figure(n.Width/v.feature), v.featureHow)}
	}
	near, like := grown(n.Box, 4*max(n.Box.Width(), n.Box.Height())), 0
	for k := i + 1; k < len(necks) && necks[k].Layer == n.Layer && necks[k].At.Y <= near.Max.Y; k++ {
		like += sameNeck(n, &necks[k], near)
	}
	for k := i - 1; k >= 0 && necks[k].Layer == n.Layer && necks[k].At.Y >= near.Min.Y; k-- {
		like += sameNeck(n, &necks[k], near)
	}
	if like > 0 {
		saw["likes"] = seen{"bars", plural(like, "like", "likes")}
	}
	if v.padsTraced() && layer.Role == stack.Metal {
		saw["opening"], saw["ends"] = seen{"closed", ""}, seen{"other", ""}
		if n.Open {
			saw["opening"] = seen{"open", ""}
		}
		if n.Ends[0].Pad && n.Ends[1].Pad {
			saw["ends"] = seen{"pads", ""}
		}
	}
	return saw
}

func sameNeck(a, b *extract.Neck, near geom.Rect) int {
	if near.Contains(b.At) && alike(a.Width, b.Width) && alike(a.Length, b.Length) && sameBox(a.Box, b.Box) {
		return 1
	}
	return 0
}

// ends tells what lies on the ends of a neck.
func ends(n *extract.Neck) string {
	say := func(e extract.NeckEnd) string {
		switch {
		case e.Pad && e.Contacts == 0:
			return "a pad"
		case e.Pad:
			return "a pad and " + plural(e.Contacts, "contact", "contacts")
		}
		return plural(e.Contacts, "contact", "contacts")
	}
	return say(n.Ends[0]) + " on one and " + say(n.Ends[1]) + " on the other"
}

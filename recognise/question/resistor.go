package question

import (
	"fmt"

	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// leastSquares is from how many squares on a conductor may be a resistor.
const leastSquares = 10

// isStrip reports whether a piece of a gate layer or a diffusion is a long strip that contacts lie on, and no gate is made of.
func (v *view) isStrip(id extract.RegionID) bool {
	r := &v.f.Regions[id]
	if r.Kind != extract.JunctionRegion && r.Kind != extract.GateRegion || r.Channels > 0 || r.Contacts < 2 || 2*r.TapArea > r.Area || r.DiodeArea > 0 {
		return false
	}
	length, width := strip(r.Area, r.Perimeter)
	// Contacts all along it make it a tie or a shield: a resistor has them at its ends.
	return length/width >= leastSquares && float64(r.Contacts)*4*width <= length
}

// askStrips asks about long, narrow pieces of gate layers and diffusions with two contacts or more and without a gate, and about
// necks of gate layers and metals.
func (v *view) askStrips() []draft {
	out, taken := v.askNecks()
	for i := range v.f.Regions {
		r := &v.f.Regions[i]
		if !v.isStrip(extract.RegionID(i)) || taken[extract.RegionID(i)] {
			continue
		}
		length, width := strip(r.Area, r.Perimeter)
		squares := length / width
		layer := &v.st.Layers[r.Layer]
		fact := fmt.Sprintf("%s is %s long and %s wide, %s squares", layer.Name, um(length), um(width), figure(squares))
		if layer.SheetOhm > 0 {
			fact += ", " + engineering(squares*layer.SheetOhm, "Ω")
		}
		saw := map[string]seen{"squares": {pick(squares, []float64{20, 60}, "some", "many", "most"), fact}, "likes": {"alone", ""}, "neck": {"even", ""},
			"opening": {outcome: beside}, "ends": {outcome: beside}}
		// A wire that bends once is as long as its box is wide and high; one that comes back twice is longer than twice that.
		if round := float64(r.Box.Width() + r.Box.Height()); length > 2*round {
			saw["course"] = seen{"folded", fmt.Sprintf("it fits into %s × %s", um(float64(r.Box.Width())), um(float64(r.Box.Height())))}
		} else {
			saw["course"] = seen{outcome: "direct"}
		}
		if v.feature > 0 {
			saw["width"] = seen{pick(width/v.feature, []float64{1.3}, "narrow", "wide"), fmt.Sprintf("%s times %s", figure(width/v.feature), v.featureHow)}
		}
		if n := v.regionLikes(extract.RegionID(i)); n > 0 {
			saw["likes"] = seen{"bars", plural(n, "like", "likes")}
		}
		d := draft{kind: WireOrResistor, at: r.Within, layer: r.Layer, path: v.f.Path(extract.RegionID(i)), saw: saw, box: r.Box, about: []extract.RegionID{extract.RegionID(i)}}
		if r.Net != netlist.NoNet {
			d.nets = []netlist.Net{r.Net}
			d.devices = v.devicesOn(r.Net)
		}
		d.form.rims = []extract.RegionID{extract.RegionID(i)}
		out = append(out, d)
	}
	return out
}

package question

import (
	"fmt"
	"slices"
	"strings"

	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// A junction needs about three features beside each gate, and a square of three features around each contact (common
// practice: a contact of one feature, and one feature around it).
const (
	needBeside  = 3
	needContact = 9
)

// askPhotodiodes asks about diffusions that are much larger than their gates and contacts need.
func (v *view) askPhotodiodes() []draft {
	var out []draft
	for _, id := range v.largeJunctions() {
		if r := &v.f.Regions[id]; r.DiodeArea > r.Area && v.answers.in(Photodiode, r.Layer, r.Box, id) < 0 {
			continue // a rule of the stack says what it is
		}
		out = append(out, v.photodiodeDraft(id))
	}
	return out
}

// leastLarge is how many times what a junction's gates and contacts need it must be to be large.
const leastLarge = 3

// largeJunctions returns the junctions that are much larger than their gates and contacts need, in the order of place.
func (v *view) largeJunctions() []extract.RegionID {
	if v.feature == 0 {
		return nil
	}
	if v.beside == nil {
		v.beside = make([]float64, len(v.f.Regions))
		for i := range v.f.Channels {
			for _, e := range v.f.Channels[i].Edges {
				v.beside[e.Region] += e.Length
			}
		}
	}
	var out []extract.RegionID
	for i := range v.f.Regions {
		r := &v.f.Regions[i]
		if r.Kind != extract.JunctionRegion || r.TapArea > r.Area || v.largeness(extract.RegionID(i)) < leastLarge {
			continue
		}
		if _, width := strip(r.Area+r.DiodeArea, r.Perimeter+v.beside[i]); width >= 2*plateFeatures*v.feature { // a long strip is a wire, whatever its area
			out = append(out, extract.RegionID(i))
		}
	}
	return out
}

// largeness returns how many times what its gates and contacts need a junction is.
func (v *view) largeness(id extract.RegionID) float64 {
	r := &v.f.Regions[id]
	need := needBeside*v.feature*v.beside[id] + needContact*v.feature*v.feature*float64(max(r.Contacts, 1))
	return (r.Area + r.DiodeArea) / need
}

// photodiodeDraft looks at a large junction.
func (v *view) photodiodeDraft(id extract.RegionID) draft {
	r := &v.f.Regions[id]
	whole, large := r.Area+r.DiodeArea, v.largeness(id)
	saw := map[string]seen{"size": {pick(large, []float64{3, 10}, "needed", "large", "huge"), fmt.Sprintf("%s are %swhat %s and %s need", area(whole), times(large), plural(r.Channels, "gate", "gates"), plural(r.Contacts, "contact", "contacts"))}}
	saw["rim"] = seen{"bare", ""}
	if r.Channels > 0 {
		saw["rim"] = seen{"gate", plural(r.Channels, "gate", "gates")}
	}
	if v.padsTraced() {
		saw["pad"] = seen{"inside", ""}
		if v.pads[r.NetID] {
			saw["pad"] = seen{"pad", v.say(r.NetID)}
		}
	}
	d := draft{kind: Photodiode, at: r.Within, layer: r.Layer, path: v.f.Path(id), saw: saw, box: r.Box, about: []extract.RegionID{id}}
	saw["array"] = seen{"single", ""}
	if strings.Contains(d.path, "[") {
		saw["array"] = seen{"many", "its cell is placed as an array"}
	} else if n := v.regionLikes(id); n >= manyPlaces {
		saw["array"] = seen{"many", fmt.Sprintf("%d others of its size lie near it", n)}
	}
	if r.Net != netlist.NoNet {
		d.nets = []netlist.Net{r.Net}
	}
	d.form.rims = []extract.RegionID{id}
	return d
}

// padsTraced reports whether the stack knows pads, and one at least was drawn.
func (v *view) padsTraced() bool {
	for l := range v.st.Layers {
		if v.st.Layers[l].Role == stack.Pad && slices.Contains(v.pads, true) {
			return true
		}
	}
	return false
}

// regionLikes counts the regions near one that have its layer, area and perimeter, no more than are needed to tell.
func (v *view) regionLikes(id extract.RegionID) int {
	if v.sizes == nil {
		v.sizes = newLikes()
		for i := range v.f.Regions {
			r := &v.f.Regions[i]
			v.sizes.add(int32(i), r.Area, r.Perimeter, r.Box, 4*max(r.Box.Width(), r.Box.Height()))
		}
	}
	r := &v.f.Regions[id]
	near := grown(r.Box, 4*max(r.Box.Width(), r.Box.Height()))
	found := map[int32]bool{}
	v.sizes.near(r.Area, r.Perimeter, near, func(k int32) bool {
		q := &v.f.Regions[k]
		if k != int32(id) && q.Layer == r.Layer && q.Kind == r.Kind && q.Box.Overlaps(near) && alike(q.Area, r.Area) && alike(q.Perimeter, r.Perimeter) && sameBox(q.Box, r.Box) {
			found[k] = true
		}
		return len(found) < manyPlaces
	})
	return len(found)
}

// sameBox reports whether two boxes have the same sides, in either order.
func sameBox(a, b geom.Rect) bool {
	return alike(float64(min(a.Width(), a.Height())), float64(min(b.Width(), b.Height()))) && alike(float64(max(a.Width(), a.Height())), float64(max(b.Width(), b.Height())))
}

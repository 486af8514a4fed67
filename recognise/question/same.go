package question

import (
	"cmp"
	"encoding/binary"
	"math"
)

// samenessOf appends to b all that the observations of a plate hang on beside what is drawn at its place: where two plates have the
// same, they see the same and are one question. It spares the looking at each of the thousands of transistors of a memory. It is not ok
// of one that must be looked at by itself: nothing is drawn at its place, or what was looked at differs from place to place.
func (v *view) samenessOf(p *plate, b []byte) (same []byte, ok bool) {
	if p.drawn.Shape == nil || len(v.opt.Traced) > 0 {
		return b, false
	}
	num := func(all ...int) {
		for _, x := range all {
			b = binary.LittleEndian.AppendUint64(b, uint64(x))
		}
	}
	real := func(all ...float64) {
		for _, x := range all {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
		}
	}
	flag := func(x bool) {
		if x {
			b = append(b, 1)
		} else {
			b = append(b, 0)
		}
	}
	num(int(p.layer), len(p.channels), len(p.gates), len(p.rims), len(p.nets), int(v.kindOf(p)))
	real(p.area, p.w, p.l, p.across)
	flag(p.skim)
	flag(v.gateKnown(p))
	flag(v.cut(p))
	flag(v.contactsNear(p.box, p.gates, p.rims))
	netwise := func(n int) {
		num(int(v.roleOf(n)), len(v.labels(n)))
		flag(v.pads[n])
		flag(n == p.gateNet)
	}
	netwise(p.gateNet)
	for _, n := range p.nets {
		netwise(n)
	}
	of, counts, loose := v.tally(p)
	num(loose)
	for i, n := range of {
		num(counts[i])
		netwise(n)
	}
	rim := 0.0
	for _, r := range p.rims {
		rim += v.f.Regions[r].Area + v.f.Regions[r].TapArea
	}
	real(rim)
	if p.skim {
		flag(v.inLine(p.rims))
		for _, r := range p.rims {
			num(v.f.Regions[r].Contacts)
		}
	}
	if len(p.channels) > 0 {
		c := &v.f.Channels[p.channels[0]]
		well := -1
		if c.Well >= 0 {
			well = int(v.f.Regions[c.Well].Layer)
		}
		num(int(c.Diffusion), well)
		real(c.Perimeter)
		for _, e := range c.Edges {
			num(e.Stretches, v.f.Regions[e.Region].Contacts)
			real(e.Length)
		}
	}
	if v.likesMatter(p) {
		b = append(b, v.likesOf(p).outcome...)
	}
	if len(v.answers.all) > 0 {
		reading, _ := v.answer(&draft{kind: TransistorOrCapacitor, at: p.at, layer: p.layer, devices: p.devices, box: p.box, about: p.gates})
		b = append(append(b, ' '), reading...)
	}
	return b, true
}

// askPlates drafts the question of each plate; of those that are the same, the first by place stands for all.
func (v *view) askPlates() []draft {
	type group struct {
		first   int // in v.plates
		count   int
		devices int // how many
	}
	var groups []group
	of := make([]int32, len(v.plates))  // by plate: its group
	number := map[spot]map[string]int{} // by what is drawn there, and sameness
	var same []byte                     // room for that
	v.quiet = true
	for k := range v.plates {
		p := &v.plates[k]
		s, ok := v.samenessOf(p, same[:0])
		same = s
		on := spot{p.drawn.Shape, p.drawn.At}
		i, there := number[on][string(s)]
		if !ok || !there || v.each {
			if ok {
				if number[on] == nil {
					number[on] = map[string]int{}
				}
				number[on][string(s)] = len(groups)
			}
			of[k] = int32(len(groups))
			groups = append(groups, group{k, 1, len(p.devices)})
			continue
		}
		g := &groups[i]
		of[k] = int32(i)
		g.count++
		g.devices += len(p.devices)
		if q := &v.plates[g.first]; cmp.Or(cmp.Compare(p.at.Y, q.at.Y), cmp.Compare(p.at.X, q.at.X)) < 0 {
			g.first = k
		}
	}
	out := make([]draft, len(groups))
	for i, g := range groups {
		out[i] = v.plateDraft(&v.plates[g.first])
		out[i].count, out[i].devices, out[i].plate = g.count, make([]int, 0, g.devices), &v.plates[g.first]
		out[i].plates = make([]int32, 0, g.count)
	}
	v.quiet = false
	for k, i := range of {
		p, d := &v.plates[k], &out[i]
		d.devices = append(d.devices, p.devices...)
		d.plates = append(d.plates, int32(k))
	}
	return out
}

package question

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/recognise"
	"undermetal/recognise/parts"
)

// What recognition says of a structure: its surroundings are recognised with the structure as each reading has it, so that no reading in
// force vouches for itself. That is the same as taking it out and asking whether what is left of a known circuit has a hole that it fills.

// knownAround is what the table calls what recognition says.
const knownAround = "a known circuit around it"

// How many questions of a kind are looked at so, in the order of place, and of these how many by fits that lack a piece, which take some
// ten times as long. And in how many places of each question.
const (
	mostAround  = 400
	mostPartial = 40
	mostPlaces  = 3
)

// leastOthers is how many other devices of a fit are enough to vouch for one: of a single one, chance makes too many.
const leastOthers = 2

// standing is how well something stands in a known circuit.
type standing int

const (
	stray standing = iota // in none
	maybe                 // in one of two devices, or in one that lacks another piece, too
	whole                 // in one that is whole, of three devices or more
)

// stand is what a reading makes of a structure.
type stand struct {
	as  standing
	fit *recognise.Fit
	how string // its place in the fit
}

// surroundings are what recognition looks at.
type surroundings struct {
	*recognise.Around
	looked map[string]int   // by kind: questions
	by     map[string]int   // of these, by fits that lack a piece
	open   map[int]bool     // by plate: whether it is an open question what it is
	stand  map[int]standsAs // by device, as drawn
	err    error            // the first: what was found since counts for nothing
}

// standsAs is where a device stands, and its role there; that is empty unless the fit is whole.
type standsAs struct {
	stand
	role string
}

// lookAround says what recognition makes of a question that is not decided without it; ok is false where it says nothing.
func (v *view) lookAround(d *draft) (s seen, ok bool) {
	look := map[string]func(*Place, bool) seen{
		TransistorOrCapacitor: v.plateAround, Polarity: func(at *Place, partial bool) seen { return alreadyTold(v.polarityAround(at, partial), d.saw["source"]) }, Photodiode: v.photodiodeAround, FloatingGate: v.gateAround,
		NearMiss: func(*Place, bool) seen { return v.gapAround(d) }, OutOfFamily: func(p *Place, _ bool) seen { return v.sizeAround(p, d.likes) },
	}[d.kind]
	if look == nil || len(d.saw) == 0 {
		return s, false
	}
	if v.around == nil {
		v.around = &surroundings{Around: recognise.NewAround(v.neutral()), looked: map[string]int{}, by: map[string]int{}, open: map[int]bool{}, stand: map[int]standsAs{}}
		v.around.Looked = recognise.LookedAt(v.opt.Traced)
	}
	if v.around.looked[d.kind]++; v.around.looked[d.kind] > mostAround {
		return s, false
	}
	partial := v.around.by[d.kind] < mostPartial
	places := v.placesOf(d)
	n := len(places)
	if d.kind == OutOfFamily || d.kind == NearMiss { // what is drawn by its likes differs, not its place; of gaps the first one's sides are known
		n = 1
	}
	for k := range min(n, mostPlaces) {
		at := &places[0]
		if k > 0 {
			at = &places[k*(n-1)/(min(n, mostPlaces)-1)]
		}
		here := look(at, partial)
		if k == 0 {
			s = here
		}
		if here.outcome == "" || here.outcome != s.outcome {
			return seen{}, false // its places do not say the same
		}
	}
	return s, s.outcome != ""
}

// neutral is the circuit as drawn and answered: where a leading reading made a device what it is, that is taken back.
func (v *view) neutral() *netlist.Circuit {
	if len(v.res.Leading) == 0 {
		return v.c
	}
	c := *v.c
	c.Devices = slices.Clone(c.Devices)
	for i := range v.res.Leading {
		u := &v.res.Leading[i]
		for _, k := range u.Devices {
			switch d := &c.Devices[k]; {
			case u.Unused || u.Lost:
			case u.Kind == Polarity:
				d.Kind, d.Model = netlist.MOS, ""
			case u.Kind == Photodiode: // a device without nets is none
				d.Terminals = [4]netlist.Net{netlist.NoNet, netlist.NoNet, netlist.NoNet, netlist.NoNet}
			}
		}
	}
	return &c
}

// find recognises the surroundings of nets in a reading; nothing where that fails, which view.stopped tells.
func (v *view) find(near []netlist.Net, r recognise.Reading, missing int) *recognise.Result {
	found, err := v.around.Find(v.ctx, near, r, missing)
	if err != nil {
		if v.around.err == nil {
			v.around.err = err
		}
		return &recognise.Result{}
	}
	return found
}

// stands returns how one of some devices stands in what is recognised, the best by how whole and how heavy the fit is. Others of the fit
// count unless they are in doubt themselves; optional members count only where optional says so.
func (v *view) stands(found *recognise.Result, is func(int32) bool, doubt func(int32) bool, optional bool) stand {
	best := stand{}
	better := func(s stand) {
		if s.as > best.as || s.as == best.as && s.as > stray && s.fit.Weight > best.fit.Weight {
			best = s
		}
	}
	look := func(f *recognise.Fit, most standing) {
		own, others := "", 0
		for _, m := range f.Members {
			switch {
			case is(m.Device) || slices.ContainsFunc(m.Fingers, is):
				if optional || !slices.Contains(f.Pattern.Optional, m.Role) {
					own = cmp.Or(own, m.Role)
				}
			case doubt == nil || !doubt(m.Device):
				others++
			}
		}
		switch {
		case own == "" || others == 0:
		case others >= leastOthers:
			better(stand{most, f, own})
		case most == whole:
			better(stand{maybe, f, own})
		}
	}
	for i := range found.Fits {
		look(&found.Fits[i], whole)
	}
	for i := range found.Partial {
		if f := &found.Partial[i]; len(f.Missing) == 1 && len(f.Extra) == 0 && !is(f.Missing[0].Device) {
			look(f, maybe)
		}
	}
	return best
}

// compare looks at a structure in two readings, and names the one by which it stands in a known circuit.
func (v *view) compare(kind string, near []netlist.Net, names [2]string, words [2]string, readings [2]*recognise.Reading, doubt func(int32) bool, partial bool) seen {
	var s [2]stand
	first := int32(len(v.c.Devices))
	try := func(missing int) {
		for k, r := range readings {
			if r != nil {
				s[k] = v.stands(v.find(near, *r, missing), func(i int32) bool { return i >= first }, doubt, false)
			}
		}
	}
	if try(0); s[0].as == stray && s[1].as == stray && partial {
		v.around.by[kind]++
		try(1)
	}
	k := 0
	if s[1].as > s[0].as {
		k = 1
	}
	switch a, b := s[k].as, s[1-k].as; {
	case a == stray:
		return seen{}
	case a == b:
		return seen{"either", v.tell(func() string {
			return fmt.Sprintf("%s it is %s, %s %s", words[0], s[0].say(), words[1], s[1].say())
		})}
	case a == whole && b == stray:
		return seen{names[k], v.tell(func() string { return words[k] + " it is " + s[k].say() })}
	}
	return seen{names[k] + "-maybe", v.tell(func() string { return words[k] + " it is " + s[k].say() })}
}

// say tells a place in a fit.
func (s *stand) say() string {
	title := s.fit.Pattern.Title
	if s.fit.Mirror {
		title += ", p flavour"
	}
	text := fmt.Sprintf("%s of %s", s.how, withArticle(title))
	if n := len(s.fit.Missing); n > 0 {
		return text + ", of which " + plural(n, "other piece is", "other pieces are") + " missing"
	}
	return text + fmt.Sprintf(", with %s", plural(len(s.fit.Members)-1, "other device", "other devices"))
}

// withArticle puts an article before a title, unless it begins with a number of things, or with what one does not count.
func withArticle(title string) string {
	switch first, _, _ := strings.Cut(title, " "); {
	case slices.Contains([]string{"two", "three", "four", "pad", "correlated"}, first) && title != "pad resistor with clamp":
		return title
	case strings.ContainsRune("aeioAEIO", rune(title[0])) && !strings.HasPrefix(title, "one-"):
		return "an " + title
	}
	return "a " + title
}

// plateAround looks at a structure as a transistor and as a capacitor.
func (v *view) plateAround(at *Place, partial bool) seen {
	if len(at.Devices) == 0 || len(v.channelsOf[at.Devices[0]]) == 0 {
		return seen{} // it makes no device
	}
	p := &v.plates[v.plateOf[v.channelsOf[at.Devices[0]][0]]]
	gate := v.netOf(p.gateNet)
	nets, _, _ := v.tally(p)
	if len(nets) < 2 {
		nets = p.nets
	}
	if gate == netlist.NoNet || len(nets) == 0 {
		return seen{}
	}
	rim := v.netOf(nets[0])
	like := v.c.Devices[p.devices[0]]
	as := [2]*recognise.Reading{nil, {Without: p.devices, With: []netlist.Device{{Kind: netlist.Capacitor, At: like.At,
		Terminals: [4]netlist.Net{gate, rim, netlist.NoNet, netlist.NoNet}}}}}
	if len(nets) > 1 && v.netOf(nets[1]) != netlist.NoNet && rim != netlist.NoNet {
		t := netlist.Device{Kind: netlist.MOS, At: like.At, W: p.w, L: p.l, Terminals: [4]netlist.Net{rim, gate, v.netOf(nets[1]), netlist.NoNet}}
		if like.Kind.IsMOS() {
			t.Kind, t.Model = like.Kind, like.Model
		}
		as[0] = &recognise.Reading{Without: p.devices, With: []netlist.Device{t}}
	}
	if gate == rim || rim == netlist.NoNet {
		as[1] = nil
	}
	own := v.plateOf[v.channelsOf[at.Devices[0]][0]]
	return v.compare(TransistorOrCapacitor, []netlist.Net{gate, rim}, [2]string{"transistor", "capacitor"}, [2]string{"as a transistor", "as a capacitor"},
		as, func(i int32) bool { return v.inDoubt(i, own) }, partial)
}

// inDoubt reports whether it is an open question itself whether a device is a transistor or a capacitor; except is the plate that is
// asked about. Such a one vouches for nothing: it may be what it is taken for only by default.
func (v *view) inDoubt(device int32, except int) bool {
	if int(device) >= len(v.c.Devices) || len(v.channelsOf[int(device)]) == 0 || v.decided(TransistorOrCapacitor, int(device)) {
		return false
	}
	k := v.plateOf[v.channelsOf[int(device)][0]]
	open, known := v.around.open[k]
	if !known && k != except {
		w := *v
		w.quiet = true
		q := newQuestion(TransistorOrCapacitor, nil, w.lookAtPlate(&v.plates[k]))
		open = q.Readings[0].OddsDb < PlausibleDb
		v.around.open[k] = open
	}
	return open
}

// polarityAround looks at a transistor, with those parallel to it, as n and as p.
func (v *view) polarityAround(at *Place, partial bool) seen {
	d := &v.c.Devices[at.Devices[0]]
	var as [2]*recognise.Reading
	for k, kind := range []netlist.Kind{netlist.NMOS, netlist.PMOS} {
		r := &recognise.Reading{}
		for _, i := range v.gatedBy(d.Terminals[netlist.Gate]) {
			e := v.c.Devices[i]
			if i != at.Devices[0] && (!sameEnds(&e, d) || e.Kind != netlist.MOS && !v.decided(Polarity, i)) {
				continue
			}
			e.Kind, e.Model = kind, ""
			r.Without, r.With = append(r.Without, i), append(r.With, e)
		}
		as[k] = r
	}
	return v.compare(Polarity, netsOf(d), [2]string{"n", "p"}, [2]string{"as an n transistor", "as a p transistor"}, as, nil, partial)
}

// alreadyTold is what recognition says of a polarity, where a supply at the source may say so already: by that supply it fits.
func alreadyTold(s, source seen) seen {
	if bySource := map[string]string{"ground": "n", "supply": "p"}[source.outcome]; bySource != "" && s.outcome == bySource {
		s.outcome += "-too"
	}
	return s
}

// sameEnds reports whether source and drain of two transistors are the same nets.
func sameEnds(a, b *netlist.Device) bool {
	d, s := a.Terminals[netlist.Drain], a.Terminals[netlist.Source]
	return d == b.Terminals[netlist.Drain] && s == b.Terminals[netlist.Source] || s == b.Terminals[netlist.Drain] && d == b.Terminals[netlist.Source]
}

// photodiodeAround looks whether a known circuit has a diode where a large junction is.
func (v *view) photodiodeAround(at *Place, _ bool) seen {
	if len(at.about) == 0 {
		return seen{}
	}
	r := &v.f.Regions[at.about[0]]
	if r.Net == netlist.NoNet {
		return seen{}
	}
	reading := recognise.Reading{}
	for _, k := range at.By {
		reading.Without = append(reading.Without, v.answers.all[k].Devices...)
	}
	diode := netlist.Device{Kind: netlist.Diode, At: r.Within, Terminals: [4]netlist.Net{v.around.Rail(parts.Ground), r.Net, netlist.NoNet, netlist.NoNet}}
	if v.junctionType(at.about[0]) == "p" {
		diode.Terminals[0], diode.Terminals[1] = r.Net, v.around.Rail(parts.Supply)
	}
	reading.With = []netlist.Device{diode}
	first := int32(len(v.c.Devices))
	s := v.stands(v.find([]netlist.Net{r.Net}, reading, 0), func(i int32) bool { return i >= first }, nil, true)
	if s.as < whole {
		return seen{}
	}
	if s.fit.Pattern.Group == "pixel" {
		return seen{"light", v.tell(func() string { return "as a photodiode it is " + s.say() })}
	}
	return seen{"diode", v.tell(func() string { return "as a diode it is " + s.say() })}
}

// junctionType returns the type of a junction: that of the transistors on it, else the one that what it lies in is not; n where neither tells.
func (v *view) junctionType(id extract.RegionID) string {
	for i := range v.f.Channels {
		c := &v.f.Channels[i]
		if c.Device >= 0 && slices.ContainsFunc(c.Edges, func(e extract.Edge) bool { return e.Region == id }) {
			if l := letters[v.known(c.Device)]; l != "" {
				return l
			}
		}
	}
	if v.bodyType(v.f.Regions[id].Well) == "n" {
		return "p"
	}
	return "n"
}

package question

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
	"undermetal/recognise/parts"
)

// view is a drawing as the kinds of question see it.
type view struct {
	res    *extract.Result
	c      *netlist.Circuit
	f      *extract.Facts
	st     *stack.Stack
	checks []check.Finding
	opt    Options
	ctx    context.Context // of the call that the view is made for

	feature    float64 // nm, the shortest length that the process draws; 0: not known
	featureHow string
	role       []role        // of the circuit's nets
	pads       []bool        // by NetID: joined to a pad
	byNet      [][]int       // by NetID: regions
	nets       []netlist.Net // by NetID: the circuit's
	channelsOf [][]int       // by device: channels
	landed     *grid         // regions that contacts land on
	plates     []plate
	spots      spots
	plateOf    []int  // by channel
	skim       []bool // by channel: diffusion only skims the gate
	likes      *likes
	answers    *answers
	each       bool      // for tests: look at each plate by itself
	sizes      *likes    // regions, by area and perimeter
	beside     []float64 // by region: nm of channel along it
	made       [][]int   // channels by gate
	onNet      map[netlist.Net][]int
	netNamed   map[string]netlist.Net
	netPlaced  map[layout.Place]netlist.Net
	gateBoxes  *grid
	gated      map[netlist.Net][]int      // transistors by gate net
	onRegion   map[extract.RegionID][]int // transistors by source or drain
	oxideNm    float64
	oxideHow   string
	around     *surroundings // what recognition looks at; nil until it is asked
	room       *room         // of a view and its copies, one at a time
	quiet      bool          // facts are left out: most drafts are folded, and nobody reads theirs
}

// room is memory for view.tally and view.formOf, to be used again, and what tallies are cut off from.
type room struct {
	rims    []rim
	led     []share
	tallies []int
	form    formRoom
}

// role is what a net is for, as far as that can be told.
type role uint8

const (
	signal role = iota
	ground      // and other negative supplies
	supply      // positive
)

func newView(res *extract.Result, st *stack.Stack, checks []check.Finding, opt Options) *view {
	v := &view{res: res, c: res.Circuit, f: res.Facts, st: st, checks: checks, opt: opt, ctx: context.Background(), spots: spots{}, room: new(room), channelsOf: make([][]int, len(res.Circuit.Devices))}
	v.answers = newAnswers(res.Verdicts)
	if v.f == nil {
		v.f = &extract.Facts{}
	}
	v.byNet, v.nets, v.pads = make([][]int, v.f.Nets), make([]netlist.Net, v.f.Nets), make([]bool, v.f.Nets)
	on := make([]int, v.f.Nets)
	for i := range v.f.Regions {
		on[v.f.Regions[i].NetID]++
	}
	all := make([]int, len(v.f.Regions)) // one piece of memory for all
	for n, k := range on {
		v.byNet[n], all = all[:0:k], all[k:]
	}
	for i := range v.f.Regions {
		r := &v.f.Regions[i]
		v.byNet[r.NetID] = append(v.byNet[r.NetID], i)
		if r.Kind == extract.PadRegion {
			v.pads[r.NetID] = true
		}
	}
	for n, rs := range v.byNet {
		v.nets[n] = netlist.NoNet
		if len(rs) > 0 {
			v.nets[n] = v.f.Regions[rs[0]].Net
		}
	}
	v.made = make([][]int, len(v.f.Regions))
	one := make([]int, len(v.f.Channels)) // room for the first of each
	for i := range v.f.Channels {
		one[i] = i
		if gate := v.f.Channels[i].Gate; v.made[gate] == nil {
			v.made[gate] = one[i : i+1 : i+1]
		} else {
			v.made[gate] = append(v.made[gate], i)
		}
		if d := v.f.Channels[i].Device; d >= 0 {
			if v.channelsOf[d] == nil {
				v.channelsOf[d] = one[i : i+1 : i+1]
			} else {
				v.channelsOf[d] = append(v.channelsOf[d], i)
			}
		}
	}
	v.findFeature()
	v.findRoles()
	v.findPlates()
	return v
}

// findFeature settles on the shortest length of the process: what the stack says, else the usual side of a contact, since
// contacts are drawn as small as the process allows (common practice), else what one gate in twenty is shorter than, else the
// narrowest of three gates or more.
func (v *view) findFeature() {
	if f := v.st.Process.MinFeatureNm; f > 0 {
		v.feature, v.featureHow = f, "the stack's smallest feature"
		return
	}
	if sides := v.contactSizesSorted(); len(sides) > 0 {
		v.feature, v.featureHow = sides[len(sides)/2], "the side of a contact"
		return
	}
	var lengths, widths []float64
	for i := range v.f.Regions {
		if r := &v.f.Regions[i]; r.Kind == extract.GateRegion {
			_, w := strip(r.Area, r.Perimeter)
			widths = append(widths, w)
		}
	}
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; d.Kind.IsMOS() && d.L > 0 {
			lengths = append(lengths, d.L)
		}
	}
	slices.Sort(lengths)
	switch {
	case len(lengths) >= 8:
		v.feature, v.featureHow = lengths[len(lengths)/20], "the length of the shortest gates"
	case len(widths) >= 3:
		v.feature, v.featureHow = slices.Min(widths), "the width of the narrowest gate"
	}
}

// nameRole tells a supply by its name.
func nameRole(name string) role {
	switch parts.RailByName(name) {
	case parts.Ground:
		return ground
	case parts.Supply:
		return supply
	}
	return signal
}

// findRoles tells supplies by name, then by bulk: the net that is the bulk of most n transistors is a ground, that of most p
// transistors a positive supply, if its name says nothing else.
func (v *view) findRoles() {
	v.role = make([]role, len(v.c.Nets))
	for i := range v.c.Nets {
		v.role[i] = v.namesRole(&v.c.Nets[i])
	}
	count := map[netlist.Kind]map[netlist.Net]int{netlist.NMOS: {}, netlist.PMOS: {}}
	for i := range v.c.Devices {
		d := &v.c.Devices[i]
		if n := count[d.Kind]; n != nil && d.Terminals[netlist.Bulk] != netlist.NoNet {
			n[d.Terminals[netlist.Bulk]]++
		}
	}
	most := func(k netlist.Kind) netlist.Net {
		best := netlist.NoNet
		for n, c := range count[k] {
			if best == netlist.NoNet || c > count[k][best] || c == count[k][best] && n < best {
				best = n
			}
		}
		return best
	}
	n, p := most(netlist.NMOS), most(netlist.PMOS)
	if n != p {
		for net, r := range map[netlist.Net]role{n: ground, p: supply} {
			if net != netlist.NoNet && v.role[net] == signal && !v.untied(net) {
				v.role[net] = r
			}
		}
	}
}

func (v *view) namesRole(n *netlist.NetInfo) role {
	r := nameRole(n.Name)
	for _, l := range n.Labels {
		if r == signal {
			r = nameRole(l)
		}
	}
	return r
}

// roleOf returns the role of a net by its number in Facts.
func (v *view) roleOf(netID int) role {
	if n := v.netOf(netID); n != netlist.NoNet {
		return v.role[n]
	}
	return signal
}

// netOf returns the circuit's net of a number in Facts.
func (v *view) netOf(netID int) netlist.Net { return v.nets[netID] }

// untied reports whether a bulk net is one that nothing ties: it has no conductor.
func (v *view) untied(n netlist.Net) bool {
	info := &v.c.Nets[n]
	if len(info.Labels) > 0 {
		return false
	}
	if info.Layer == "" || info.Layer == "substrate" {
		return info.Layer == "" || info.Name == ""
	}
	l, ok := v.st.LayerNamed(info.Layer)
	if !ok || v.st.Layers[l].Role != stack.Well || info.Name != "" || info.Open {
		return false
	}
	for i := range v.f.Regions {
		if r := &v.f.Regions[i]; r.Net == n && r.Kind != extract.WellRegion {
			return false
		}
	}
	return true
}

// supplies reports whether any supply is known.
func (v *view) supplies() bool {
	return slices.ContainsFunc(v.role, func(r role) bool { return r != signal })
}

// tell returns a fact, or nothing where nobody will read it.
func (v *view) tell(fact func() string) string {
	if v.quiet {
		return ""
	}
	return fact()
}

// say names a net by its number in Facts.
func (v *view) say(netID int) string { return v.sayNet(v.netOf(netID)) }

func (v *view) sayNet(n netlist.Net) string {
	if n == netlist.NoNet || v.c.Nets[n].Name == "" {
		return "a net without label"
	}
	return v.c.Nets[n].Name
}

// looked reports whether a layer was looked at in a box, and whether anybody said where that layer was looked at.
func (v *view) looked(l layout.Layer, box geom.Rect) (looked, said bool) {
	for i := range v.opt.Traced {
		if t := &v.opt.Traced[i]; t.Layer == l {
			said = true
			if t.Polygon.Locate(geom.Point{X: (box.Min.X + box.Max.X) / 2, Y: (box.Min.Y + box.Max.Y) / 2}) != geom.Outside {
				return true, true
			}
		}
	}
	return !said, said
}

// contactsNear reports whether contacts were traced in a place: some land on the regions given, or on others near the box.
func (v *view) contactsNear(box geom.Rect, own ...[]extract.RegionID) bool {
	for _, rs := range own {
		if slices.ContainsFunc(rs, func(r extract.RegionID) bool { return v.f.Regions[r].Contacts > 0 }) {
			return true
		}
	}
	if v.landed == nil {
		v.landed = newGrid(max(int(v.feature*50), 1))
		v.landed.entries = make([]entry, 0, len(v.f.Regions))
		for i := range v.f.Regions {
			if v.f.Regions[i].Contacts > 0 {
				v.landed.add(int32(i), v.f.Regions[i].Box)
			}
		}
	}
	near := max(int(20*v.feature), box.Width(), box.Height())
	found := false
	v.landed.near(grown(box, near), func(k int32) bool {
		found = v.f.Regions[k].Box.Overlaps(grown(box, near))
		return !found
	})
	return found
}

func grown(r geom.Rect, by int) geom.Rect {
	return geom.Rect{Min: r.Min.Add(geom.Point{X: -by, Y: -by}), Max: r.Max.Add(geom.Point{X: by, Y: by})}
}

// um writes a length in µm, with three digits.
func um(nm float64) string { return strconv.FormatFloat(nm/1000, 'g', 3, 64) + " µm" }

// figure writes a number with two digits.
func figure(x float64) string {
	if x >= 100 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', 2, 64)
}

// engineering writes a value with a prefix of the SI and three digits.
func engineering(x float64, unit string) string {
	prefixes := []string{"a", "f", "p", "n", "µ", "m", "", "k", "M", "G"}
	k := 6
	for ; x < 0.9995 && k > 0; k-- {
		x *= 1000
	}
	for ; x >= 999.5 && k < len(prefixes)-1; k++ {
		x /= 1000
	}
	return fmt.Sprintf("%s %s%s", strconv.FormatFloat(x, 'g', 3, 64), prefixes[k], unit)
}

// devicesOn returns the devices that have a terminal on a net.
func (v *view) devicesOn(n netlist.Net) []int {
	if v.onNet == nil {
		v.onNet = map[netlist.Net][]int{}
		for i := range v.c.Devices {
			for _, t := range v.c.Devices[i].Terminals {
				if ds := v.onNet[t]; t != netlist.NoNet && (len(ds) == 0 || ds[len(ds)-1] != i) {
					v.onNet[t] = append(ds, i)
				}
			}
		}
	}
	return slices.Clone(v.onNet[n])
}

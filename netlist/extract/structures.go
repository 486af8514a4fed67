package extract

import (
	"math"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
)

// Structure is channels that belong together: the fingers of a switch, the squares of a capacitor, a row of dummies.
type Structure struct {
	Channels []int // in Facts.Channels, in the order of place
	Devices  []int // of the circuit, ascending; none where no channel has a source or drain
	Kind     netlist.Kind
	Model    string
	Layer    layout.Layer // of the gate
	GateID   int          // as Region.NetID

	Gate, Drain, Source netlist.Net // NoNet where there is none; Drain and Source are equal where all its diffusion is one net
	W                   float64     // nm, of all devices together
	L                   float64     // nm, 0 where the devices' differ by more than a nanometre
	Area                float64     // nm², of all channels
	Fingers             int         // how many channels
	GateContacts        int         // on all its gate regions
	DrainContacts       int         // on all its regions of net Drain
	SourceContacts      int         // on all its regions of net Source, 0 where that is Drain
	Box                 geom.Rect
	At                  geom.Point // within its first channel
	Path, Cell          string     // of its first channel
}

// nearby is how many times its own size, the side of a square of its box's area, a channel may be away from another one of
// the same nets and cell that belongs to it. Chosen so that squares of a bank belong together which are further apart than
// they are wide, and the likes of two blocks do not.
const nearby = 3

// alike is what the channels of a structure have in common.
type alike struct {
	gate  int32
	ends  [2]int32 // net numbers of sources and drains, the smaller first; -1 where there is none
	rest  int32    // one that tells sets of more than two apart
	kind  int32    // netlist.Kind
	model int32    // by name, in the order in which they are met
}

// Structures returns the structures of a circuit, which must be the one that f was told with, in the order of place. Channels
// are of one structure where gate net, model and the nets of source and drain are the same, and they share a junction or a
// gate region, or lie near each other in the same kind of cell. Time n log n in channels for any sizes of about one kind.
func (f *Facts) Structures(c *netlist.Circuit) []Structure {
	first, keys := f.together(c)
	var out []Structure
	at := make([]int, len(first)) // by first channel
	for i, root := range first {
		if int(root) == i {
			at[i] = len(out)
			s := Structure{GateID: int(keys[i].gate)}
			if d := f.Channels[i].Device; d >= 0 {
				s.Kind, s.Model = c.Devices[d].Kind, c.Devices[d].Model
			}
			out = append(out, s)
		}
		s := &out[at[root]]
		s.Channels = append(s.Channels, i)
	}
	for i := range out {
		f.complete(&out[i], c)
	}
	return out
}

// Together returns, for each channel, the first channel of its structure: Structures without what these are like.
func (f *Facts) Together(c *netlist.Circuit) []int32 {
	first, _ := f.together(c)
	return first
}

func (f *Facts) together(c *netlist.Circuit) (first []int32, keys []alike) {
	keys = f.keys(c)
	groups := make([]int, len(f.Channels)) // by channel: first the number of its key
	number := make(map[alike]int, len(keys))
	for i, k := range keys {
		n, ok := number[k]
		if !ok {
			n = len(number)
			number[k] = n
		}
		groups[i] = n
	}
	of := make(sets, len(f.Channels))
	for i := range of {
		of[i] = node(i)
	}
	members := make([]int, len(number))
	for _, g := range groups {
		members[g]++
	}
	for i, g := range groups {
		if members[g] == 1 { // nearly all of a memory
			groups[i] = alone
		}
	}
	f.linkByRegions(of, groups)
	f.linkNear(of, groups)
	first = make([]int32, len(f.Channels))
	for i := range first { // the root of a set is its first
		first[i] = int32(of.find(node(i)))
	}
	return first, keys
}

// alone is the group of a channel that has no likes.
const alone = -1

// keys returns what decides, of each channel, with which others it may be put together.
func (f *Facts) keys(c *netlist.Circuit) []alike {
	keys := make([]alike, len(f.Channels))
	several, models := map[string]int32{}, map[string]int32{"": 0}
	last := "" // nearly always that of the one before
	model := int32(0)
	var ends []int
	var text []byte
	for i := range f.Channels {
		ch, k := &f.Channels[i], &keys[i]
		ends = f.netsOf(ch, ends[:0])
		k.gate, k.ends = int32(f.Regions[ch.Gate].NetID), [2]int32{-1, -1}
		for n, e := range ends[:min(len(ends), 2)] {
			k.ends[n] = int32(e)
		}
		if len(ends) == 1 {
			k.ends[1] = k.ends[0]
		}
		if len(ends) > 2 {
			text = text[:0]
			for _, e := range ends {
				text = append(text, byte(e), byte(e>>8), byte(e>>16), byte(e>>24))
			}
			if several[string(text)] == 0 {
				several[string(text)] = int32(len(several)) + 1
			}
			k.rest = several[string(text)]
		}
		if ch.Device >= 0 {
			d := &c.Devices[ch.Device]
			if d.Model != last {
				n, known := models[d.Model]
				if !known {
					n = int32(len(models))
					models[d.Model] = n
				}
				last, model = d.Model, n
			}
			k.kind, k.model = int32(d.Kind), model
		}
	}
	return keys
}

// netsOf appends the net numbers of a channel's sources and drains, each once, ascending.
func (f *Facts) netsOf(ch *Channel, ends []int) []int {
	for _, e := range ch.Edges {
		if n := f.Regions[e.Region].NetID; !slices.Contains(ends, n) {
			ends = append(ends, n)
		}
	}
	slices.Sort(ends)
	return ends
}

func (f *Facts) linkByRegions(of sets, groups []int) {
	type part struct {
		group  int
		region RegionID
	}
	first := map[part]node{}
	link := func(i int, r RegionID) {
		k := part{groups[i], r}
		if n, ok := first[k]; ok {
			of.union(n, node(i))
		} else {
			first[k] = node(i)
		}
	}
	for i := range f.Channels {
		if groups[i] == alone {
			continue
		}
		link(i, f.Channels[i].Gate)
		for _, e := range f.Channels[i].Edges {
			link(i, e.Region)
		}
	}
}

// size is the side of a square with the area of a channel's box, in nm.
func (ch *Channel) size() float64 {
	return math.Sqrt(float64(ch.Box.Width()) * float64(ch.Box.Height()))
}

// linkNear joins channels of one group and cell where one lies within reach of another that is as large or larger. For each
// size, in steps of two, a grid holds what is no larger: since channels do not overlap, of one size few can reach a place.
func (f *Facts) linkNear(of sets, groups []int) {
	type bin struct{ group, cell, x, y int }
	cells := map[string]int{}
	cell, class := make([]int, len(f.Channels)), make([]int, len(f.Channels))
	members := map[int][]int{} // by class: its channels
	var those []int            // that have likes
	for i := range f.Channels {
		if groups[i] == alone {
			continue
		}
		those = append(those, i)
		ch := &f.Channels[i]
		if _, ok := cells[ch.Cell]; !ok {
			cells[ch.Cell] = len(cells)
		}
		cell[i], class[i] = cells[ch.Cell], int(math.Ceil(math.Log2(max(ch.size(), 1))))
		members[class[i]] = append(members[class[i]], i)
	}
	eachBin := func(i int, r geom.Rect, side int, visit func(bin)) {
		for y := floorDiv(r.Min.Y, side); y <= floorDiv(r.Max.Y, side); y++ {
			for x := floorDiv(r.Min.X, side); x <= floorDiv(r.Max.X, side); x++ {
				visit(bin{groups[i], cell[i], x, y})
			}
		}
	}
	for k, large := range members {
		side := 2 * nearby << k
		grid := map[bin][]int{}
		wanted := map[[2]int]bool{} // groups and cells with any of this size
		for _, i := range large {
			wanted[[2]int{groups[i], cell[i]}] = true
		}
		for _, i := range those {
			if class[i] <= k && wanted[[2]int{groups[i], cell[i]}] {
				eachBin(i, f.Channels[i].Box, side, func(b bin) { grid[b] = append(grid[b], i) })
			}
		}
		for _, i := range large {
			a := &f.Channels[i]
			far := nearby * a.size()
			reach := geom.Rect{Min: a.Box.Min, Max: a.Box.Max}
			d := int(math.Ceil(far))
			reach.Min, reach.Max = reach.Min.Add(geom.Point{X: -d, Y: -d}), reach.Max.Add(geom.Point{X: d, Y: d})
			eachBin(i, reach, side, func(b bin) {
				for _, n := range grid[b] {
					if gap(a.Box, f.Channels[n].Box) < far {
						of.union(node(i), node(n))
					}
				}
			})
		}
	}
}

func floorDiv(a, b int) int {
	if a < 0 {
		return -((-a + b - 1) / b)
	}
	return a / b
}

// gap returns the distance of two boxes in nm.
func gap(a, b geom.Rect) float64 {
	dx := max(0, a.Min.X-b.Max.X, b.Min.X-a.Max.X)
	dy := max(0, a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)
	return math.Hypot(float64(dx), float64(dy))
}

// complete sums up a structure's channels.
func (f *Facts) complete(s *Structure, c *netlist.Circuit) {
	first := &f.Channels[s.Channels[0]]
	s.Fingers, s.Box, s.At, s.Path, s.Cell, s.Layer = len(s.Channels), geom.EmptyRect(), first.At, first.Path, first.Cell, first.Layer
	s.Gate, s.Drain, s.Source = f.Regions[first.Gate].Net, netlist.NoNet, netlist.NoNet
	var regions []RegionID
	for _, i := range s.Channels {
		ch := &f.Channels[i]
		s.Box, s.Area = s.Box.Union(ch.Box), s.Area+ch.Area
		regions = append(regions, ch.Gate)
		for _, e := range ch.Edges {
			regions = append(regions, e.Region)
		}
		for k := range ch.DeviceCount {
			s.Devices = append(s.Devices, ch.Device+k)
		}
	}
	slices.Sort(s.Devices)
	s.Devices = slices.Compact(s.Devices)
	for k, d := range s.Devices {
		dev := &c.Devices[d]
		s.W += dev.W
		switch {
		case k == 0:
			s.L = dev.L
		case math.Abs(s.L-dev.L) > 1:
			s.L = 0
		}
	}
	drain, source := -1, -1
	for i, e := range first.Edges {
		r := &f.Regions[e.Region]
		if i == 0 {
			s.Drain, s.Source, drain, source = r.Net, r.Net, r.NetID, r.NetID
		} else if source == drain && r.NetID != drain {
			s.Source, source = r.Net, r.NetID
		}
	}
	slices.Sort(regions)
	for _, id := range slices.Compact(regions) {
		switch r := &f.Regions[id]; {
		case r.Kind == GateRegion:
			s.GateContacts += r.Contacts
		case r.NetID == drain:
			s.DrainContacts += r.Contacts
		case r.NetID == source:
			s.SourceContacts += r.Contacts
		}
	}
}

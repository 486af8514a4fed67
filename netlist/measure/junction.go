package measure

import (
	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// sides is all that one side of a transistor, its sources or its drain, or a diode has shares of: all their outlines as one.
type sides struct {
	*normal
	of     []sideOf // by ring
	layers map[layout.Layer]known
}

// sideOf says what of the outline of a junction belongs to a side.
type sideOf struct {
	shares []shareOf
	edges  []extract.Border

	area, perimeter float64 // of the outline as a whole
}

// shareOf is a share with what it goes by.
type shareOf struct {
	extract.Share
	own, all float64 // nm, of the border with its channel and with all
}

// junctions adds what is known of AS, AD, PS and PD, and of the areas and perimeters of diodes that verdicts made of sources and drains.
func (u *uncertainty) junctions() {
	if len(u.res.Junctions) == 0 {
		return
	}
	layers := u.atJunctions()
	all := map[[2]int]*sides{} // by device, and 1 for the drain
	var order [][2]int
	for k := range u.res.Junctions {
		j := &u.res.Junctions[k]
		if j.Broken {
			continue
		}
		onChannels := borderOf(j.Rings, j.Edges, leadsToChannel)
		shares := map[[2]int][]shareOf{}
		for _, s := range j.Shares {
			key := [2]int{s.Device, 0}
			if s.Drain {
				key[1] = 1
			}
			if all[key] == nil {
				all[key] = &sides{normal: &normal{}, layers: map[layout.Layer]known{}}
				order = append(order, key)
			}
			own := borderOf(j.Rings, j.Edges, func(b extract.Border) bool { return b.Channel == s.Channel })
			shares[key] = append(shares[key], shareOf{s, own, onChannels})
		}
		for key, of := range shares {
			all[key].add(j, of, layers[k])
		}
	}
	for _, key := range order {
		s, size := all[key], &u.sizes[key[0]]
		area, perimeter := u.sigmaBy(s.layers, key[0], s.gains(s.sharedArea)), u.sigmaBy(s.layers, key[0], s.gains(s.sharedPerimeter))
		switch {
		case u.res.Circuit.Devices[key[0]].Kind == netlist.Diode:
			size.Area, size.Perimeter = area, perimeter
		case key[1] == 1:
			size.AD, size.PD = area, perimeter
		default:
			size.AS, size.PS = area, perimeter
		}
	}
}

func leadsToChannel(b extract.Border) bool { return b.Channel != 0 }

// atJunctions returns what is known of the layers of the edges of each junction.
func (u *uncertainty) atJunctions() []map[layout.Layer]known {
	layers := make([]map[layout.Layer]known, len(u.res.Junctions))
	u.res.JunctionShapes(func(k int, s *layout.Shape, t geom.Transform) {
		if layers[k] == nil {
			layers[k] = map[layout.Layer]known{}
		}
		layers[k][s.Layer] = layers[k][s.Layer].or(u.knownOf(s, t))
	})
	return layers
}

// add adds the outline of a junction, of which a side has shares.
func (s *sides) add(j *extract.Junction, shares []shareOf, layers map[layout.Layer]known) {
	for l, k := range layers {
		s.layers[l] = s.layers[l].or(k)
	}
	area, perimeter := areaOf(j.Rings), borderOf(j.Rings, j.Edges, func(b extract.Border) bool { return b.SideWall })
	for r, edges := range j.Edges {
		s.rings = append(s.rings, j.Rings[r])
		s.of = append(s.of, sideOf{shares, edges, area, perimeter})
		own := make([]normalEdge, len(edges))
		for e := range edges {
			own[e].layer, own[e].drawn = edges[e].Layer, edges[e].Drawn
		}
		s.edges = append(s.edges, own)
	}
}

// sharedArea is what the area of a side does when an edge moves out, in nm² per nm: with P = own/all a share, P·(edge's length) +
// A·dP, where dP = P·(d(own)/own - d(all)/all) is 0 where channels have the region by themselves or their edges with it grow alike.
func (s *sides) sharedArea(r, e int) float64 {
	part, change := s.shared(r, e)
	return part*s.perArea(r, e) + change*s.of[r].area
}

// sharedPerimeter is the same of the perimeter without what leads to channels, in nm per nm.
func (s *sides) sharedPerimeter(r, e int) float64 {
	of := &s.of[r]
	part, change := s.shared(r, e)
	return part*s.perBorder(r, e, func(k int) bool { return of.edges[k].SideWall }) + change*of.perimeter
}

// shared returns the side's part of a junction, and what that does when an edge moves out, per nm.
func (s *sides) shared(r, e int) (part, change float64) {
	of := &s.of[r]
	for _, x := range of.shares {
		part += x.Part
		if x.Channel == 0 || x.own == x.all || x.own == 0 { // all of it, or of a channel whose border a tap hides
			continue
		}
		own := s.perBorder(r, e, func(k int) bool { return of.edges[k].Channel == x.Channel })
		all := s.perBorder(r, e, func(k int) bool { return of.edges[k].Channel != 0 })
		change += x.Part * (own/x.own - all/x.all)
	}
	return part, change
}

package question

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// Fill is which part of its unit cell takes light: the area of the photodiodes of a unit cell over the cell's area (definition). The
// whole photodiode counts, whatever metal lies above it.
type Fill struct {
	Factor float64 // 0: not known
	Cell   float64 // nm², the unit cell
	From   string  // what the pitch was taken from: "array", a placement, or "lattice", its likes
}

// photodiodes are what takes light.
type photodiodes struct {
	device map[int]bool
	region map[extract.RegionID]bool // junctions that make no device, and are most likely photodiodes
	odds   map[extract.RegionID]float64
}

// isPhoto reports whether a model's name says that it takes light.
func isPhoto(model string) bool {
	m := strings.ToLower(model)
	return strings.Contains(m, "photo") || m == "pd" || strings.HasPrefix(m, "pd_")
}

// photodiodes finds diodes whose model says so, and large junctions, made a device by a rule or not, that a question about them would
// take for photodiodes. all are the questions that are asked.
func (v *view) photodiodes(all []Question) *photodiodes {
	asked := map[extract.RegionID]*Question{}
	for i := range all {
		for _, p := range all[i].Places {
			if all[i].Kind == Photodiode && len(p.about) > 0 {
				asked[p.about[0]] = &all[i]
			}
		}
	}
	p := &photodiodes{map[int]bool{}, map[extract.RegionID]bool{}, map[extract.RegionID]float64{}}
	var plain []int // diodes of another name
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; d.Kind == netlist.Diode {
			p.device[i] = isPhoto(d.Model)
			if !p.device[i] {
				plain = append(plain, i)
			}
		}
	}
	for _, id := range v.largeJunctions() {
		r := &v.f.Regions[id]
		if k := v.answers.in(Photodiode, r.Layer, r.Box, id); k >= 0 && !v.answers.all[k].Unused {
			continue // a device by now, or none
		}
		q := asked[id]
		if q == nil { // a rule says what it is, by another name
			rule := newQuestion(Photodiode, v.opt.Prior[Photodiode], v.photodiodeDraft(id).saw)
			q = &rule
		}
		if q.Leading().Reading != "photodiode" {
			continue
		}
		if r.DiodeArea == 0 {
			p.region[id], p.odds[id] = true, q.Leading().OddsDb
			continue
		}
		for _, i := range plain {
			if at := v.res.Place(i); at.Layer == r.Layer && r.Box.Contains(at.At) && slices.Contains(v.c.Devices[i].Terminals[:2], r.Net) {
				p.device[i] = true
			}
		}
	}
	return p
}

// light is a photodiode, with or without a device.
type light struct {
	device int // -1: none
	region extract.RegionID
	place  layout.Place
	area   float64
	at     geom.Point // its lowest, then leftmost corner
	fill   Fill
}

// tellFills finds the unit cells of photodiodes, and tells of those that make no device.
func (v *view) tellFills(t *Told, photo *photodiodes) {
	var all []light
	for i := range v.c.Devices {
		if d := &v.c.Devices[i]; photo.device[i] {
			all = append(all, light{i, extract.NoRegion, v.res.Place(i), d.Area, d.At, Fill{}})
		}
	}
	for i := range v.f.Regions {
		if r := &v.f.Regions[i]; photo.region[extract.RegionID(i)] {
			all = append(all, light{-1, extract.RegionID(i), layout.Place{Layer: r.Layer, At: r.Within}, r.Area, r.At, Fill{}})
		}
	}
	if len(all) == 0 {
		return
	}
	v.fillArrays(all)
	fillLattices(all)
	for i := range all {
		l := &all[i]
		if l.device >= 0 {
			t.Fills[l.device] = l.fill
			continue
		}
		r := &v.f.Regions[l.region]
		t.Structures = append(t.Structures, Structure{Role: Sensor, Layer: r.Layer, At: r.Within, Path: v.f.Path(l.region), Net: r.Net, Area: r.Area, Fill: l.fill, Odds: photo.odds[l.region]})
	}
}

// fillArrays takes the pitches of the arrays that photodiodes are drawn in: from the innermost one outwards the first two that are not
// parallel, and span a cell that holds all photodiodes of its member.
func (v *view) fillArrays(all []light) {
	places := make([]layout.Place, len(all))
	for i := range all {
		places[i] = all[i].place
	}
	pitches := v.res.Pitches(places)
	sum := map[string]float64{} // by the path of a member
	for i := range all {
		last := ""
		for _, p := range pitches[i] {
			if p.Path != last {
				sum[p.Path] += all[i].area
				last = p.Path
			}
		}
	}
	for i := range all {
		all[i].fill = unitCell(pitches[i], sum)
	}
}

func unitCell(pitches []layout.Pitch, sum map[string]float64) Fill {
	for k := range pitches {
		for _, q := range pitches[k+1:] {
			p := &pitches[k]
			cell := math.Abs(p.By.X*q.By.Y - p.By.Y*q.By.X)
			if cell > 1e-6*math.Hypot(p.By.X, p.By.Y)*math.Hypot(q.By.X, q.By.Y) && sum[p.Path] <= cell {
				return Fill{sum[p.Path] / cell, cell, "array"}
			}
		}
	}
	return Fill{}
}

const (
	latticeReach = 16   // times its own size, the root of its area, that the next photodiode may be away: a fill factor of 1/256
	latticeSlack = 0.05 // of the pitch that a hand may be off
)

// fillLattices takes the pitches of photodiodes that lie in a lattice though no array places them.
func fillLattices(all []light) {
	size := func(l *light) int { return int(math.Ceil(math.Sqrt(l.area))) }
	near := newLikes()
	for i := range all {
		if l := &all[i]; l.fill.Factor == 0 && l.area > 0 {
			near.add(int32(i), l.area, float64(l.place.Layer)+1, geom.Rect{Min: l.at, Max: l.at}, 4*size(l))
		}
	}
	for i := range all {
		l := &all[i]
		if l.fill.Factor > 0 || l.area <= 0 {
			continue
		}
		others := map[int32]bool{}
		at := func(box geom.Rect) []geom.Point { // where its likes lie
			clear(others)
			var found []geom.Point
			near.near(l.area, float64(l.place.Layer)+1, box, func(k int32) bool {
				if q := &all[k]; int(k) != i && !others[k] && box.Contains(q.at) && alike(q.area, l.area) {
					others[k] = true
					found = append(found, q.at)
				}
				return true
			})
			return found
		}
		for reach := 2; reach <= latticeReach; reach *= 2 {
			if cell := latticeCell(l.at, at, reach*size(l), latticeReach*size(l)); cell >= l.area {
				l.fill = Fill{l.area / cell, cell, "lattice"}
				break
			}
		}
	}
}

// latticeCell returns the area of the cell between a point and its next neighbours, 0 where these do not lie in a lattice: the next in
// two directions, and the one that makes a parallelogram of the three. Nor do they where a row goes on after a gap, within far: photodiodes
// in pairs or groups have several in a unit cell.
func latticeCell(from geom.Point, at func(geom.Rect) []geom.Point, reach, far int) float64 {
	var ways []geom.Point
	for _, p := range at(grown(geom.Rect{Min: from, Max: from}, reach)) {
		ways = append(ways, p.Sub(from))
	}
	long := func(p geom.Point) float64 { return math.Hypot(float64(p.X), float64(p.Y)) }
	slices.SortFunc(ways, func(a, b geom.Point) int {
		return cmp.Or(cmp.Compare(long(a), long(b)), cmp.Compare(a.Y, b.Y), cmp.Compare(a.X, b.X))
	})
	if len(ways) < 3 {
		return 0
	}
	there := func(p geom.Point, slack float64) (geom.Point, bool) {
		best, found := p, p == from
		for _, q := range at(grown(geom.Rect{Min: p, Max: p}, int(math.Ceil(slack)))) {
			if d, e := long(q.Sub(p)), long(best.Sub(p)); !found || d < e || d == e && (q.Y < best.Y || q.Y == best.Y && q.X < best.X) {
				best, found = q, true
			}
		}
		return best, found
	}
	a := ways[0]
	for _, b := range ways[1:] {
		area := math.Abs(float64(a.X)*float64(b.Y) - float64(a.Y)*float64(b.X))
		if area < 0.5*long(a)*long(b) { // less than 30° between them
			continue
		}
		slack := latticeSlack * long(a)
		for _, c := range [...]geom.Point{from.Add(a).Add(b), from.Add(b).Sub(a), from.Add(a).Sub(b)} {
			if _, ok := there(c, slack); ok {
				u, whole := along(from, a, slack, there, at, far)
				v, too := along(from, b, slack, there, at, far)
				if !whole || !too {
					return 0
				}
				return math.Abs(u.X*v.Y - u.Y*v.X)
			}
		}
		return 0
	}
	return 0
}

// mostSteps is how far a row of a lattice is followed.
const mostSteps = 100

// along returns the mean step of a row of a lattice; ok is false where the row goes on after a gap.
func along(from, step geom.Point, slack float64, there func(geom.Point, float64) (geom.Point, bool), at func(geom.Rect) []geom.Point, far int) (mean geom.Vec, ok bool) {
	first, last, n := from, from, 0
	for n < mostSteps {
		p, ok := there(last.Add(step), slack)
		if !ok {
			break
		}
		last, n = p, n+1
	}
	for n < mostSteps {
		p, ok := there(first.Sub(step), slack)
		if !ok {
			break
		}
		first, n = p, n+1
	}
	d := last.Sub(first)
	mean = geom.Vec{X: float64(d.X) / float64(n), Y: float64(d.Y) / float64(n)}
	return mean, n == mostSteps || !goesOn(last, step, n, slack, at, far) && !goesOn(first, geom.Point{X: -step.X, Y: -step.Y}, n, slack, at, far)
}

// goesOn reports whether more follow behind the last one of a row of n steps, but for a row of several steps that lacks a member.
func goesOn(last, step geom.Point, n int, slack float64, at func(geom.Rect) []geom.Point, far int) bool {
	long := math.Hypot(float64(step.X), float64(step.Y))
	x, y := float64(step.X)/long, float64(step.Y)/long
	end := last.Add(geom.Point{X: int(x * float64(far)), Y: int(y * float64(far))})
	line := geom.Box(min(last.X, end.X), min(last.Y, end.Y), max(last.X, end.X), max(last.Y, end.Y))
	return slices.ContainsFunc(at(grown(line, int(math.Ceil(slack)))), func(p geom.Point) bool {
		dx, dy := float64(p.X-last.X), float64(p.Y-last.Y)
		steps := (dx*x + dy*y) / long
		lacks := n > 1 && math.Abs(steps-math.Round(steps)) <= 2*latticeSlack
		return steps > 2*latticeSlack && math.Abs(dx*y-dy*x) <= slack && !lacks
	})
}

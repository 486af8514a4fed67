package question

import (
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist/extract"
)

// besideNm is how far from its place a verdict may be taken to speak of a question that has no extent, as extraction does.
const besideNm = 500

// answers are the verdicts of a drawing, in all their places.
type answers struct {
	all    []extract.UsedVerdict
	used   []bool
	device map[string]map[int]int // by kind and device: the number of the verdict
	at     *grid                  // by place

	deciding map[string]map[int][]int // by kind and device: the numbers of all, nil until it is wanted
}

func newAnswers(all []extract.UsedVerdict) *answers {
	a := &answers{all: all, used: make([]bool, len(all)), device: map[string]map[int]int{}, at: newGrid(4 * besideNm)}
	for i := range all {
		u := &all[i]
		a.at.add(int32(i), geom.Rect{Min: u.At, Max: u.At})
		for _, d := range u.Devices {
			if a.device[u.Kind] == nil {
				a.device[u.Kind] = map[int]int{}
			}
			if k, there := a.device[u.Kind][d]; !there || all[k].Unused { // what another one took precedence over decides nothing
				a.device[u.Kind][d] = i
			}
		}
	}
	return a
}

// on returns the verdict of a kind that decided a device.
func (a *answers) on(kind string, device int) (verdict int, ok bool) {
	verdict, ok = a.device[kind][device]
	return verdict, ok
}

// in returns the verdict of a kind that lies in a box of a layer and is about some regions, the first by place; -1 where none does.
func (a *answers) in(kind string, layer layout.Layer, box geom.Rect, about ...extract.RegionID) int {
	best := -1
	a.at.near(box, func(k int32) bool {
		if u := &a.all[k]; u.Kind == kind && u.Layer == layer && box.Contains(u.At) && isAbout(u, about) && (best < 0 || int(k) < best) {
			best = int(k)
		}
		return true
	})
	return best
}

// isAbout reports whether a verdict may be about some regions: the boxes of two pieces may overlap where these do not. Where no region is
// given, or extraction does not know any, it may. A wire that extraction has cut is no region any more, so that what is one is another.
func isAbout(u *extract.UsedVerdict, about []extract.RegionID) bool {
	if len(about) == 0 || u.Region == extract.NoRegion && u.Kind != WireOrResistor {
		return true
	}
	return slices.Contains(about, u.Region)
}

// sayWho notes, for each place of a draft that was answered, all verdicts that say so there: what decided its devices, and what lies in it.
func (v *view) sayWho(d *draft) {
	a := v.answers
	if a.deciding == nil {
		a.deciding = map[string]map[int][]int{}
		for i := range a.all {
			u := &a.all[i]
			if a.deciding[u.Kind] == nil {
				a.deciding[u.Kind] = map[int][]int{}
			}
			for _, k := range u.Devices {
				a.deciding[u.Kind][k] = append(a.deciding[u.Kind][k], i)
			}
		}
	}
	places := v.placesOf(d)
	for i := range places {
		p := &places[i]
		p.By = nil
		say := func(k int) {
			if u := &a.all[k]; !u.Unused && u.Reading == d.verdict && !slices.Contains(p.By, k) {
				p.By = append(p.By, k)
			}
		}
		for _, dev := range p.Devices {
			for _, k := range a.deciding[d.kind][dev] {
				say(k)
			}
		}
		box := p.box
		if box == (geom.Rect{}) {
			box = grown(geom.Rect{Min: p.At, Max: p.At}, besideNm)
		}
		found := len(p.By) > 0
		a.at.near(box, func(k int32) bool {
			if u := &a.all[k]; !found && u.Kind == d.kind && u.Layer == d.layer && box.Contains(u.At) && isAbout(u, p.about) {
				say(int(k))
			}
			return true
		})
		if len(p.By) == 0 && len(places) == 1 && d.by >= 0 {
			p.By = []int{d.by}
		}
		slices.Sort(p.By)
	}
}

// answer returns the reading that the user has settled on for a draft, in the words of its verdict, and that verdict's number;
// empty where there is none.
func (v *view) answer(d *draft) (reading string, by int) {
	decided := d.devices
	if d.kind == WireOrResistor && len(d.about) > 0 { // the devices on its net are others: it is still there
		decided = nil
	}
	for _, i := range decided {
		if k, ok := v.answers.on(d.kind, i); ok {
			v.answers.used[k] = true
			return v.answers.all[k].Reading, k
		}
	}
	box := d.box
	if box == (geom.Rect{}) {
		box = grown(geom.Rect{Min: d.at, Max: d.at}, besideNm)
	}
	k := v.answers.in(d.kind, d.layer, box, d.about...)
	if k < 0 {
		return "", -1
	}
	v.answers.used[k] = true
	return v.answers.all[k].Reading, k
}

// settled drafts questions that are there no more because extraction has followed the answer: a gap that is closed, a contact
// that lands where it was told to.
func (v *view) settled() []draft {
	var out []draft
	for i := range v.answers.all {
		u := &v.answers.all[i]
		if v.answers.used[i] || u.Lost || u.Unused || theTable()[u.Kind] == nil || !v.asks(u.Kind) {
			continue
		}
		out = append(out, draft{kind: u.Kind, at: u.At, layer: u.Layer, path: u.Path, devices: u.Devices, saw: map[string]seen{}, verdict: u.Reading, by: i})
	}
	return out
}

// decided reports whether a verdict of a kind decided a device.
func (v *view) decided(kind string, device int) bool {
	_, ok := v.answers.on(kind, device)
	return ok
}

// readingOf returns the reading that a verdict names: one of the kind's, or the one that its word stands for.
func (q *Question) readingOf(verdict string) string {
	k := theTable()[q.Kind]
	if slices.Contains(k.readings, verdict) {
		return verdict
	}
	for _, r := range k.readings {
		if q.Answers[r] == verdict {
			return r
		}
	}
	return verdict
}

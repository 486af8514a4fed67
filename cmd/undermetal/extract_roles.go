package main

import (
	"cmp"
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
)

// jsonPad is an opening in the passivation, with what protects the net under it.
type jsonPad struct {
	ID         string        `json:"id"`
	Layer      string        `json:"layer"`
	Metal      string        `json:"metal"`
	Net        string        `json:"net"`
	Area       float64       `json:"area_um2"`
	At         [2]float64    `json:"at"`
	Box        [2][2]float64 `json:"box"`
	Protection []string      `json:"protection"` // ids of devices and of structures
}

// jsonStructure is a piece of the drawing that has a role, and makes no device.
type jsonStructure struct {
	ID    string     `json:"id"`
	Path  string     `json:"path"`
	Role  string     `json:"role"`
	Layer string     `json:"layer"`
	Net   string     `json:"net"`
	Area  float64    `json:"area_um2"`
	At    [2]float64 `json:"at"`
	Odds  float64    `json:"odds_db,omitempty"`
	jsonFill
}

// jsonFill is which part of its unit cell takes light.
type jsonFill struct {
	Factor float64 `json:"fill_factor,omitempty"`
	Cell   float64 `json:"unit_cell_um2,omitempty"`
	From   string  `json:"unit_cell_from,omitempty"`
}

func fillJSON(f question.Fill) jsonFill { return jsonFill{f.Factor, f.Cell / 1e6, f.From} }

// tell adds roles, contacts, fill factors, pads and structures. ids are those of nets; told may be nil.
func (out *jsonCircuit) tell(res *extract.Result, told *question.Told, ids []string) {
	net := func(n netlist.Net) string {
		if n == netlist.NoNet {
			return ""
		}
		return ids[n]
	}
	id := func(path, what string, at geom.Point) string {
		return layout.JoinPath(path, fmt.Sprintf("%s@%.3f,%.3f", what, um(float64(at.X)), um(float64(at.Y))))
	}
	for _, p := range res.Pads {
		out.Pads = append(out.Pads, jsonPad{id("", p.Layer, p.At), p.Layer, p.Metal, net(p.Net), p.Area / 1e6, place(p.At.X, p.At.Y),
			[2][2]float64{place(p.Box.Min.X, p.Box.Min.Y), place(p.Box.Max.X, p.Box.Max.Y)}, []string{}})
	}
	if told == nil {
		return
	}
	for i, c := range res.Facts.Contacts(res.Circuit) {
		d := &out.Devices[i]
		d.Role, d.RoleOdds, d.jsonFill = told.Roles[i], told.Odds[i], fillJSON(told.Fills[i])
		switch kind := res.Circuit.Devices[i].Kind; {
		case !c.Known:
		case kind == netlist.Capacitor:
			d.Contacts = map[string]int{"a": c.Gate, "b": c.Drain}
		default:
			d.Contacts = map[string]int{"d": c.Drain, "g": c.Gate, "s": c.Source}
		}
	}
	for _, s := range told.Structures {
		layer := res.LayerName(s.Layer)
		out.Structures = append(out.Structures, jsonStructure{id(s.Path, layer, s.At), s.Path, s.Role, layer, net(s.Net), s.Area / 1e6, place(s.At.X, s.At.Y), s.Odds, fillJSON(s.Fill)})
	}
	for i, p := range told.Protects {
		for _, d := range p.Devices {
			out.Pads[i].Protection = append(out.Pads[i].Protection, out.Devices[d].ID)
		}
		for _, s := range p.Structures {
			out.Pads[i].Protection = append(out.Pads[i].Protection, out.Structures[s].ID)
		}
	}
}

// printRoles prints how many pads, protection devices, fuses, dummies and photodiodes there are; of what there is none nothing. told may
// be nil.
func printRoles(p *printer, res *extract.Result, told *question.Told) {
	if n := len(res.Pads); n > 0 {
		p.f("%8d  %s\n", n, plural(n, "pad", "pads"))
	}
	if told == nil {
		return
	}
	count := func(role string) (devices, structures int) {
		for _, r := range told.Roles {
			if r == role {
				devices++
			}
		}
		for i := range told.Structures {
			if told.Structures[i].Role == role {
				structures++
			}
		}
		return devices, structures
	}
	guarded := 0
	for _, x := range told.Protects {
		if len(x.Devices)+len(x.Structures) > 0 {
			guarded++
		}
	}
	if d, s := count(question.Protection); d+s > 0 {
		what := plural(d, "protection device", "protection devices")
		if s > 0 {
			what = plural(d+s, "protection structure", "protection structures")
		}
		p.f("%8d  %s at %s%s\n", d+s, what, counted(guarded, "pad"), noDevice(s))
	}
	if d, _ := count(question.Fuse); d > 0 {
		p.f("%8d  %s\n", d, plural(d, "fuse", "fuses"))
	}
	if d, s := count(question.Dummy); d+s > 0 {
		open := 0
		for _, odds := range told.Odds {
			if odds > 0 {
				open++
			}
		}
		asked := ""
		if open > 0 {
			asked = fmt.Sprintf(", %d of them by the leading reading of an open question", open)
		}
		p.f("%8d  %s%s%s\n", d+s, plural(d+s, "dummy", "dummies"), noDevice(s), asked)
	}
	printFills(p, told)
}

// noDevice says how many of what was counted are no devices.
func noDevice(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return ", 1 of them no device"
	}
	return fmt.Sprintf(", %d of them no devices", n)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// printFills prints the fill factors that there are, the most frequent first.
func printFills(p *printer, told *question.Told) {
	count := map[question.Fill]int{}
	add := func(f question.Fill) {
		if f.Factor > 0 {
			f.Factor, f.Cell = sixDigits(f.Factor), sixDigits(f.Cell)
			count[f]++
		}
	}
	for _, f := range told.Fills {
		add(f)
	}
	for i := range told.Structures {
		add(told.Structures[i].Fill)
	}
	var all []question.Fill
	for f := range count {
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b question.Fill) int {
		return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a.Factor, b.Factor), cmp.Compare(a.Cell, b.Cell), cmp.Compare(a.From, b.From))
	})
	const most = 5
	for i, f := range all {
		if i == most {
			p.f("%8s  %d more fill factors\n", "", len(all)-most)
			break
		}
		from := "by the pitch of its array"
		if f.From == "lattice" {
			from = "by how far its likes lie apart"
		}
		p.f("%8d  %s with a fill factor of %.4g %%: a unit cell of %.3f µm², %s\n", count[f], plural(count[f], "photodiode", "photodiodes"), 100*f.Factor, f.Cell/1e6, from)
	}
}

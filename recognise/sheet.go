package recognise

import (
	"slices"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
	"undermetal/recognise/library"
)

// Groups returns suggestions as the schematic draws them: a group for each full fit, those of arrays by row and column, and for fits that
// lack a piece where no full fit has any of their devices. Missing devices are symbols; missing connections are none.
func Groups(suggestions []Suggestion) []schematic.Group {
	var all []schematic.Group
	taken := map[int32]bool{}
	add := func(f *Fit, id string) {
		ds := f.Devices()
		if slices.ContainsFunc(ds, func(d int32) bool { return taken[d] }) {
			return
		}
		for _, d := range ds {
			taken[d] = true
		}
		g := schematic.Group{Name: f.Pattern.Title, Devices: ds}
		if id != "" {
			g.Name += ", " + id
		}
		for i := range f.Missing {
			if m, ok := f.symbol(&f.Missing[i]); ok {
				g.Missing = append(g.Missing, m)
			}
		}
		all = append(all, g)
	}
	for i := range suggestions {
		s := &suggestions[i]
		if s.Array == nil {
			add(s.Fit, s.ID)
			continue
		}
		for _, f := range s.Array.Members {
			if f != nil {
				add(f, "")
			}
		}
	}
	return all
}

// symbol is a missing device as the schematic draws it; ok: it is one.
func (f *Fit) symbol(p *Piece) (m schematic.Missing, ok bool) {
	k := slices.IndexFunc(f.Pattern.Circuit.Devices, func(d netlist.Device) bool { return d.Name == p.Role })
	if p.Kind != "device" || k < 0 {
		return m, false
	}
	m = schematic.Missing{Kind: f.Pattern.Circuit.Devices[k].Kind, Name: p.Role, Question: p.Question, Nets: slices.Clone(p.Between)}
	if f.Mirror {
		switch m.Kind {
		case netlist.NMOS:
			m.Kind = netlist.PMOS
		case netlist.PMOS:
			m.Kind = netlist.NMOS
		case netlist.Diode:
			slices.Reverse(m.Nets)
		}
	}
	for len(m.Nets) < len(m.Kind.TerminalNames()) {
		m.Nets = append(m.Nets, netlist.NoNet)
	}
	return m, true
}

// SheetRoles returns the roles of nets as far as the schematic knows them: rows, resets and what else drives gates from outside are
// inputs, columns outputs.
func SheetRoles(roles []NetRole) map[netlist.Net]schematic.Role {
	all := map[netlist.Net]schematic.Role{}
	for _, r := range roles {
		switch r.Role {
		case library.Supply:
			all[r.Net] = schematic.Supply
		case library.Ground:
			all[r.Net] = schematic.Ground
		case library.Bias, library.Reference:
			all[r.Net] = schematic.Bias
		case library.Row, library.Reset, library.Transfer, library.Clock, library.Input:
			all[r.Net] = schematic.Input
		case library.Column, library.Output, library.Sense:
			all[r.Net] = schematic.Output
		}
	}
	return all
}

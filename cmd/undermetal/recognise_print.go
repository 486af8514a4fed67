package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/schematic"
	"undermetal/recognise"
	"undermetal/recognise/library"
)

// Of partial fits so many are listed, of single fits the ids of so many of a pattern, of odd members so many; the JSON has them all.
const (
	mostPartial = 20
	mostIDs     = 4
	mostOdd     = 40
)

// list prints what was recognised: arrays, other full fits by their pattern, fits that lack pieces, and what nets are for.
func (r *recognised) list(w io.Writer, all bool) error {
	p := &printer{w: w}
	explained := make([]bool, len(r.circuit.Devices))
	for i := range r.res.Fits {
		for _, d := range r.res.Fits[i].Devices() {
			explained[d] = true
		}
	}
	n := 0
	for _, e := range explained {
		if e {
			n++
		}
	}
	p.f("%s: %s, %d explained by full fits\n", r.circuit.Name, counted(len(r.circuit.Devices), "device"), n)
	var arrays, single, partial []int
	for i := range r.all {
		switch s := &r.all[i]; {
		case s.Array != nil:
			arrays = append(arrays, i)
		case s.Full():
			single = append(single, i)
		default:
			partial = append(partial, i)
		}
	}
	if len(arrays) > 0 {
		p.f("\narrays\n")
	}
	for _, i := range arrays {
		a := r.all[i].Array
		p.f("  %-12s  %s%s\n", r.short[i], r.all[i].Title(), r.where(&r.all[i]))
		p.f("  %-12s  %s, %s\n", "", counted(a.Count(), "member"), oddText(a))
		for _, line := range []struct {
			what string
			nets []map[string]netlist.Net
		}{{"row", a.RowNets}, {"column", a.ColumnNets}} {
			for _, text := range r.lineNames(line.nets) {
				p.f("  %-12s  %s nets: %s\n", "", line.what, text)
			}
		}
		for k, o := range a.Odd {
			if k == mostOdd {
				p.f("  %-12s  %d more odd members; --json has them all\n", "", len(a.Odd)-k)
				break
			}
			p.wrap(fmt.Sprintf("  %-12s  row %d, column %d: ", "", o.Row, o.Column), o.Text)
		}
	}
	r.listSingle(p, single, all)
	if len(partial) > 0 {
		p.f("\nwith pieces missing, or too many\n")
	}
	for k, i := range partial {
		if k == mostPartial && !all {
			p.f("  %d more; --all lists them\n", len(partial)-k)
			break
		}
		f := r.all[i].Fit
		p.f("  %-12s  %s%s, %.0f dB\n", r.short[i], r.all[i].Title(), r.where(&r.all[i]), f.Weight)
		for _, x := range f.Missing {
			p.wrap(fmt.Sprintf("  %-12s  lacks ", ""), x.Text)
		}
		for _, x := range f.Extra {
			p.wrap(fmt.Sprintf("  %-12s  has ", ""), x.Text)
		}
	}
	r.listRoles(p)
	for _, name := range r.res.CutShort {
		p.f("of pattern %s not all places are told: on long nets it fits in too many ways\n", name)
	}
	return p.err
}

func oddText(a *recognise.Array) string {
	if len(a.Odd) == 0 {
		return "none odd"
	}
	return fmt.Sprintf("%d odd", len(a.Odd))
}

// where says where a suggestion lies, where that is known.
func (r *recognised) where(s *recognise.Suggestion) string {
	if !r.extracted {
		return ""
	}
	b := s.Fit.Box
	if s.Array != nil {
		b = s.Array.Box
		return fmt.Sprintf(", from (%s) to (%s) µm", at(b.Min), at(b.Max))
	}
	return fmt.Sprintf(", at (%s) µm", at(geom.Point{X: (b.Min.X + b.Max.X) / 2, Y: (b.Min.Y + b.Max.Y) / 2}))
}

// lineNames tells the nets of rows or columns, each port by the first and the last.
func (r *recognised) lineNames(lines []map[string]netlist.Net) []string {
	var out []string
	ports := map[string]bool{}
	for _, l := range lines {
		for p := range l {
			ports[p] = true
		}
	}
	for _, p := range slices.Sorted(maps.Keys(ports)) {
		var names []string
		for _, l := range lines {
			if n, ok := l[p]; ok {
				names = append(names, r.net(n))
			}
		}
		if len(names) > 3 {
			names = []string{names[0], names[1], "…", names[len(names)-1]}
		}
		out = append(out, p+" on "+strings.Join(names, ", "))
	}
	return out
}

// listSingle lists full fits that are in no array, all of them or by pattern.
func (r *recognised) listSingle(p *printer, single []int, all bool) {
	if len(single) == 0 {
		return
	}
	p.f("\nother full fits\n")
	if all {
		for _, i := range single {
			p.f("  %-12s  %s%s, %.0f dB\n", r.short[i], r.all[i].Title(), r.where(&r.all[i]), r.all[i].Fit.Weight)
		}
		return
	}
	by := map[string][]int{}
	for _, i := range single {
		by[r.all[i].Title()] = append(by[r.all[i].Title()], i)
	}
	titles := slices.SortedFunc(maps.Keys(by), func(a, b string) int { return cmp.Or(cmp.Compare(len(by[b]), len(by[a])), cmp.Compare(a, b)) })
	for _, t := range titles {
		var ids []string
		for k, i := range by[t] {
			if k == mostIDs {
				ids = append(ids, "…")
				break
			}
			ids = append(ids, r.short[i])
		}
		p.f("  %8d  %-50s  %s\n", len(by[t]), t, strings.Join(ids, " "))
	}
}

// listRoles tells what nets with a name are for.
func (r *recognised) listRoles(p *printer) {
	by := map[string][]string{}
	var order []string
	for _, x := range recognise.Roles(r.circuit, r.res) {
		name := r.circuit.Nets[x.Net].Name
		if name == "" || x.Role == library.Input || x.Role == library.Output {
			continue
		}
		if x.Fits == 0 && x.Role != library.Supply && x.Role != library.Ground {
			name += " (by its name)"
		}
		if by[x.Role] == nil {
			order = append(order, x.Role)
		}
		by[x.Role] = append(by[x.Role], name)
	}
	if len(order) > 0 {
		p.f("\nnets\n")
	}
	slices.Sort(order)
	for _, role := range order {
		names := by[role]
		slices.SortFunc(names, func(a, b string) int {
			switch {
			case netlist.NaturalLess(a, b):
				return -1
			case netlist.NaturalLess(b, a):
				return 1
			}
			return 0
		})
		count := len(names)
		if count > 5 {
			names = append(names[:4:4], "…", names[count-1])
		}
		p.wrap(fmt.Sprintf("  %-12s  ", role), fmt.Sprintf("%d: ", count)+strings.Join(names, ", "))
	}
}

// show tells one suggestion in full.
func (r *recognised) show(p *printer, i int) {
	s := &r.all[i]
	f := s.Fit
	p.f("%s  %s\n%s%s\n", r.short[i], s.ID, s.Title(), r.where(s))
	p.wrap("pattern    ", fmt.Sprintf("%s, %s flavour: %s", f.Pattern.Name, flavour(f), f.Pattern.What))
	p.wrap("source     ", f.Pattern.Source)
	if len(f.Pattern.Alternatives) > 0 {
		p.wrap("taken for  ", "easily: "+strings.Join(f.Pattern.Alternatives, ", "))
	}
	fit := "full"
	if !s.Full() {
		fit = "partial"
	}
	p.f("fit        %s, %.1f dB\n", fit, f.Weight)
	if s.Array != nil {
		r.showArray(p, s.Array)
		p.f("\none of its members\n")
	}
	p.f("\n%-10s  %-10s  %s\n", "port", "role", "net")
	for k, x := range f.Pattern.Ports {
		note := ""
		if slices.Contains(f.Loose, k) {
			note = ", which leads nowhere"
		}
		p.f("%-10s  %-10s  %s%s\n", x.Name, f.Role(k), r.net(f.Ports[k]), note)
	}
	p.f("\n%-10s  %s\n", "part", "device")
	for _, m := range f.Members {
		text := r.devices[m.Device]
		for _, k := range m.Fingers {
			text += ", " + r.devices[k]
		}
		p.wrap(fmt.Sprintf("%-10s  ", m.Role), text)
	}
	if len(f.Missing)+len(f.Extra) > 0 {
		p.f("\n")
	}
	for _, x := range f.Missing {
		p.wrap("lacks      ", x.Text+r.asked(&x))
	}
	for _, x := range f.Extra {
		p.wrap("has        ", x.Text+r.asked(&x))
	}
	if name, ports := s.Bench(); name != "" {
		p.f("\nbench      %s", name)
		for _, port := range slices.Sorted(maps.Keys(ports)) {
			p.f(" %s=%s", port, r.net(ports[port]))
		}
		p.f("\n")
	}
}

// draw prints a suggestion as a coarse schematic; of an array one member.
func (r *recognised) draw(c *cobra.Command, i int) error {
	s := &shown{circuit: r.circuit, paths: make([]string, len(r.circuit.Devices))}
	what := s.suggested(r, i)
	d, err := schematic.Draw(c.Context(), what.circuit, schematic.Options{Title: r.all[i].ID, Groups: what.groups, Look: what.look, PerSheet: len(what.circuit.Devices)})
	if err != nil {
		return err
	}
	fmt.Fprintln(c.OutOrStdout())
	for k := range d.Sheets {
		if err := d.WriteText(c.OutOrStdout(), k); err != nil {
			return err
		}
	}
	return nil
}

// asked names the question about a device of a piece.
func (r *recognised) asked(x *recognise.Piece) string {
	if x.Device < 0 || r.about == nil || r.about[x.Device].id == "" {
		return ""
	}
	return "; there is a question about it: " + r.about[x.Device].id
}

// showArray tells rows, columns and odd members.
func (r *recognised) showArray(p *printer, a *recognise.Array) {
	p.f("members    %d, %s; rows and columns count from 0\n", a.Count(), oddText(a))
	for _, port := range slices.Sorted(maps.Keys(a.Common)) {
		p.f("all        %s on %s\n", port, r.net(a.Common[port]))
	}
	for _, line := range []struct {
		what string
		nets []map[string]netlist.Net
	}{{"row", a.RowNets}, {"column", a.ColumnNets}} {
		for k, nets := range line.nets {
			var texts []string
			for _, port := range slices.Sorted(maps.Keys(nets)) {
				texts = append(texts, port+" "+r.net(nets[port]))
			}
			if len(texts) > 0 {
				p.f("%-10s %s\n", fmt.Sprintf("%s %d", line.what, k), strings.Join(texts, ", "))
			}
		}
	}
	for _, o := range a.Odd {
		text := o.Text
		if n, ok := r.id[o.Fit]; ok {
			text += " (" + r.short[n] + ")"
		}
		p.wrap(fmt.Sprintf("odd        row %d, column %d: ", o.Row, o.Column), text)
	}
}

// at is a place in µm.
func at(p geom.Point) string { return fmt.Sprintf("%.1f, %.1f", um(float64(p.X)), um(float64(p.Y))) }

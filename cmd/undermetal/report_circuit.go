package main

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"undermetal/cmd/undermetal/report"
	"undermetal/layout/shot"
	"undermetal/netlist"
	"undermetal/netlist/measure"
	"undermetal/netlist/schematic"
	"undermetal/recognise"
	"undermetal/spice"
)

// circuit is what was extracted, asked and recognised, and how; without shapes it is only what photographs and block map tell.
func (k *collecting) circuit() error {
	drawn, err := tracingOf(k.d, k.name, "")
	if err != nil {
		return err
	}
	read, err := followReadings(k.c, drawn, wanted{solve: solveSigmas})
	if err != nil {
		return fmt.Errorf("%s: %w", k.name, err)
	}
	if err := k.method(read); err != nil {
		return err
	}
	c := read.res.Circuit
	if len(c.Devices) == 0 {
		k.left("circuit, schematics, netlist and simulation: what was traced makes no device.")
		if err := k.questions(); err != nil {
			return err
		}
		return k.blockMap(nil)
	}
	sizes := drawn.sizes(read.res, read.sol)
	if err := printWarnings(k.c.ErrOrStderr(), read.res.Warnings); err != nil {
		return err
	}
	nets, err := spice.NetNames(c, "")
	if err != nil {
		return fmt.Errorf("%s: %w", k.name, err)
	}
	names := deviceNames(c)
	k.summary(read)
	k.devices(read, sizes, names, nets)
	b := newBar(k.c, "recognising")
	found, err := recognise.Find(k.c.Context(), c, recognise.Options{Missing: 1, Looked: recognise.LookedAt(drawn.lib.Traced), Progress: func(done float64) { b.set(int(1000*done), 1000) }})
	b.end()
	if err != nil {
		return err
	}
	if err := k.whole(c, found, names); err != nil {
		return err
	}
	parts, err := k.groups(c, found, names)
	if err != nil {
		return err
	}
	k.partial(found, names, read.about)
	if err := k.questions(); err != nil {
		return err
	}
	if err := k.blockMap(suggestions(found)); err != nil {
		return err
	}
	if len(c.Devices) <= mostDriven {
		parts = []driven{{"the circuit", c}}
	}
	if err := k.waveforms(parts, drawn.stack); err != nil {
		return err
	}
	var text bytes.Buffer
	if err := writeSPICE(&text, read.res, nil, sizes, read.about, spice.WriteOptions{}); err != nil {
		return err
	}
	k.netlist(text.String())
	return nil
}

// deviceNames are those that the netlist has for the devices of a circuit.
func deviceNames(c *netlist.Circuit) []string {
	names := make([]string, len(c.Devices))
	for i := range c.Devices {
		names[i] = spice.DeviceName(&c.Devices[i], i)
	}
	return names
}

func (k *collecting) summary(read *extracted) {
	c := read.res.Circuit
	named, open := 0, 0
	for i := range c.Nets {
		if c.Nets[i].Name != "" {
			named++
		}
		if c.Nets[i].Open {
			open++
		}
	}
	k.r.Circuit = append(k.r.Circuit, fmt.Sprintf("%s on %s, %d of them with a label and %d that go on where nobody looked.", counted(len(c.Devices), "device"), counted(len(c.Nets), "net"), named, open))
	roles := map[string]int{}
	for i := range c.Devices {
		if r := read.told.Roles[i]; r != "" {
			roles[r]++
		}
	}
	var parts []string
	for r, n := range roles {
		parts = append(parts, fmt.Sprintf("%s %d", r, n))
	}
	if slices.Sort(parts); len(parts) > 0 {
		k.r.Circuit = append(k.r.Circuit, "Of these by their part: "+strings.Join(parts, ", ")+".")
	}
	codes := map[string]int{}
	for _, w := range read.res.Warnings {
		codes[w.Code]++
	}
	parts = nil
	for code, n := range codes {
		parts = append(parts, fmt.Sprintf("%s (%d)", code, n))
	}
	if slices.Sort(parts); len(parts) > 0 {
		k.r.Circuit = append(k.r.Circuit, "Warnings of the extraction: "+strings.Join(parts, ", ")+".")
	}
}

// sameRow is what devices have in common that are one row of the table: what the row shows, but for nets and places.
type sameRow struct {
	kind                       netlist.Kind
	model, w, l, worth, remark string
}

// devices are the table of devices, those alike in one row, and how many there are by kind and model.
func (k *collecting) devices(read *extracted, sizes []measure.Size, names, nets []string) {
	c := read.res.Circuit
	count := map[[2]string]int{}
	t := &report.Table{Caption: "Devices", Columns: []report.Column{{Name: "Device"}, {Name: "Alike", Figures: true}, {Name: "Kind"}, {Name: "Model"}, {Name: "Nets", Text: true}, {Name: "W", Figures: true}, {Name: "L", Figures: true},
		{Name: "W/L, value or area", Figures: true}, {Name: "At", Figures: true}, {Name: "Remark", Text: true}},
		Note: "Devices that are alike in kind, model and sizes, to the digits that are shown, as copies of a cell are, stand in one row, with the nets and the place of the first. ± is one standard uncertainty, from the edges as they were drawn, what is stated of bias, and the scales of the photographs. W and L by rule; where a gate or resistor is bent, W/L is solved for."}
	rows, times, left := map[sameRow]int{}, []int{}, 0
	for i := range c.Devices {
		d := &c.Devices[i]
		count[[2]string{d.Kind.String(), d.Model}]++
		var s measure.Size
		if sizes != nil {
			s = sizes[i]
		}
		var ends []string
		for t, name := range d.Kind.TerminalNames() {
			if n := d.Terminals[t]; n != netlist.NoNet {
				ends = append(ends, name+" "+nets[n])
			}
		}
		w, l := "", ""
		if d.W > 0 {
			w, l = length(um(d.W), um(s.W.Combined())), length(um(d.L), um(s.L.Combined()))
		}
		of := sameRow{d.Kind, d.Model, w, l, worth(d, s), read.about[i].text}
		n, there := rows[of]
		switch {
		case there:
			times[n]++
		case len(t.Rows) >= k.f.rows:
			left++
		default:
			rows[of], times = len(t.Rows), append(times, 1)
			t.Rows = append(t.Rows, []string{names[i], "", d.Kind.String(), d.Model, strings.Join(ends, ", "), w, l, of.worth, microns(d.At), of.remark})
		}
	}
	for n := range t.Rows {
		t.Rows[n][1] = fmt.Sprint(times[n])
	}
	if left > 0 {
		t.Note += fmt.Sprintf(" %d more are in the netlist, and in undermetal extract --json.", left)
	}
	k.r.Devices = t
	sum := &report.Table{Caption: "By kind and model", Columns: []report.Column{{Name: "Kind"}, {Name: "Model"}, {Name: "Devices", Figures: true}}}
	for of, n := range count {
		sum.Rows = append(sum.Rows, []string{of[0], of[1], fmt.Sprint(n)})
	}
	slices.SortFunc(sum.Rows, func(a, b []string) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	k.r.Sizes = sum
}

// worth is what a device is worth beside W and L.
func worth(d *netlist.Device, s measure.Size) string {
	pm := func(v, sigma float64, digits string) string {
		if sigma > 0 {
			return shot.Uncertain(v, sigma)
		}
		return fmt.Sprintf(digits, v)
	}
	switch d.Kind {
	case netlist.Diode:
		return pm(d.Area/1e6, s.Area.Combined()/1e6, "%.3f") + " µm²"
	case netlist.Capacitor, netlist.Resistor:
		unit := map[netlist.Kind]string{netlist.Capacitor: "F", netlist.Resistor: "Ω"}[d.Kind]
		v := d.Value
		if v != v { // NaN
			v = 0
		}
		text := withPrefix(sixDigits(v), unit)
		if sigma := s.Value.Combined(); sigma > 0 && v > 0 {
			text += fmt.Sprintf(" ± %.2g %%", 100*sigma/v)
		}
		return text
	}
	ratio, sigma := d.Ratio, s.Ratio.Combined()
	if ratio == 0 {
		if d.L <= 0 {
			return ""
		}
		ratio = d.W / d.L
	}
	return pm(ratio, sigma, "%.3g")
}

// whole draws the circuit where it fits on one sheet.
func (k *collecting) whole(c *netlist.Circuit, found *recognise.Result, names []string) error {
	const most = 48
	if len(c.Devices) > most {
		k.left("a schematic of the whole circuit: %d devices are more than a page shows; undermetal schematic draws them on sheets.", len(c.Devices))
		return nil
	}
	roles := map[netlist.Net]schematic.Role{}
	for _, n := range found.Supply {
		roles[n] = schematic.Supply
	}
	for _, n := range found.Ground {
		roles[n] = schematic.Ground
	}
	drawings, err := k.draw(c, c.Name, roles, names)
	for i, svg := range drawings {
		caption := "The circuit as a schematic."
		if len(drawings) > 1 {
			caption = fmt.Sprintf("The circuit as a schematic, sheet %d of %d.", i+1, len(drawings))
		}
		k.r.Drawings = append(k.r.Drawings, report.Drawing{SVG: svg, Caption: caption})
	}
	return err
}

// draw draws a circuit on sheets, as SVG.
func (k *collecting) draw(c *netlist.Circuit, title string, roles map[netlist.Net]schematic.Role, names []string) (sheets []string, err error) {
	label := func(i int) []string {
		d := &c.Devices[i]
		lines := []string{names[i]}
		if d.W > 0 {
			lines = append(lines, fmt.Sprintf("%.3g/%.3g", um(d.W), um(d.L)))
		}
		return lines
	}
	describe := func(i int) (string, string) { return names[i], microns(c.Devices[i].At) }
	drawing, err := schematic.Draw(k.c.Context(), c, schematic.Options{Title: title, Roles: roles, Label: label, Describe: describe})
	if err != nil {
		return nil, fmt.Errorf("%s: the schematic of %s: %w", k.name, title, err)
	}
	for i := range drawing.Sheets {
		var b bytes.Buffer
		if err := drawing.WriteSVG(&b, i); err != nil {
			return nil, err
		}
		sheets = append(sheets, b.String())
	}
	return sheets, nil
}

// groups are what was recognised: each pattern once, with the schematic of its first place, whose circuit is returned.
func (k *collecting) groups(c *netlist.Circuit, found *recognise.Result, names []string) (parts []driven, err error) {
	first := map[string]*report.Group{}
	var order []string
	for i := range found.Fits {
		f := &found.Fits[i]
		if g := first[f.Pattern.Name]; g != nil {
			g.Count++
			continue
		}
		g := &report.Group{Title: sentence(titleOf(f)), What: sentence(f.Pattern.What) + ".", Source: f.Pattern.Source, Count: 1}
		for _, m := range f.Members {
			g.Members = append(g.Members, names[m.Device])
		}
		part, of, roles := partOf(c, f, found)
		own := make([]string, len(of))
		for j, i := range of {
			own[j] = names[i]
		}
		sheets, err := k.draw(part, titleOf(f), roles, own)
		if err != nil {
			return nil, err
		}
		parts = append(parts, driven{titleOf(f), part})
		if len(sheets) == 1 {
			g.Drawing = &report.Drawing{SVG: sheets[0], Caption: fmt.Sprintf("%s, from %s to %s.", sentence(titleOf(f)), microns(f.Box.Min), microns(f.Box.Max))}
		} else {
			g.Note = fmt.Sprintf("Its schematic takes %d sheets, and is left out.", len(sheets))
		}
		first[f.Pattern.Name] = g
		order = append(order, f.Pattern.Name)
	}
	for _, a := range recognise.Arrays(c, found) {
		if g := first[a.Pattern.Name]; g != nil {
			g.Arrays = append(g.Arrays, fmt.Sprintf("An array of %s × %s, %s.", counted(a.Rows, "row"), counted(a.Columns, "column"), oddText(&a)))
		}
	}
	for _, name := range order {
		k.r.Groups = append(k.r.Groups, *first[name])
	}
	if len(order) == 0 {
		k.left("what was recognised: no known circuit fits.")
	}
	for _, name := range found.CutShort {
		k.left("some places of the pattern %s: on long nets it fits in too many ways to look at all.", name)
	}
	return parts, nil
}

// partOf is the circuit of a fit's devices alone, called as in the whole, its ports those of the pattern, which devices these are, and which nets are supplies.
func partOf(c *netlist.Circuit, f *recognise.Fit, found *recognise.Result) (part *netlist.Circuit, of []int32, roles map[netlist.Net]schematic.Role) {
	part = &netlist.Circuit{Name: f.Pattern.Name}
	number := map[netlist.Net]netlist.Net{}
	net := func(n netlist.Net) netlist.Net {
		if n == netlist.NoNet {
			return n
		}
		if _, there := number[n]; !there {
			number[n] = netlist.Net(len(part.Nets))
			part.Nets = append(part.Nets, c.Nets[n])
		}
		return number[n]
	}
	for _, m := range f.Members {
		of = append(append(of, m.Device), m.Fingers...)
	}
	for _, i := range of {
		d := c.Devices[i]
		d.Name = spice.DeviceName(&d, int(i)) // as the netlist of the whole has it
		for t := range d.Terminals {
			d.Terminals[t] = net(d.Terminals[t])
		}
		part.Devices = append(part.Devices, d)
	}
	for i, n := range f.Ports {
		p, there := number[n]
		if n == netlist.NoNet || !there || slices.Contains(part.Ports, p) {
			continue
		}
		part.Ports = append(part.Ports, p)
		if part.Nets[p].Name == "" && i < len(f.Pattern.Ports) {
			part.Nets[p].Name = f.Pattern.Ports[i].Name
		}
	}
	roles = map[netlist.Net]schematic.Role{}
	for n, p := range number {
		switch {
		case slices.Contains(found.Supply, n):
			roles[p] = schematic.Supply
		case slices.Contains(found.Ground, n):
			roles[p] = schematic.Ground
		}
	}
	return part, of, roles
}

// netlist is the netlist, or its beginning.
func (k *collecting) netlist(text string) {
	lines := strings.SplitAfter(text, "\n")
	if most := 2 * k.f.rows; len(lines) > most {
		k.left("%d lines of the netlist: undermetal extract --spice writes all of it.", len(lines)-most)
		lines = lines[:most]
	}
	k.r.Netlist = strings.Join(lines, "")
}

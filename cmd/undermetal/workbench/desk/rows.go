package desk

import (
	"errors"
	"fmt"
	"strings"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/netlist"
)

func errorf(format string, args ...any) error { return fmt.Errorf(format, args...) }

func at(p geom.Point) (geom.Vec, geom.Rect) { return vec(p), geom.Rect{Min: p, Max: p} }

// placeRow is a row that leads to a place.
func placeRow(n int, layer int, p geom.Point, text, note string) row {
	v, box := at(p)
	return row{Row{Text: harmless(text), Note: harmless(note), Layer: layer, Place: true}, v, box, n}
}

func (d *Desk) layerOf(name string) int {
	if i, err := d.layerNamed(name); err == nil {
		return i
	}
	return -1
}

func (d *Desk) layerRows() (rows []row) {
	for i, l := range d.layers {
		r := row{Row: Row{Text: d.layerName(i), Layer: i}, n: i}
		var notes []string
		if i < len(d.stack.Layers) {
			notes = append(notes, d.roleText(i))
		}
		if l.Hidden {
			r.Mark, notes = "×", append(notes, "hidden")
		}
		if l.Locked {
			notes = append(notes, "locked")
		}
		if i == d.layer {
			r.Mark, notes = "▸", append(notes, "drawn on")
		}
		r.Note = strings.Join(notes, ", ")
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) drawOn(i int) {
	if i >= 0 && i < len(d.layers) {
		d.layer = i
		d.layers[i].Hidden = false
		d.say("drawing on %s", d.layerName(i))
	}
}

func (d *Desk) photoRows() (rows []row) {
	for i, p := range d.photos {
		r := row{Row: Row{Text: harmless(p.l.Name), Layer: -1}, n: i}
		switch i {
		case d.base:
			r.Mark = "▸"
		case d.over:
			r.Mark = "+"
		}
		switch {
		case p.l.Registration != nil:
			r.Note = "registered, " + shared.HowWell(p.l.Registration)
			if errors.Is(d.file.CanBeLaid(p.l.Shot), dossier.ErrFixes) {
				r.Note = "fixes the frame"
				if len(p.l.Registration.Residuals) > register.Kind(p.l.Registration.Kind).Points() {
					r.Note += ", " + shared.HowWell(p.l.Registration)
				}
			}
		case p.l.ToFrame != nil:
			r.Note = fmt.Sprintf("%.4g nm/px", p.l.Scale.NmPerPx)
		default:
			r.Note = "no scale"
		}
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) takePhoto(i int) {
	over := d.over
	if over == i {
		over = d.base
	}
	if d.try(d.lay(i, over)) {
		d.leavePairs()
	}
}

func (d *Desk) takeSecond(i int) {
	if i == d.base {
		d.warn("it is the first photograph")
		return
	}
	if d.try(d.lay(d.base, i)) {
		d.leavePairs()
	}
}

func (d *Desk) deviceRows() (rows []row) {
	if d.live == nil {
		return nil
	}
	for i, v := range d.live.res.Circuit.Devices {
		note := d.sizeText(i)
		if q := d.live.res.Questions[i]; q != "" {
			note += "  " + q
		}
		text := d.deviceTitle(i)
		if v.W > 0 && v.L > 0 { // before the nets: a narrow list cuts off the rest
			text += " " + um(v.W) + "/" + um(v.L)
		}
		rows = append(rows, placeRow(i, -1, v.At, text+" "+d.terminals(i), note))
	}
	return rows
}

// terminals names the nets of a device.
func (d *Desk) terminals(i int) string {
	v := d.live.res.Circuit.Devices[i]
	var parts []string
	for k, name := range v.Kind.TerminalNames() {
		if k < len(v.Terminals) {
			parts = append(parts, name+" "+d.netName(v.Terminals[k]))
		}
	}
	return strings.Join(parts, ", ")
}

func (d *Desk) netRows() (rows []row) {
	if d.live == nil {
		return nil
	}
	pins := make([]int, len(d.live.res.Circuit.Nets))
	for _, v := range d.live.res.Circuit.Devices {
		for _, n := range v.Terminals {
			if n >= 0 && int(n) < len(pins) {
				pins[n]++
			}
		}
	}
	for i, n := range d.live.res.Circuit.Nets {
		note := counted(pins[i], "terminal")
		if n.Open {
			note += ", open"
		}
		r := placeRow(i, d.layerOf(n.Layer), n.At, d.netName(netlist.Net(i)), note)
		r.Place = n.Layer != ""
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) goToNet(r row) {
	if d.live == nil || r.n >= len(d.live.res.Circuit.Nets) {
		return
	}
	if d.lightNet(netlist.Net(r.n)) {
		d.jump(vec(d.net.at), d.netBox(d.net.number))
		d.say("net %s", d.netName(netlist.Net(r.n)))
		return
	}
	d.goToRow(r)
}

// endRows are where the lit net ends: terminals, labels, and the rim of what was looked at.
func (d *Desk) endRows() (rows []row) {
	n := d.litNumber()
	if n == 0 {
		return nil
	}
	net := netlist.NoNet
	for _, k := range d.live.byNet[n] {
		if v := d.live.pieces[k].named; v != netlist.NoNet {
			net = v
		}
	}
	for i, v := range d.live.res.Circuit.Devices {
		for k, name := range v.Kind.TerminalNames() {
			if net != netlist.NoNet && k < len(v.Terminals) && v.Terminals[k] == net {
				rows = append(rows, placeRow(i, -1, v.At, name+" of "+d.deviceTitle(i), d.sizeText(i)))
			}
		}
	}
	for i, l := range d.labels {
		for _, k := range d.live.byNet[n] {
			p := d.live.pieces[k]
			if d.layerName(int(p.layer)) == l.Layer && p.box.Contains(l.At) && p.pg.Locate(l.At) != geom.Outside {
				rows = append(rows, placeRow(i, int(p.layer), l.At, "label "+l.Text, l.Layer))
				break
			}
		}
	}
	if net != netlist.NoNet && d.live.res.Circuit.Nets[net].Open {
		rows = append(rows, row{Row: Row{Text: "it goes on where nobody looked", Layer: -1}})
	}
	return rows
}

func (d *Desk) checkRows() (rows []row) {
	if d.live == nil {
		return nil
	}
	if d.live.tolerance == 0 {
		rows = append(rows, row{Row: Row{Text: "nothing says how well this was traced: no checks", Note: "a calibrated photograph says it, or min_feature_nm of the stack", Layer: -1}, n: -1})
	}
	for i, f := range d.live.found {
		note := d.layerName(int(f.Layer))
		if f.HasGap {
			note += ", " + um(float64(f.Gap)) + " µm"
		}
		if f.Count > 1 {
			note += fmt.Sprintf(", %d alike", f.Count)
		}
		rows = append(rows, placeRow(i, int(f.Layer), f.At, f.Code, note))
	}
	for i, w := range d.live.res.Warnings {
		r := placeRow(len(d.live.found)+i, d.layerOf(w.Layer), geom.Point{X: w.X, Y: w.Y}, w.Code, w.Text)
		r.Place = w.Layer != ""
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) goToCheck(r row) {
	if r.Place {
		d.goToRow(r)
	}
	if d.live != nil && r.n >= 0 {
		if k := r.n - len(d.live.found); k < 0 {
			d.warn("%s", d.live.found[r.n].Text)
		} else if k < len(d.live.res.Warnings) {
			d.warn("%s", d.live.res.Warnings[k].Text)
		}
	}
}

func (d *Desk) questionRows() (rows []row) {
	if d.live == nil {
		return nil
	}
	for i, q := range d.live.questions {
		lead := q.Leading()
		note := fmt.Sprintf("%s %.0f dB", lead.Reading, lead.OddsDb)
		mark := "?"
		if q.Verdict != "" {
			note, mark = "answered: "+q.Verdict, "✓"
		}
		if q.Count > 1 {
			note += fmt.Sprintf(", %d alike", q.Count)
		}
		r := placeRow(i, d.layerOf(q.Layer), q.At, q.Kind, note)
		r.Mark = mark
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) labelRows() (rows []row) {
	labels, err := d.file.Labels(d.cell())
	d.try(err)
	for _, l := range labels {
		rows = append(rows, placeRow(int(l.ID), d.layerOf(l.Layer), l.At, l.Text, l.Layer))
	}
	return rows
}

func (d *Desk) noteRows() (rows []row) {
	notes, err := d.file.Notes()
	d.try(err)
	for _, n := range notes {
		r := placeRow(int(n.ID), -1, n.At, n.Text, place(vec(n.At))+" µm")
		r.Place = n.Cell == d.cell()
		rows = append(rows, r)
	}
	return rows
}

func (d *Desk) areaRows() (rows []row) {
	if len(d.within) > 0 {
		return []row{{Row: Row{Text: "of the whole die: { comes back", Layer: -1}}}
	}
	areas, err := d.file.Areas()
	d.try(err)
	for _, a := range areas {
		box := a.Polygon.Bounds()
		r := placeRow(int(a.ID), d.layerOf(a.Layer), geom.Point{X: box.Min.X + box.Width()/2, Y: box.Min.Y + box.Height()/2}, a.Layer,
			fmt.Sprintf("%s × %s µm", um(float64(box.Width())), um(float64(box.Height()))))
		r.box = box
		rows = append(rows, r)
	}
	return rows
}

// blockRows are the blocks of the map, in its order.
func (d *Desk) blockRows() (rows []row) {
	all, err := d.file.Blocks()
	d.try(err)
	for _, b := range blocks.New(all, blocks.Die{}, nil).Blocks {
		note := b.Status + ", no region"
		r := row{Row: Row{Text: harmless(b.Name), Layer: -1}, n: int(b.ID)}
		if len(b.Pieces) > 0 {
			r = placeRow(int(b.ID), -1, geom.Point{X: b.Box.Min.X + b.Box.Width()/2, Y: b.Box.Min.Y + b.Box.Height()/2}, b.Name, "")
			r.box = b.Box
			note = fmt.Sprintf("%s, %.4g µm²", b.Status, b.AreaNm2/1e6)
		}
		r.Note = note
		rows = append(rows, r)
	}
	return rows
}

// removeRow removes what a row of labels, notes, areas or blocks stands for.
func (d *Desk) removeRow(kind string, r row) {
	id := int64(r.n)
	what := fmt.Sprintf("remove %s %s", kind[:len(kind)-1], r.Text)
	d.edit(what, func(tx *dossier.Tx) error {
		switch kind {
		case "labels":
			return edit.RemoveLabel(tx, id)
		case "notes":
			return tx.RemoveNote(id)
		case "blocks":
			return tx.RemoveBlock(id)
		}
		return edit.RemoveAreas(tx, id)
	})
}

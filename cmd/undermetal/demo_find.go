package main

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/netlist"
	"undermetal/netlist/measure"
	"undermetal/recognise"
	"undermetal/recognise/question"
	"undermetal/spice"
	"undermetal/testdata/kiln"
)

// demoFound is what a demo finds out.
type demoFound struct {
	left int // questions that stay open

	drawing *drawing
	read    *extracted
	sizes   []measure.Size
	known   *recognised
}

// ask lists the questions about gates, and answers those that the evidence has decided. The others, and those of other kinds, stay
// as they are.
func (d *demo) ask() error {
	ask := &questionsFlags{}
	path := d.making(demoDossier)
	return editDossier(d.quiet, path, func(dos *dossier.Dossier) error {
		a, err := ask.askDossier(d.quiet, path, dos)
		if err != nil {
			return err
		}
		d.p.f("\nTransistor or capacitor? The drawing alone does not say what these gates are for:\n")
		others := map[string]int{}
		for i := range a.qs {
			q := &a.qs[i]
			if !q.Listed() {
				continue
			}
			if q.Kind != question.TransistorOrCapacitor {
				others[inWords(q.Kind)]++
				d.found.left++
				continue
			}
			lead, what, said := q.Leading(), "another gate", "left open"
			if truth := kiln.AnswerAt(q.At); truth != nil {
				what = truth.Name
			}
			if q.Open() {
				d.found.left++
			} else {
				said = "decided, and answered so"
				ask.answers = append(ask.answers, q.ID+"="+lead.Reading)
			}
			d.p.f("  %-7s %-28s at %6.1f, %6.1f µm: %-10s %5.1f dB (%s); %s\n", a.short[i], what, um(float64(q.At.X)), um(float64(q.At.Y)), lead.Reading, lead.OddsDb, odds(lead.OddsDb), said)
		}
		for _, kind := range slices.Sorted(maps.Keys(others)) {
			d.p.f("  and %s of the kind %q, left open\n", counted(others[kind], "question"), kind)
		}
		ask.note = "by the demo, since the evidence has decided; nobody looked"
		if len(ask.answers) == 0 {
			return nil
		}
		plan, err := ask.planAnswers(a, dos)
		if err != nil {
			return err
		}
		return dos.Edit(d.c.Context(), plan.what, plan.Do)
	})
}

// extract extracts the circuit, and writes it as a netlist.
func (d *demo) extract() error {
	f := &d.found
	err := d.readTraced(func(dos *dossier.Dossier) (err error) {
		f.drawing, err = tracingOf(dos, d.making(demoDossier), "")
		return err
	})
	if err != nil {
		return err
	}
	if f.read, err = followReadings(d.quiet, f.drawing, wanted{solve: solveSigmas}); err != nil {
		return err
	}
	res := f.read.res
	f.sizes = f.drawing.sizes(res, f.read.sol)
	if err := printWarnings(d.c.ErrOrStderr(), res.Warnings); err != nil {
		return err
	}
	if err := writeTo(d.quiet, d.making(demoTraced), func(w io.Writer) error { return writeSPICE(w, res, nil, f.sizes, f.read.about, spice.WriteOptions{}) }); err != nil {
		return err
	}
	count := map[[2]string]int{}
	for i := range res.Circuit.Devices {
		v := &res.Circuit.Devices[i]
		count[[2]string{v.Kind.String(), v.Model}]++
	}
	d.p.f("\n%s: %s, %s\n", d.file(demoTraced), counted(len(res.Circuit.Devices), "device"), counted(len(res.Circuit.Nets), "net"))
	kinds := slices.SortedFunc(maps.Keys(count), func(a, b [2]string) int { return cmp.Or(cmp.Compare(count[b], count[a]), cmp.Compare(a[0], b[0])) })
	for _, k := range kinds {
		d.p.f("  %6d  %s\n", count[k], strings.TrimSpace(k[0]+" "+k[1]))
	}
	d.printPixel(res.Circuit)
	return nil
}

// printPixel prints the transistors of the pixel in the lower left corner with the names of their nets.
func (d *demo) printPixel(c *netlist.Circuit) {
	d.p.f("The pixel at column 0, row 0:\n")
	name := func(n netlist.Net) string {
		if n == netlist.NoNet {
			return "-"
		}
		if s := c.Nets[n].Name; s != "" {
			return s
		}
		at := c.Nets[n].At
		return fmt.Sprintf("(no label, %s at %.1f, %.1f)", c.Nets[n].Layer, um(float64(at.X)), um(float64(at.Y)))
	}
	for i := range c.Devices {
		v := &c.Devices[i]
		if v.At.X < 0 || v.At.X >= kiln.Pitch || v.At.Y < 0 || v.At.Y >= kiln.Pitch || !v.Kind.IsMOS() {
			continue
		}
		t := v.Terminals
		d.p.f("  %-5s at %5.1f, %5.1f µm: W %s, L %s, gate %s, between %s and %s\n", v.Kind, um(float64(v.At.X)), um(float64(v.At.Y)),
			length(um(v.W), um(d.found.sizes[i].W.Combined())), length(um(v.L), um(d.found.sizes[i].L.Combined())),
			name(t[netlist.Gate]), name(t[netlist.Drain]), name(t[netlist.Source]))
	}
}

// recognise names groups of devices.
func (d *demo) recognise() error {
	res := d.found.read.res
	r := &recognised{name: d.making(demoDossier), circuit: res.Circuit, extracted: true, about: d.found.read.about, devices: deviceIDs(res.Circuit, res.Paths()),
		nets: netIDs(res.Circuit), looked: recognise.LookedAt(d.found.drawing.lib.Traced)}
	if err := r.find(d.quiet, recognise.Options{Looked: r.looked}); err != nil {
		return err
	}
	d.found.known = r
	d.p.f("\nRecognised:\n")
	single := map[string]int{}
	for i := range r.all {
		s := &r.all[i]
		if s.Array == nil {
			if s.Full() {
				single[s.Title()]++
			}
			continue
		}
		d.p.f("  %s, %s, %s\n", s.Title(), counted(s.Array.Count(), "member"), oddText(s.Array))
		for _, line := range []struct {
			what string
			nets []map[string]netlist.Net
		}{{"row", s.Array.RowNets}, {"column", s.Array.ColumnNets}} {
			for _, text := range r.lineNames(line.nets) {
				d.p.f("      %s nets: %s\n", line.what, text)
			}
		}
	}
	for _, t := range slices.Sorted(maps.Keys(single)) {
		d.p.f("  %d × %s\n", single[t], t)
	}
	return nil
}

// pattern returns the first full fit of a pattern; nil: there is none.
func (d *demo) pattern(name string) *recognise.Fit {
	for i := range d.found.known.all {
		if s := &d.found.known.all[i]; s.Full() && s.Fit.Pattern.Name == name {
			return s.Fit
		}
	}
	return nil
}

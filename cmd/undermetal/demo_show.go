package main

import (
	"bytes"
	"errors"
	"io"

	"undermetal/layout/dossier"
	"undermetal/netlist"
	"undermetal/netlist/schematic"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
	"undermetal/testdata/kiln"
)

// pixel is the circuit of one pixel by itself, its ports named; nil where none was recognised.
func (d *demo) pixel() (part *netlist.Circuit, of []int32, roles map[netlist.Net]schematic.Role) {
	f := d.pattern("pixel_3t")
	if f == nil {
		return nil, nil, nil
	}
	return partOf(d.found.read.res.Circuit, f, d.found.known.res)
}

// schematics draws a pixel, and the charge pump with what drives it.
func (d *demo) schematics() error {
	d.p.f("\n")
	c := d.found.read.res.Circuit
	if part, of, roles := d.pixel(); part == nil {
		d.p.f("No schematic of a pixel: none was recognised.\n")
	} else if err := d.drawing(demoPixel, "a pixel", part, of, roles); err != nil {
		return err
	}
	var pump []int32
	for i := range c.Devices {
		if kiln.OfPump(c.Devices[i].At) {
			pump = append(pump, int32(i))
		}
	}
	part := schematic.Cut(c, pump)
	part.Name = "charge pump"
	return d.drawing(demoPump, "the charge pump with its drivers", part, pump, nil)
}

// drawing draws some devices of the circuit to an SVG file.
func (d *demo) drawing(file, what string, part *netlist.Circuit, of []int32, roles map[netlist.Net]schematic.Role) error {
	all := deviceNames(d.found.read.res.Circuit)
	names := make([]string, len(of))
	for i, k := range of {
		names[i] = all[k]
	}
	sheets, err := (&collecting{c: d.quiet, name: d.file(demoDossier)}).draw(part, part.Name, roles, names)
	if err != nil {
		return err
	}
	d.p.f("%s: the schematic of %s, %s\n", d.file(file), what, counted(len(of), "device"))
	return d.write(d.making(file), []byte(sheets[0])) // neither has more symbols than a sheet takes
}

// simulate drives a pixel in its bench, if there is a simulator.
func (d *demo) simulate() error {
	part, _, _ := d.pixel()
	if part == nil {
		d.p.f("\nNothing simulated: no pixel was recognised.\n")
		return nil
	}
	if _, err := simulate.Find(""); errors.Is(err, simulate.ErrMissing) {
		d.p.f("\nNothing simulated: there is no ngspice on this computer; undermetal simulate says how to get it.\n")
		return nil
	} else if err != nil {
		return err
	}
	st := d.found.drawing.stack
	process, preset := choosePreset(part, "")
	s := &simulation{loaded: &loaded{name: d.file(demoDossier), circuit: part, stack: st}, preset: preset, setup: bench.Setup{Circuit: part, Process: process.With(st)}}
	if err := s.choose(s.name, ""); err != nil {
		return err
	}
	deck, err := s.bench.Deck(s.setup)
	if err != nil {
		return err
	}
	result, err := runDeck(d.quiet, &simulateFlags{limit: benchLimit}, deck)
	if err != nil {
		return err
	}
	figures, err := s.bench.Figures(s.setup, result)
	if err != nil {
		return err
	}
	d.p.f("\nSimulated: one pixel in the bench %s, level-1 models of preset %s; supply %g V\n", s.bench.Name(), preset, s.setup.Process.SupplyV)
	wide := 0
	for i := range figures {
		wide = max(wide, len([]rune(figures[i].Name)))
	}
	d.p.f("  %-*s  %12s  %12s  %9s\n", wide, "figure", "measured", "expected", "off by")
	for i := range figures {
		d.p.f("  ")
		printFigure(d.p, &figures[i], wide)
	}
	return nil
}

// report writes the page that would be published.
func (d *demo) report() error {
	f := &reportFlags{title: "The kiln-window sensor", pixels: 900, questions: 24, rows: 300}
	var page bytes.Buffer
	err := d.readTraced(func(dos *dossier.Dossier) error {
		r, err := f.collect(d.quiet, d.making(demoDossier), dos)
		if err != nil {
			return err
		}
		return r.Write(&page)
	})
	if err != nil {
		return err
	}
	d.p.f("\n%s: all of it as one page to publish\n", d.file(demoReport))
	return writeTo(d.quiet, d.making(demoReport), func(w io.Writer) error { _, err := page.WriteTo(w); return err })
}

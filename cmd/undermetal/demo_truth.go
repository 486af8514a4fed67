package main

import (
	"bytes"
	"math"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/measure"
	"undermetal/spice"
	"undermetal/testdata/kiln"
)

// demoTolerance is how far W and L may be off for a device to count as found: an edge is off by 40 nm, a length by 57 nm, of 600 nm a
// tenth; four of these are to be had once in 16,000 lengths.
const demoTolerance = 0.4

// wideNm tells the output switch from other transistors: it is a mesh, and no W and L that a hand draws once.
const wideNm = 100_000

// inwards leads from the lower left corner of what was traced into what was drawn.
var inwards = geom.Point{X: 500, Y: 500}

// mostWrong is how many differences are printed.
const mostWrong = 8

// compare holds what was found against what the photographs were rendered from.
func (d *demo) compare() error {
	design, err := spice.Read(demoTruth, bytes.NewReader(kiln.Truth), spice.ReadOptions{Polarity: spice.PolarityByName})
	if err != nil {
		return err
	}
	truth, err := netlist.Flatten(design, design.Circuit("die"))
	if err != nil {
		return err
	}
	c := d.found.read.res.Circuit
	res, err := compare.Compare(d.c.Context(), c, truth, compare.Options{ToleranceRel: demoTolerance, BulkByName: true})
	if err != nil {
		return err
	}
	d.p.f("\nHeld against the circuit that was drawn (%s):\n", d.file(demoTruth))
	d.p.f("  %d of %d devices found; %d were extracted\n", res.Matched, len(truth.Devices), len(c.Devices))
	for i, x := range res.Differences {
		if i == mostWrong {
			d.p.f("    %d more differences\n", len(res.Differences)-i)
			break
		}
		d.p.f("    %s\n", x.Text)
	}
	if err := d.printScales(); err != nil {
		return err
	}
	d.printErrors(c, truth, res.Devices)
	return d.printAnswers()
}

// printAnswers prints how many of the answers that the dossier holds are right.
func (d *demo) printAnswers() error {
	return d.readTraced(func(dos *dossier.Dossier) error {
		given, err := dos.Verdicts()
		if err != nil {
			return err
		}
		right := 0
		for i := range given {
			if a := kiln.AnswerAt(given[i].At); a != nil && a.Reading == given[i].Reading {
				right++
			}
		}
		d.p.f("  %s answered by the evidence, %d of them right; %d left open\n", counted(len(given), "question"), right, d.found.left)
		return nil
	})
}

// printScales prints how far the scale is off of what it was calibrated by.
func (d *demo) printScales() error {
	return d.readTraced(func(dos *dossier.Dossier) error {
		for _, taken := range kiln.Photos() {
			s, err := dos.Shot(taken.Name)
			if err != nil {
				return err
			}
			if k := s.Scale; k.NmPerPx > 0 {
				d.p.f("  the scale of %s: %s; rendered with %g: off by %.2f %%, %.1f σ\n", s.Name, k.String(), taken.NmPerPx/1000, 100*math.Abs(k.NmPerPx/taken.NmPerPx-1), math.Abs(k.NmPerPx-taken.NmPerPx)/k.Sigma)
			}
		}
		return nil
	})
}

// spread is how far lengths are off.
type spread struct {
	n            int
	square, most float64 // in nm
	squareSigmas float64 // in the standard uncertainty that was claimed for each
	mostSigmas   float64
}

func (s *spread) add(off, sigma float64) {
	s.n++
	s.square += off * off
	s.most = max(s.most, math.Abs(off))
	s.squareSigmas += off * off / sigma / sigma
	s.mostSigmas = max(s.mostSigmas, math.Abs(off)/sigma)
}

// printErrors prints how far sizes are off, of what was traced once: copies of a cell are off alike.
func (d *demo) printErrors(c, truth *netlist.Circuit, to []int32) {
	var w, l spread
	copies := 0
	var others []string
	for i := range c.Devices {
		if to[i] < 0 {
			continue
		}
		v, want, s := &c.Devices[i], &truth.Devices[to[i]], &d.found.sizes[i]
		switch {
		case kiln.Copied(v.At):
			copies++
		case v.Kind.IsMOS() && want.W > wideNm:
			others = append(others, "the output switch: W "+length(um(v.W), um(s.W.Combined()))+", L "+length(um(v.L), um(s.L.Combined()))+
				"; drawn "+length(um(want.W), 0)+", "+length(um(want.L), 0))
		case v.Kind.IsMOS():
			w.add(v.W-want.W, s.W.Combined())
			l.add(v.L-want.L, s.L.Combined())
		case v.Kind == netlist.Diode:
			others = append(others, "a photodiode: "+worth(v, *s)+"; drawn "+worth(want, measure.Size{}))
		case v.Kind == netlist.Capacitor:
			what := "a capacitor"
			if a := kiln.AnswerAt(v.At.Add(inwards)); a != nil {
				what = "the " + a.Name
			}
			others = append(others, what+": "+worth(v, *s)+"; drawn "+worth(want, measure.Size{}))
		}
	}
	for _, x := range []struct {
		what string
		*spread
	}{{"W", &w}, {"L", &l}} {
		if n := float64(x.n); n > 0 {
			d.p.f("  %s of %d transistors that were traced: off by %.0f nm rms, %.0f nm at most; %.2f σ rms, %.1f σ at most, of what was claimed for each\n",
				x.what, x.n, math.Sqrt(x.square/n), x.most, math.Sqrt(x.squareSigmas/n), x.mostSigmas)
		}
	}
	d.p.f("  %d devices are copies of these, and off alike\n", copies)
	for _, o := range others {
		d.p.f("  %s\n", o)
	}
}

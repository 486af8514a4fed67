package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"undermetal/cmd/undermetal/plot"
	"undermetal/cmd/undermetal/report"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/spice/bench"
	"undermetal/spice/simulate"
)

// driven is a circuit that a bench may drive.
type driven struct {
	title   string
	circuit *netlist.Circuit
}

const (
	mostDriven  = 100         // devices: a larger circuit is not simulated as a whole, but its groups are
	mostBenches = 4           // in a report
	benchLimit  = time.Minute // of the simulator, a bench
)

// waveforms drives the circuit, or where that is large the groups that were recognised in it, in benches that fit. What cannot be
// simulated is said, and is no error. The larger groups come first, and no general bench drives them.
func (k *collecting) waveforms(all []driven, st *stack.Stack) error {
	if _, err := simulate.Find(""); err != nil {
		if errors.Is(err, simulate.ErrMissing) {
			k.left("waveforms: there is no simulator on this computer; undermetal simulate says which one is wanted.")
			return nil
		}
		return err
	}
	ran := 0
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b driven) int { return cmp.Compare(len(b.circuit.Devices), len(a.circuit.Devices)) })
	for _, d := range all {
		process, preset := choosePreset(d.circuit, "")
		s := &simulation{loaded: &loaded{name: d.title, circuit: d.circuit, stack: st}, preset: preset, setup: bench.Setup{Circuit: d.circuit, Process: process.With(st)}}
		for _, b := range bench.All() {
			ok, why := b.Fits(d.circuit, nil)
			if !ok || b.General() && len(all) > 1 {
				continue
			}
			if ran++; ran > mostBenches {
				k.left("more simulations than %d: undermetal simulate --list tells which benches fit.", mostBenches)
				return nil
			}
			s.bench, s.why = b, why
			w, err := k.wave(s)
			switch {
			case k.c.Context().Err() != nil:
				return k.c.Context().Err()
			case err != nil:
				first, _, _ := strings.Cut(err.Error(), "\n")
				k.left("the bench %s of %s: %s", b.Name(), d.title, first)
			default:
				k.r.Waveforms = append(k.r.Waveforms, *w)
			}
			break // the first that fits, as undermetal simulate takes it
		}
	}
	if ran == 0 {
		k.left("waveforms: no test bench fits; undermetal simulate --list says why.")
	}
	return nil
}

// wave runs one bench.
func (k *collecting) wave(s *simulation) (*report.Waveform, error) {
	deck, err := s.bench.Deck(s.setup)
	if err != nil {
		return nil, err
	}
	result, err := runDeck(k.c, &simulateFlags{limit: benchLimit}, deck)
	if err != nil {
		return nil, err
	}
	figures, err := s.bench.Figures(s.setup, result)
	if err != nil {
		return nil, err
	}
	w := &report.Waveform{Title: sentence(s.name) + ": bench " + s.bench.Name(), Note: fmt.Sprintf("%s. %s. Level-1 models of the preset %s, supply %g V, by %s: nothing of the models is about the die but what the process above states. "+
		"Expected figures are by formulas, and say whether deck and simulator are sound.", sentence(s.bench.About()), sentence(s.why), s.preset, s.setup.Process.SupplyV, result.Simulator)}
	notes, err := s.bench.Notes(s.setup)
	if err != nil {
		return nil, err
	}
	for _, n := range notes {
		w.Note += " " + sentence(n) + "."
	}
	for i := range figures {
		f := &figures[i]
		w.Compared = append(w.Compared, report.Compared{What: f.Name, Measured: benchFigure(f.Measured, f.Unit), Expected: benchFigure(f.Expected, f.Unit), Agrees: f.Agrees()})
	}
	drawn, err := s.figure(result)
	if err != nil || drawn == nil {
		return w, err
	}
	var svg bytes.Buffer
	if err := plot.SVG(&svg, drawn); err != nil {
		if errors.Is(err, plot.ErrNothing) {
			return w, nil
		}
		return nil, err
	}
	w.Drawing = &report.Drawing{SVG: svg.String(), Caption: sentence(s.bench.About()) + "."}
	return w, nil
}

// benchFigure writes a figure of a bench; nothing where there is none.
func benchFigure(v float64, unit string) string {
	if math.IsNaN(v) {
		return ""
	}
	return strings.TrimSpace(fmt.Sprintf("%.4g %s", v, unit))
}

// sentence begins a text with a capital, without the full stop at its end.
func sentence(s string) string {
	s = strings.TrimRight(strings.ReplaceAll(s, "\n    ", "; "), ". ")
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

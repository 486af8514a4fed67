package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/netlist"
	"undermetal/recognise/question"
)

// changeNothing are the kinds of question whose answers leave the circuit as it is.
var changeNothing = []string{question.FloatingGate, question.SuppliesShorted, question.SoftTie, question.OutOfFamily, question.Asymmetry}

// readingsOfQuestion extracts the drawing once for each reading of a question, as if that were the answer: all that it is about, in all
// places that it is about.
func (s *simulation) readingsOfQuestion(c *cobra.Command, f *simulateFlags) (about string, readings []*eitherReading, err error) {
	a, err := s.ask(c, f)
	if err != nil {
		return "", nil, err
	}
	if len(questionsCalled(f.either, a.qs)) == 0 && a.missing == "" {
		return "", nil, usagef("--either %s: there is no device of that name, and no question\n    extract --spice - lists devices with their places, undermetal questions %s the questions",
			harmless(f.either, ""), word(s.name))
	}
	i, err := a.find("--either", f.either)
	if err != nil {
		return "", nil, err
	}
	q := &a.qs[i]
	if q.Verdict != "" {
		return "", nil, fmt.Errorf("%s: --either %s: this question is answered, with %s\n    undermetal questions %s --withdraw %s opens it again", s.name, a.short[i], q.Verdict, word(s.name), a.short[i])
	}
	if slices.Contains(changeNothing, q.Kind) {
		return "", nil, fmt.Errorf("%s: --either %s: whatever the answer to %s is, the circuit stays the same", s.name, a.short[i], inWords(q.Kind))
	}
	for _, reading := range q.Readings {
		r := &eitherReading{name: "if " + reading.Reading}
		readings = append(readings, r)
		answer, err := a.wordFor(q, reading.Reading)
		if err != nil {
			r.none = err
			continue
		}
		if r.circuit, err = a.supposing(c, q, answer); err != nil {
			return "", nil, fmt.Errorf("%s: %w", s.name, err)
		}
	}
	about = fmt.Sprintf("question %s, %s on %s at %.3f, %.3f µm", a.short[i], inWords(q.Kind), q.Layer, um(float64(q.At.X)), um(float64(q.At.Y)))
	if n := len(q.Devices); n > 1 {
		about += fmt.Sprintf(", about %d devices", n)
	}
	return about, readings, nil
}

// ask asks all that undermetal questions would.
func (s *simulation) ask(c *cobra.Command, f *simulateFlags) (a *asking, err error) {
	ask := questionsFlags{inputFlags: f.inputFlags, traceFlags: f.traceFlags, top: f.top}
	if !s.dossier {
		return ask.ask(c, s.name, s.drawing, nil)
	}
	err = readDossier(c, s.name, func(dos *dossier.Dossier) error {
		a, err = ask.askDossier(c, s.name, dos)
		return err
	})
	return a, err
}

// supposing is the circuit as it would be with an answer to a question.
func (a *asking) supposing(c *cobra.Command, q *question.Question, answer string) (*netlist.Circuit, error) {
	kept := map[*layout.Cell][]layout.Verdict{}
	for _, at := range q.Anchors(a.res, a.d.lib, a.d.top) {
		if _, there := kept[at.Cell]; !there {
			kept[at.Cell] = at.Cell.Verdicts
		}
		at.Cell.Verdicts = append(slices.Clip(at.Cell.Verdicts), layout.Verdict{Layer: q.On(), At: at.At, Kind: q.Kind, Reading: answer})
	}
	defer func() {
		for cell, verdicts := range kept {
			cell.Verdicts = verdicts
		}
	}()
	read, err := followReadings(c, a.d, wanted{solve: solveSizes})
	if err != nil {
		return nil, err
	}
	return read.res.Circuit, nil
}

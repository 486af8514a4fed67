package main

import (
	"testing"

	"undermetal/layout"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
	"undermetal/testdata/kiln"
)

func parsedKiln(t *testing.T) *stack.Stack {
	t.Helper()
	st, err := kilnStack()
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// TestKilnDrawing: the drawing is the circuit that was written down by hand, once the capacitors are said to be some.
func TestKilnDrawing(t *testing.T) {
	st, lib := parsedKiln(t), kiln.Die()
	top := lib.Cell("DIE")
	for _, a := range kiln.Answers() {
		top.Verdicts = append(top.Verdicts, layout.Verdict{Layer: 1, At: a.At, Kind: question.TransistorOrCapacitor, Reading: a.Reading})
	}
	res, err := extract.Run(t.Context(), lib, top, st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range res.Warnings {
		t.Errorf("%+v", w)
	}
	flat := kilnTruth(t)
	// 240 pixels of four devices, 12 loads, 40 buffers of four transistors; two of bias, and of the pump two buffers, three
	// transistors, three capacitors, and the switch.
	if want := 240*4 + 12 + 40*4 + 2 + 2*4 + 3 + 3 + 1; len(flat.Devices) != want || len(res.Circuit.Devices) != want {
		t.Errorf("%d devices extracted, %d written down, want %d", len(res.Circuit.Devices), len(flat.Devices), want)
	}
	opt := compare.DefaultOptions()
	opt.BulkByName = true
	same, err := compare.Compare(t.Context(), res.Circuit, flat, opt)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range same.Differences {
		t.Errorf("%+v", d)
	}
	for _, r := range same.Renamed {
		if r.A != "GND" || r.B != "0" { // one net in SPICE
			t.Errorf("%s is called %s in truth.sp", r.A, r.B)
		}
	}
}

// TestKilnRules: by the project's own checks nothing nearly touches, lands beside or ends short: 0.3 µm is half a gate's length.
// Only the squares of the reservoir end within their diffusion, which is what they are for.
func TestKilnRules(t *testing.T) {
	lib := kiln.Die()
	found, err := check.Run(t.Context(), lib, lib.Cell("DIE"), parsedKiln(t), check.Options{ToleranceNm: 300})
	if err != nil {
		t.Fatal(err)
	}
	reservoir, squares := kiln.Answers()[0].Box, 0
	for _, f := range found {
		if f.Code == check.GateEndsInside && reservoir.Contains(f.At) {
			squares++
			continue
		}
		t.Errorf("%+v", f)
	}
	if squares != kiln.Squares {
		t.Errorf("%d squares end within the reservoir's diffusion, %d were drawn", squares, kiln.Squares)
	}
}

// TestKilnLookAlikes: of all that is asked about a gate, the leading reading is the true one before anybody has answered; that
// goes for the reservoir and for the switch, and for the drawing, not yet for a tracing.
func TestKilnLookAlikes(t *testing.T) {
	st, lib := parsedKiln(t), kiln.Die()
	res, err := extract.Run(t.Context(), lib, lib.Cell("DIE"), st, extract.Options{Facts: true})
	if err != nil {
		t.Fatal(err)
	}
	asked := map[string]bool{}
	qs, err := question.Ask(t.Context(), res, st, nil, question.Options{Kinds: []string{question.TransistorOrCapacitor}})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range qs {
		for _, place := range q.Places {
			a := kiln.AnswerAt(place.At)
			if a == nil {
				t.Errorf("a question at %v, where none is expected", place.At)
				continue
			}
			asked[a.Name] = true
			if lead := q.Leading(); lead.Reading != a.Reading {
				t.Errorf("%s: %s leads with %.1f dB, it is a %s", a.Name, lead.Reading, lead.OddsDb, a.Reading)
			}
		}
	}
	for _, a := range kiln.Answers() {
		if !asked[a.Name] {
			t.Errorf("nothing is asked about the %s", a.Name)
		}
	}
}

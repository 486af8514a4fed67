package main

import (
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise/question"
)

// extracted is a circuit in which open questions have their leading reading, as far as extraction follows these.
type extracted struct {
	res   *extract.Result
	sol   *measure.Solution
	about []aboutDevice // for each device
	told  *question.Told
}

// followReadings extracts a drawing, asks, and where a reading that would change the circuit leads clearly, extracts it once more with
// that. Where none does the drawing is extracted once.
func followReadings(c *cobra.Command, d *drawing, how wanted) (*extracted, error) {
	opt := extract.Options{Outlines: how.solve != solveNothing, Junctions: how.junctions && how.solve == solveSigmas, Facts: true}
	res, err := extractOnly(c, d, opt)
	if err != nil {
		return nil, err
	}
	ask := question.Options{Traced: d.lib.Traced, Kinds: append(slices.Clone(followedKinds), ofDevices[:5]...), All: true}
	e := &extracted{res: res}
	var qs []question.Question
	if qs, e.told, err = askAndTell(c, d, res, ask); err != nil {
		return nil, err
	}
	var leads []question.Lead
	if !how.asDrawn {
		leads = question.Leads(qs)
	}
	if len(leads) > 0 {
		opt.Leading = question.Verdicts(leads)
		if e.res, err = extractOnly(c, d, opt); err != nil {
			return nil, err
		}
		if _, e.told, err = askAndTell(c, d, e.res, ask); err != nil {
			return nil, err
		}
	}
	short := shortIDs(qs)
	e.about = aboutDevices(res, e.res, qs, short, leads)
	e.res.Warnings = append(e.res.Warnings, warnFollowed(qs, short, leads)...)
	if how.solve != solveNothing {
		e.sol, err = solveAll(c, e.res, how.solve)
	}
	return e, err
}

// askAndTell asks about an extraction of a drawing, with a progress bar.
func askAndTell(c *cobra.Command, d *drawing, res *extract.Result, opt question.Options) ([]question.Question, *question.Told, error) {
	b := newBar(c, "asking about "+d.top.Name)
	defer b.end()
	opt.Progress = b.set
	return question.AskAndTell(c.Context(), res, d.stack, nil, opt)
}

// followedKinds are the kinds of question whose leading reading is followed.
var followedKinds = []string{question.Polarity, question.Photodiode}

// leadsOf returns the leading readings that extract follows in a drawing, extracted as drawn and with facts.
func leadsOf(c *cobra.Command, d *drawing, res *extract.Result) ([]question.Lead, error) {
	qs, err := question.Ask(c.Context(), res, d.stack, nil, question.Options{Traced: d.lib.Traced, Kinds: followedKinds, All: true})
	return question.Leads(qs), err
}

// withLeads is a drawing that was extracted as drawn, and solved, extracted with its leading readings, where it has any, and solved alike.
func withLeads(c *cobra.Command, d *drawing, res *extract.Result, how solving) (*extract.Result, error) {
	leads, err := leadsOf(c, d, res)
	if err != nil || len(leads) == 0 {
		return res, err
	}
	res, err = extractOnly(c, d, extract.Options{Outlines: true, Leading: question.Verdicts(leads)})
	if err != nil {
		return nil, err
	}
	_, err = solveAll(c, res, how)
	return res, err
}

// warnFollowed tells of each question whose leading reading was followed.
func warnFollowed(qs []question.Question, short []string, leads []question.Lead) []extract.Warning {
	var out []extract.Warning
	for k, l := range leads {
		if k > 0 && leads[k-1].Question == l.Question {
			continue
		}
		q := &qs[l.Question]
		where := ""
		if n := len(q.Places); n > 1 {
			where = fmt.Sprintf(", in %d places", n)
		}
		out = append(out, extract.Warning{Code: "reading-followed", Layer: q.Layer, X: l.Verdict.At.X, Y: l.Verdict.At.Y,
			Text: fmt.Sprintf("nobody has answered question %s, %s; taken for %s, %s%s", short[l.Question], inWords(q.Kind), l.Verdict.Reading, odds(l.OddsDb), where)})
	}
	return out
}

// devicesNow returns, for each device of a circuit as drawn, its number in the circuit with leading readings: they only give
// transistors a type, which changes no order, and add diodes.
func devicesNow(drawn, now *extract.Result, leads []question.Lead) []int {
	made := map[int]bool{}
	for i, l := range question.Followed(leads, now) {
		made[i] = leads[l].Verdict.Kind == question.Photodiode
	}
	out := make([]int, 0, len(drawn.Circuit.Devices))
	for i := range now.Circuit.Devices {
		if !made[i] {
			out = append(out, i)
		}
	}
	return out
}

// idsWithLeads returns the ids that extract gives the devices of a circuit that was extracted as drawn: they tell n from p.
func idsWithLeads(res *extract.Result, leads []question.Lead) []string {
	type place struct {
		layer string
		at    geom.Point
	}
	kinds := map[place]netlist.Kind{}
	for _, l := range leads {
		if k, ok := map[string]netlist.Kind{"n": netlist.NMOS, "p": netlist.PMOS}[l.Verdict.Reading]; ok && l.Verdict.Kind == question.Polarity {
			kinds[place{res.LayerName(l.Verdict.Layer), l.Verdict.At}] = k
		}
	}
	c := *res.Circuit
	if len(kinds) > 0 {
		c.Devices = slices.Clone(c.Devices)
		for i := range res.Facts.Channels {
			ch := &res.Facts.Channels[i]
			if k, ok := kinds[place{res.LayerName(ch.Layer), ch.At}]; ok {
				for _, d := range ch.Devices() {
					c.Devices[d].Kind = k
				}
			}
		}
	}
	return deviceIDs(&c, res.Paths())
}

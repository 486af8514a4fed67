package main

import (
	"encoding/json"
	"io"
)

// jsonQuestion is a question as questions --json gives it. These names are kept.
type jsonQuestion struct {
	ID       string             `json:"id"`
	Kind     string             `json:"kind"`
	At       [2]float64         `json:"at"`
	Layer    string             `json:"layer"`
	Devices  []string           `json:"devices"`
	Nets     []string           `json:"nets"`
	Shots    []string           `json:"shots"`
	Count    int                `json:"count"`
	PriorDb  map[string]float64 `json:"prior_db"`
	Readings []jsonReading      `json:"readings"`
	Evidence []jsonEvidence     `json:"evidence"`
	NextLook jsonLook           `json:"next_look"`
	Verdict  string             `json:"verdict"`
	Note     string             `json:"note"`
	Short    string             `json:"short"`
	Path     string             `json:"path"`
	Answers  map[string]string  `json:"answers,omitempty"`
}

type jsonReading struct {
	Reading     string  `json:"reading"`
	OddsDb      float64 `json:"odds_db"`
	Probability float64 `json:"probability"`
}

type jsonEvidence struct {
	Text     string             `json:"text"`
	Group    string             `json:"group"`
	Observed bool               `json:"observed"`
	Decibans map[string]float64 `json:"decibans"`
	Weighed  bool               `json:"weighed"`
}

type jsonLook struct {
	Text string  `json:"text"`
	Bits float64 `json:"bits"`
}

// writeJSON writes the questions by the contract in DEVELOPERS.md; all: also those that the evidence has decided.
func (a *asking) writeJSON(w io.Writer, all bool) error {
	out := []jsonQuestion{}
	for i := range a.qs {
		q := &a.qs[i]
		if !all && !q.Listed() {
			continue
		}
		j := jsonQuestion{ID: q.ID, Kind: q.Kind, At: place(q.At.X, q.At.Y), Layer: q.Layer, Devices: []string{}, Nets: []string{}, Shots: append([]string{}, q.Shots...),
			Count: q.Count, PriorDb: q.Prior, NextLook: jsonLook{q.NextLook.Text, q.NextLook.Bits}, Verdict: q.Verdict, Note: q.Note, Short: a.short[i], Path: q.Path, Answers: q.Answers,
			Readings: []jsonReading{}, Evidence: []jsonEvidence{}}
		for _, d := range q.Devices {
			j.Devices = append(j.Devices, a.devices[d])
		}
		for _, n := range q.Nets {
			j.Nets = append(j.Nets, a.nets[n])
		}
		for _, r := range q.Readings {
			j.Readings = append(j.Readings, jsonReading(r))
		}
		for _, e := range q.Evidence {
			j.Evidence = append(j.Evidence, jsonEvidence{e.Text, e.Group, e.Observed, e.Decibans, e.Weighed})
		}
		out = append(out, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(out)
}

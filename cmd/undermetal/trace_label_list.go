package main

import (
	"encoding/json"
	"fmt"
	"io"

	"undermetal/layout/dossier"
)

// labelJSON is an entry of trace label --json: {"version", "labels"}; places are µm of the cell.
type labelJSON struct {
	Cell  string     `json:"cell"`
	Layer string     `json:"layer"`
	Text  string     `json:"text"`
	At    [2]float64 `json:"at"`
}

func listLabels(w io.Writer, d *dossier.Dossier, f *labelFlags) error {
	cells, err := d.Cells()
	if err != nil {
		return err
	}
	if f.cell != "" {
		one, err := findCell(d, f.cell)
		if err != nil {
			return err
		}
		cells = []dossier.Cell{one}
	}
	all := []labelJSON{}
	p := &printer{w: w}
	for _, cell := range cells {
		labels, err := d.Labels(cell.ID)
		if err != nil {
			return err
		}
		for _, l := range labels {
			all = append(all, labelJSON{cell.Name, l.Layer, l.Text, place(l.At.X, l.At.Y)})
			if !f.json {
				p.f("%-12s %-16s %s", l.Layer, l.Text, microns(l.At))
				if cell.ID != dossier.Frame {
					p.f(" in cell %s", cell.Name)
				}
				p.f("\n")
			}
		}
	}
	if f.json {
		return writeList(w, "labels", all)
	}
	if len(all) == 0 {
		p.f("no labels yet: undermetal trace label %s LAYER TEXT --at X,Y puts one\n", word(d.Path))
	}
	return p.err
}

// writeList writes a list as JSON, under a name, with the version.
func writeList(w io.Writer, name string, list any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	if err := e.Encode(map[string]any{"version": jsonVersion, name: list}); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}

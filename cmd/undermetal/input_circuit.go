package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/spice"
)

// loadCircuit reads a drawing or a netlist as one flat circuit.
func loadCircuit(c *cobra.Command, name string, f *inputFlags, top string) (*netlist.Circuit, error) {
	in, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	if in.format != spiceFormat {
		d, err := loadDrawing(c, in, f, top)
		if err != nil {
			return nil, err
		}
		read, err := followReadings(c, d, wanted{solve: solveSizes})
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return read.res.Circuit, printWarnings(c.ErrOrStderr(), read.res.Warnings)
	}
	polarity, err := polarities(f.stackName)
	if err != nil {
		return nil, err
	}
	from := newReading(c, in)
	design, err := spice.Read(name, from, spice.ReadOptions{Polarity: polarity})
	from.end()
	if err != nil {
		return nil, err
	}
	circuit, err := pickCircuit(name, design, top)
	if err != nil {
		return nil, err
	}
	return netlist.Flatten(design, circuit)
}

// polarities returns what tells an n from a p transistor by its model: the rules of a stack, if there is one, else what
// models are usually called.
func polarities(stackName string) (func(string) netlist.Kind, error) {
	if stackName == "" {
		return spice.PolarityByName, nil
	}
	st, err := stack.Load(stackName)
	if err != nil {
		return nil, err
	}
	return func(model string) netlist.Kind {
		for _, r := range st.MOS {
			if !strings.EqualFold(r.Model, model) {
				continue
			}
			if r.Type == "p" {
				return netlist.PMOS
			}
			return netlist.NMOS
		}
		return spice.PolarityByName(model)
	}, nil
}

func pickCircuit(file string, d *netlist.Design, top string) (*netlist.Circuit, error) {
	if top != "" {
		for _, c := range d.Circuits {
			if strings.EqualFold(c.Name, top) {
				return c, nil
			}
		}
	}
	used := map[*netlist.Circuit]bool{}
	for _, c := range d.Circuits {
		for i := range c.Instances {
			used[c.Instances[i].Of] = true
		}
	}
	var names, tops []string
	var only *netlist.Circuit
	for _, c := range d.Circuits {
		names = append(names, c.Name)
		if !used[c] {
			tops = append(tops, c.Name)
			only = c
		}
	}
	switch {
	case top != "":
		return nil, fmt.Errorf("%s: there is no circuit %q\n    it has %s", file, top, someNames(names))
	case len(tops) == 0:
		return nil, fmt.Errorf("%s: holds no circuit", file)
	case len(tops) > 1:
		return nil, usagef("%s: %d circuits are used by no other; say which with --top or --top-b\n    %s", file, len(tops), someNames(tops))
	}
	return only, nil
}

package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/netlist"
	"undermetal/netlist/schematic"
	"undermetal/recognise"
	"undermetal/spice"
)

// shown is a circuit that is to be drawn, and what is known of it.
type shown struct {
	circuit *netlist.Circuit
	ids     []string // of the devices, as in extract --json; nil: of a netlist, whose devices have names
	paths   []string // of the instances that the devices lie in
	groups  []schematic.Group
	arrays  []schematic.Array
}

// loadShown reads what the flags name: a circuit, a cell, or one piece of it.
func loadShown(c *cobra.Command, name string, f *schematicFlags) (*shown, error) {
	in, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	s := &shown{}
	of := f.of
	if in.format == spiceFormat {
		err = s.fromNetlist(c, in, f, &of)
	} else {
		err = s.fromDrawing(c, in, f, &of)
	}
	if err != nil || of == "" {
		return s, err
	}
	if devices := s.piece(of); len(devices) > 0 {
		return s.only(devices, nil, of), nil
	}
	r := &recognised{name: name, circuit: s.circuit, extracted: s.ids != nil, devices: s.ids}
	if s.ids == nil {
		for i := range s.circuit.Devices {
			r.devices = append(r.devices, s.circuit.Devices[i].Name)
		}
	}
	if err := r.find(c, recognise.Options{Missing: 1}); err != nil {
		return nil, err
	}
	i, err := r.called("--of", of)
	if errors.As(err, new(noSuggestion)) {
		return nil, fmt.Errorf("%s: nothing is called %q\n    --of wants a cell or a circuit, the path of an instance, the id of a device, or one that undermetal recognise lists", name, of)
	}
	if err != nil {
		return nil, err
	}
	return s.suggested(r, i), nil
}

// suggested leaves what a suggestion is about: of an array one member.
func (s *shown) suggested(r *recognised, i int) *shown {
	one := recognise.Suggestion{ID: r.all[i].ID, Fit: r.all[i].Fit}
	return s.only(one.Devices(), recognise.Groups([]recognise.Suggestion{one}), one.ID)
}

// fromDrawing extracts the cell that *of names, of which it then is empty, or else the top.
func (s *shown) fromDrawing(c *cobra.Command, in *input, f *schematicFlags, of *string) error {
	d, err := loadDrawing(c, in, &f.inputFlags, f.top)
	if err != nil {
		return err
	}
	if cell := d.lib.Cell(*of); cell != nil {
		d.top, *of = cell, ""
	}
	read, err := followReadings(c, d, wanted{solve: solveNothing})
	if err != nil {
		return fmt.Errorf("%s: %w", in.name, err)
	}
	res := read.res
	s.circuit, s.paths = res.Circuit, res.Paths()
	s.ids = deviceIDs(s.circuit, s.paths)
	if !f.flat && *of == "" {
		s.arrays = arraysOf(s.circuit, s.paths)
	}
	return printWarnings(c.ErrOrStderr(), res.Warnings)
}

// fromNetlist reads the circuit that *of names, of which it then is empty, or else the top. Circuits that it uses stay boxes, unless
// something inside them was asked for.
func (s *shown) fromNetlist(c *cobra.Command, in *input, f *schematicFlags, of *string) error {
	polarity, err := polarities(f.stackName)
	if err != nil {
		return err
	}
	from := newReading(c, in)
	design, err := spice.Read(in.name, from, spice.ReadOptions{Polarity: polarity})
	from.end()
	if err != nil {
		return err
	}
	top := f.top
	if slices.ContainsFunc(design.Circuits, func(k *netlist.Circuit) bool { return *of != "" && strings.EqualFold(k.Name, *of) }) {
		top, *of = *of, ""
	}
	if s.circuit, err = pickCircuit(in.name, design, top); err != nil {
		return err
	}
	if f.flat || *of != "" {
		if s.circuit, err = netlist.Flatten(design, s.circuit); err != nil {
			return fmt.Errorf("%s: %w", in.name, err)
		}
	}
	s.paths = make([]string, len(s.circuit.Devices))
	for i := range s.circuit.Devices {
		s.paths[i] = s.circuit.Devices[i].Name
	}
	return nil
}

// piece returns the devices that somebody calls by a name: an instance's path, or a device's id or name.
func (s *shown) piece(of string) (devices []int32) {
	for i, path := range s.paths {
		if path == of || strings.HasPrefix(path, of+"/") || s.ids != nil && s.ids[i] == of {
			devices = append(devices, int32(i))
		}
	}
	return devices
}

// only leaves nothing but some devices. Groups are of these devices' old numbers.
func (s *shown) only(devices []int32, groups []schematic.Group, title string) *shown {
	out := &shown{circuit: schematic.Cut(s.circuit, devices)}
	out.circuit.Name += " " + title
	number := map[int32]int32{}
	for k, i := range devices {
		number[i] = int32(k)
		out.paths = append(out.paths, s.paths[i])
		if s.ids != nil {
			out.ids = append(out.ids, s.ids[i])
		}
	}
	for _, g := range groups {
		g.Devices = slices.Clone(g.Devices)
		for k, i := range g.Devices {
			g.Devices[k] = number[i]
		}
		out.groups = append(out.groups, g)
	}
	return out
}

// describe returns a device's id and place on the die.
func (s *shown) describe(i int) (id, at string) {
	d := &s.circuit.Devices[i]
	if s.ids == nil {
		return d.Name, ""
	}
	p := place(d.At.X, d.At.Y)
	return s.ids[i], fmt.Sprintf("%.4g, %.4g µm", p[0], p[1])
}

// look tells by what a model is usually called (common practice) how the device looks.
func (s *shown) look(i int) schematic.Look {
	d := &s.circuit.Devices[i]
	model := strings.ToLower(d.Model)
	switch {
	case d.Kind == netlist.Diode && (strings.Contains(model, "photo") || strings.HasPrefix(model, "pd")):
		return schematic.Photodiode
	case d.Kind == netlist.Bipolar && strings.Contains(model, "pnp"):
		return schematic.PNP
	case d.Kind == netlist.JFET && strings.Contains(model, "pj"):
		return schematic.PChannel
	case d.Kind.IsMOS() && strings.Contains(model, "dep"):
		return schematic.Depletion
	}
	return schematic.NoLook
}

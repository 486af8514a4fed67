package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise"
	"undermetal/spice"
)

// groupCircuit makes subcircuits of what is recognised, and says what is not seen of them.
func groupCircuit(c *cobra.Command, name string, circuit *netlist.Circuit, about []aboutDevice) (*recognise.Grouped, error) {
	r := &recognised{name: name, circuit: circuit}
	if err := r.find(c, recognise.Options{}); err != nil {
		return nil, err
	}
	g := recognise.Group(circuit, r.all)
	asked := 0
	for i := range about {
		if about[i].text != "" {
			asked++
		}
	}
	for _, i := range g.Left {
		if about[i].text != "" {
			asked--
		}
	}
	if asked > 0 {
		p := &printer{w: c.ErrOrStderr()}
		p.f("warning: groups: there are questions about %s in subcircuits, which cannot be told beside them; without --groups they are\n", counted(asked, "device"))
		return g, p.err
	}
	return g, nil
}

// nearestPreset stands for the preset whose shortest gate is nearest to the circuit's.
const nearestPreset = "nearest"

// process is what model cards are made of; nil where none is asked for.
func (f *extractFlags) process(c *netlist.Circuit, st *stack.Stack) *spice.Process {
	if f.preset == "" {
		return nil
	}
	p, _ := choosePreset(c, strings.TrimPrefix(f.preset, nearestPreset))
	return p.With(st)
}

// writeSPICE writes a netlist, hierarchical where groups is not nil. sizes and about may be nil. opt says of cards and ground.
func writeSPICE(w io.Writer, res *extract.Result, groups *recognise.Grouped, sizes []measure.Size, about []aboutDevice, opt spice.WriteOptions) error {
	d := &netlist.Design{Circuits: []*netlist.Circuit{res.Circuit}}
	if about == nil {
		about = make([]aboutDevice, len(res.Circuit.Devices))
	}
	if groups != nil {
		d = groups.Design
	}
	comment := func(i int) string {
		if groups != nil {
			i = int(groups.Left[i])
		}
		if sizes == nil || sizes[i].W.Combined() == 0 && sizes[i].L.Combined() == 0 {
			return about[i].text
		}
		text := fmt.Sprintf("sigma W %.2g um, L %.2g um", um(shared.Tidy(sizes[i].W.Combined())), um(shared.Tidy(sizes[i].L.Combined())))
		if res.Circuit.Devices[i].Ratio > 0 && sizes[i].Ratio.Combined() > 0 {
			text += fmt.Sprintf(", W/L %.2g", sizes[i].Ratio.Combined())
		}
		return strings.TrimPrefix(about[i].text+"; "+text, "; ")
	}
	opt.Places, opt.Comment = true, comment
	return spice.Write(w, d, opt)
}

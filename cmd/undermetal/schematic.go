package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/netlist/schematic"
)

// schematicFlags are the flags of undermetal schematic.
type schematicFlags struct {
	inputFlags
	top, of, out      string
	text, flat, names bool
	perSheet          int
}

func newSchematic() *cobra.Command {
	var f schematicFlags
	c := &cobra.Command{
		Use:   "schematic INPUT",
		Short: "draw the circuit as a schematic",
		Long: `schematic draws the circuit of a dossier, of a drawing with --stack, or of a SPICE netlist: supplies above, grounds below, signals
from left to right, symbols after IEC 60617. A device has its name in the netlist, W and L in µm, and in the SVG its place on the die as
a title. Where a wire would be long, or finds no way, the names of nets stand for it.

Circuits that a netlist's circuit uses are boxes, and so are arrays of a drawing's cells, one of which is drawn beside; --flat draws
all. --of draws one piece: a cell of a drawing, a circuit of a netlist, or what lies in one instance (its path), with the nets that lead
out of it as ports. Where nothing names a supply, one is guessed.

--out names an SVG file; what does not fit on one sheet goes on in NAME-2.svg, NAME-3.svg … A name at a small circle is a port, at
a double arrow a net that goes on on another sheet; other nets have names with --names only. --text prints a coarse drawing in characters.`,
		Example: `  undermetal schematic kiln.dossier --out kiln.svg
  undermetal schematic cell.gds --stack process.stack.toml --out cell.svg
  undermetal schematic pixel.sp --text
  undermetal schematic chip.sp --of X1/X7 --out amplifier.svg`,
		Args: exactly(1, "one dossier, drawing or netlist"),
		RunE: func(c *cobra.Command, args []string) error { return doSchematic(c, args[0], &f) },
	}
	f.inputFlags.flags(c)
	p := c.Flags()
	p.StringVar(&f.stackName, "stack", "", "stack file or built-in stack: what the layers of a drawing are, and which models are n or p")
	p.StringVar(&f.top, "top", "", "the cell or circuit to draw; must be given where several are placed by no other")
	p.StringVar(&f.of, "of", "", "draw this piece only: a cell or circuit, the path of an instance, the id of a device, or of what recognise suggests (of an array one member)")
	p.BoolVar(&f.flat, "flat", false, "draw what is in a netlist's boxes, and all of an array")
	p.BoolVar(&f.names, "names", false, "name also the nets that are drawn as one wire and are no ports")
	p.StringVar(&f.out, "out", "", "write the drawing to this SVG file; - is standard output")
	p.BoolVar(&f.text, "text", false, "print a coarse drawing in characters")
	p.IntVar(&f.perSheet, "per-sheet", 0, "about how many symbols a sheet takes (default 48)")
	return c
}

func doSchematic(c *cobra.Command, name string, f *schematicFlags) error {
	if f.out == "" && !f.text {
		return usagef("say where the drawing goes: --out FILE.svg, or --text")
	}
	if f.perSheet < 0 {
		return usagef("--per-sheet %d: a sheet takes one symbol at least", f.perSheet)
	}
	if err := f.check(c); err != nil {
		return err
	}
	what, err := loadShown(c, name, f)
	if err != nil {
		return err
	}
	if err := f.checkUsed(c); err != nil {
		return err
	}
	circuit := what.circuit
	symbols := len(circuit.Devices) + len(circuit.Instances)
	if symbols == 0 {
		return fmt.Errorf("%s: the circuit %s has no devices to draw", name, circuit.Name)
	}
	wait := newClock(c, fmt.Sprintf("drawing %s", counted(symbols, "device")))
	drawing, err := schematic.Draw(c.Context(), circuit, schematic.Options{Title: circuit.Name, PerSheet: f.perSheet, InnerNames: f.names,
		Groups: what.groups, Arrays: what.arrays, Describe: what.describe, Look: what.look})
	wait.end()
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if f.text {
		for i := range drawing.Sheets {
			if err := drawing.WriteText(c.OutOrStdout(), i); err != nil {
				return err
			}
		}
	}
	if f.out == "" {
		return nil
	}
	if f.out == "-" && len(drawing.Sheets) > 1 {
		return usagef("the drawing has %d sheets, which one output cannot hold; name a file with --out, or give more than %d with --per-sheet",
			len(drawing.Sheets), symbols)
	}
	for i := range drawing.Sheets {
		file := sheetFile(f.out, i)
		if err := writeTo(c, file, func(w io.Writer) error { return drawing.WriteSVG(w, i) }); err != nil {
			return err
		}
	}
	if f.out != "-" {
		fmt.Fprintf(c.ErrOrStderr(), "%s on %s: %s\n", counted(symbols, "device"), counted(len(drawing.Sheets), "sheet"), f.out)
	}
	return nil
}

// sheetFile returns the name of the i-th sheet's file.
func sheetFile(name string, i int) string {
	if i == 0 {
		return name
	}
	ext := filepath.Ext(name)
	return fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ext), i+1, ext)
}

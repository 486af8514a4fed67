package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/testdata/kiln"
)

const demoDir = "undermetal-demo"

func newDemo() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "demo [DIR]",
		Short: "the worked example, end to end",
		Long: fmt.Sprintf(`demo writes a drawing and its stack into DIR (default ./%s), extracts the circuit from those files, prints what it
found and writes the SPICE netlist beside them. The drawing is made up: the imager of a kiln-window flicker sensor,
%d × %d pixels.`, demoDir, kiln.Columns, kiln.Rows),
		Example: "  undermetal demo\n  undermetal demo /tmp/kiln --force",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) > 1 {
				return usagef("undermetal demo wants one folder at most, got %d\n    undermetal demo --help shows an example", len(args))
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			dir := demoDir
			if len(args) == 1 {
				dir = args[0]
			}
			return doDemo(c, dir, force)
		},
	}
	c.Flags().BoolVar(&force, "force", false, "overwrite the files of an earlier demo")
	return c
}

func doDemo(c *cobra.Command, dir string, force bool) (err error) {
	drawn, stackFile, netlistFile := filepath.Join(dir, "kiln.gds"), filepath.Join(dir, "kiln.stack.toml"), filepath.Join(dir, "kiln.sp")
	for _, f := range []string{drawn, stackFile, netlistFile} {
		switch _, there := os.Lstat(f); {
		case errors.Is(there, os.ErrNotExist):
			defer func() { // what was written goes with what could not be
				if err != nil {
					os.Remove(f)
				}
			}()
		case !force:
			return fmt.Errorf("%s is there already\n    give another folder, or --force to overwrite it", f)
		}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := writeKiln(c, drawn, stackFile); err != nil {
		return err
	}
	in, err := openInput(drawn)
	if err != nil {
		return err
	}
	defer in.Close()
	d, err := loadDrawing(c, in, &inputFlags{stackName: stackFile}, "")
	if err != nil {
		return err
	}
	read, err := followReadings(c, d, wanted{solve: solveSizes})
	if err != nil {
		return err
	}
	res, sol := read.res, read.sol
	if err := writeTo(c, netlistFile, func(w io.Writer) error { return writeSPICE(w, res, nil, nil, read.about, false, "") }); err != nil {
		return err
	}
	if err := printWarnings(c.ErrOrStderr(), res.Warnings); err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	p.f("The imager of a kiln-window flicker sensor, %d columns × %d rows of three-transistor pixels.\nDrawn by us; written to %s, extracted from there.\n\n",
		kiln.Columns, kiln.Rows, drawn)
	if p.err != nil {
		return p.err
	}
	if err := printSummary(c.OutOrStdout(), res.Circuit, nil, sol, false); err != nil {
		return err
	}
	printPixel(p, res.Circuit)
	p.f("\nNetlist: %s\n\nTry next:\n", netlistFile)
	p.f("  undermetal extract %s --stack %s --top PIXEL --spice -\n", drawn, stackFile)
	p.f("  undermetal extract %s --stack %s --json -\n", drawn, stackFile)
	p.f("  undermetal compare %s %s --stack %s\n", drawn, netlistFile, stackFile)
	return p.err
}

// writeKiln writes the drawing and its stack.
func writeKiln(c *cobra.Command, drawn, stackFile string) error {
	if err := writeTo(c, stackFile, func(w io.Writer) error { _, err := w.Write(kiln.Stack); return err }); err != nil {
		return err
	}
	st, err := kilnStack()
	if err != nil {
		return err
	}
	return writeTo(c, drawn, func(w io.Writer) error { return writeKilnGDS(w, kiln.Library(), st) })
}

func kilnStack() (*stack.Stack, error) { return stack.Parse("kiln.stack.toml", kiln.Stack) }

func writeKilnGDS(w io.Writer, lib *layout.Library, st *stack.Stack) error {
	first := func(pairs []stack.Pair) gds.Pair {
		if len(pairs) == 0 {
			return gds.Pair{}
		}
		return pairs[0]
	}
	return gds.Write(w, lib, func(l layout.Layer) gds.Pair { return first(st.Layers[l].GDS) },
		func(l layout.Layer) gds.Pair { return first(st.Layers[l].Labels) })
}

// printPixel prints the transistors of the pixel in the lower left corner with the names of their nets.
func printPixel(p *printer, c *netlist.Circuit) {
	p.f("\nThe pixel at column 0, row 0:\n")
	name := func(n netlist.Net) string {
		if n == netlist.NoNet {
			return "-"
		}
		if s := c.Nets[n].Name; s != "" {
			return s
		}
		at := c.Nets[n].At
		return fmt.Sprintf("(no label, %s at %.1f, %.1f)", c.Nets[n].Layer, um(float64(at.X)), um(float64(at.Y)))
	}
	for i := range c.Devices {
		d := &c.Devices[i]
		if d.At.X < 0 || d.At.X >= kiln.Pitch || d.At.Y < 0 || d.At.Y >= kiln.Pitch || !d.Kind.IsMOS() {
			continue
		}
		t := d.Terminals
		p.f("  %-5s at %5.1f, %5.1f µm: gate %s, between %s and %s\n", d.Kind, um(float64(d.At.X)), um(float64(d.At.Y)),
			name(t[netlist.Gate]), name(t[netlist.Drain]), name(t[netlist.Source]))
	}
}

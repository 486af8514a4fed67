package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/testdata/kiln"
)

const demoDir = "undermetal-demo"

func newDemo() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "demo [DIR]",
		Short: "the worked example, end to end",
		Long: fmt.Sprintf(`demo does the whole job on a made-up die, a kiln-window flicker sensor with an imager of %d × %d pixels and a charge pump, and says
how much of it was recovered. It takes two photographs of the die (rendered from our own drawing: with all metal on, and stripped),
puts them into a dossier, gives them a scale by a photograph of a stage micrometer, registers them by control points, brings in what a hand traced over them, off as a hand is, extracts the
circuit, asks what has more than one plausible reading, names what it knows, lays the blocks of a block diagram on the die, writes netlist, schematics and a report, drives a pixel
if ngspice is there, and holds the circuit against the one that was drawn. All files lie in DIR (default ./%s) afterwards.
How long each step took goes to standard error.`, kiln.Columns, kiln.Rows, demoDir),
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

// The files of a demo. What a command has written with its photographs lies in a folder of its own.
const (
	demoPhotos  = "photos"
	demoDrawing = "kiln.gds"
	demoStack   = "kiln.stack.toml"
	demoDrawn   = "kiln.sp" // the netlist of the drawing
	demoDossier = "kiln.dossier"
	demoTraced  = "kiln-traced.sp" // and that of the dossier
	demoTruth   = "kiln-truth.sp"
	demoPixel   = "kiln-pixel.svg"
	demoPump    = "kiln-pump.svg"
	demoReport  = "kiln.html"
)

// demoFiles are all files beside the folder of photographs.
var demoFiles = []string{demoDrawing, demoStack, demoDrawn, demoDossier, demoTraced, demoTruth, demoPixel, demoPump, demoReport}

// demo is a demo under way. Its files are made in the folder stage and moved to dir when all are there; photographs lie in dir from the
// beginning, since the dossier keeps where they came from.
type demo struct {
	c          *cobra.Command
	quiet      *cobra.Command // its results are not printed
	dir, stage string
	p          *printer

	drawings []kiln.Drawing
	found    demoFound
}

func doDemo(c *cobra.Command, dir string, force bool) (err error) {
	if err := demoRoom(dir, force); err != nil {
		return err
	}
	d := &demo{c: c, dir: dir, p: &printer{w: c.OutOrStdout()}}
	d.quiet = &cobra.Command{Use: c.Use}
	d.quiet.SetContext(c.Context())
	d.quiet.SetOut(io.Discard)
	d.quiet.SetErr(c.ErrOrStderr())
	photos := d.file(demoPhotos)
	_, folder := os.Lstat(dir)
	_, before := os.Lstat(photos)
	if err := os.MkdirAll(photos, 0o755); err != nil {
		return outputError(photos, err)
	}
	if d.stage, err = os.MkdirTemp(dir, ".demo-*"); err != nil {
		return outputError(dir, err)
	}
	defer func() {
		if end := c.Context().Err(); end != nil && err != nil {
			err = end // what an interrupted verb says of its files is about those that go now
		}
		if err = errors.Join(err, os.RemoveAll(d.stage)); err == nil {
			return
		}
		if errors.Is(before, os.ErrNotExist) { // photographs go with what could not be made of them
			os.RemoveAll(photos)
		}
		if errors.Is(folder, os.ErrNotExist) {
			os.Remove(dir)
		}
	}()
	d.p.f("A kiln-window flicker sensor, drawn by us: an imager of %d columns × %d rows of three-transistor pixels, row driver, bias, charge pump.\n", kiln.Columns, kiln.Rows)
	for _, s := range []struct {
		what string
		do   func() error
	}{
		{"the drawing", d.draw}, {"photographs", d.photograph}, {"the dossier", d.keep}, {"tracings", d.trace}, {"questions", d.ask},
		{"the circuit", d.extract}, {"what it is", d.recognise}, {"the block map", d.blocks}, {"schematics", d.schematics}, {"simulation", d.simulate},
		{"the report", d.report}, {"the truth", d.compare}, {"files", d.move},
	} {
		if err := c.Context().Err(); err != nil {
			return err
		}
		began := time.Now()
		if err := errors.Join(s.do(), d.p.err); err != nil {
			return err
		}
		fmt.Fprintf(c.ErrOrStderr(), "%6.1f s  %s\n", time.Since(began).Seconds(), s.what)
	}
	exe, err := os.Executable()
	if err != nil {
		exe = ""
	}
	as, kept := ownCall(exe), word(d.file(demoDossier))
	d.p.f("\nTry next:\n  %s open %s\n", as, kept)
	d.p.f("  %s questions %s --kind transistor-or-capacitor\n", as, kept)
	d.p.f("  %s compare %s %s --bulk --tolerance 40%%\n", as, kept, word(d.file(demoTruth)))
	return d.p.err
}

// ownCall is how this program is called, by the file that it runs from: go run makes one of its own, which is on nobody's PATH and gone afterwards.
func ownCall(exe string) string {
	if dir := filepath.Dir(exe); filepath.Base(dir) == "exe" && strings.Contains(dir, "go-build") {
		return "go run ./cmd/undermetal"
	}
	return "undermetal"
}

// demoRoom returns an error where a demo would overwrite what it may not.
func demoRoom(dir string, force bool) error {
	for _, f := range append([]string{demoPhotos}, demoFiles...) {
		f = filepath.Join(dir, f)
		if _, err := os.Lstat(f); !errors.Is(err, os.ErrNotExist) && !force {
			return fmt.Errorf("%s is there already\n    give another folder, or --force to overwrite it", f)
		}
	}
	if by, held := dossier.HeldBy(filepath.Join(dir, demoDossier)); held {
		return fmt.Errorf("%s is held by %s\n    close it there, or give another folder", filepath.Join(dir, demoDossier), by)
	}
	return nil
}

// file is a file of the demo, where it lies in the end.
func (d *demo) file(name string) string { return filepath.Join(d.dir, name) }

// making is the same file while it is made.
func (d *demo) making(name string) string { return filepath.Join(d.stage, name) }

// verb carries out a verb as a user would call it, and returns what it prints.
func (d *demo) verb(c *cobra.Command, args ...string) (string, error) {
	var out bytes.Buffer
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetArgs(args)
	c.SetOut(&out)
	c.SetErr(d.c.ErrOrStderr())
	err := c.ExecuteContext(d.c.Context())
	return out.String(), err
}

// move puts the files in their places; from here on nothing interrupts it.
func (d *demo) move() error {
	old := d.file(demoDossier)
	for _, suffix := range []string{"-wal", "-shm", "-journal"} { // of an earlier dossier, which the new one must not take for its own
		if err := os.Remove(old + suffix); err != nil && !errors.Is(err, os.ErrNotExist) {
			return outputError(old+suffix, err)
		}
	}
	for _, f := range demoFiles {
		err := os.Rename(d.making(f), d.file(f))
		if errors.Is(err, os.ErrNotExist) {
			continue // a schematic of what was not recognised
		}
		if err != nil {
			return outputError(d.file(f), err)
		}
	}
	return nil
}

// readTraced runs f on the dossier that is being made.
func (d *demo) readTraced(f func(*dossier.Dossier) error) error {
	return readDossier(d.quiet, d.making(demoDossier), f)
}

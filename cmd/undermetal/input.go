package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/gds"
	"undermetal/layout/geojson"
	"undermetal/layout/stack"
	"undermetal/layout/svg"
	"undermetal/netlist/measure"
)

// format is what a file holds, told by its content.
type format int

const (
	unknownFormat format = iota
	gdsFormat
	dossierFormat
	spiceFormat
	svgFormat
	geojsonFormat
)

// detect tells the format of a file by its first bytes: a GDSII stream begins with a HEADER record of 6 bytes, a dossier
// as every SQLite file, an SVG drawing with an angle bracket, also where gzip compressed it, GeoJSON with a brace;
// anything else that is text is taken for SPICE.
func detect(head []byte) format {
	switch {
	case bytes.HasPrefix(head, []byte{0, 6, 0, 2}):
		return gdsFormat
	case bytes.HasPrefix(head, []byte("SQLite format 3\x00")):
		return dossierFormat
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}) && svg.Known(head):
		return svgFormat
	case len(head) == 0 || bytes.IndexByte(head, 0) >= 0 || bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return unknownFormat
	case svg.Known(head):
		return svgFormat
	case geojson.Known(head):
		return geojsonFormat
	}
	return spiceFormat
}

// input is an opened file.
type input struct {
	*os.File
	name   string // as the caller gave it
	r      *bufio.Reader
	format format
}

// openInput opens a file and tells what it holds.
func openInput(name string) (*input, error) {
	in, err := openAny(name)
	if err == nil && in.format == unknownFormat {
		in.Close()
		return nil, fmt.Errorf("%s: no dossier, drawing (GDSII, SVG, GeoJSON) or SPICE netlist\n    drawings are read as they are, compressed only SVG (.svgz)", in.name)
	}
	return in, err
}

// openAny opens a file, whatever it holds.
func openAny(name string) (*input, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, inputError(name, err)
	}
	in := &input{File: f, name: name, r: bufio.NewReaderSize(f, 1<<16)}
	if in.format, err = in.detect(); err != nil {
		f.Close()
		return nil, err
	}
	return in, nil
}

func (in *input) detect() (format, error) {
	if info, err := in.Stat(); err == nil && info.IsDir() {
		return 0, fmt.Errorf("%s: is a folder, not a drawing or a netlist", in.name)
	}
	head, err := in.r.Peek(4096)
	if err != nil && !errors.Is(err, io.EOF) {
		return 0, inputError(in.name, err)
	}
	return detect(head), nil
}

func inputError(name string, err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s: %w\n    check the name and the folder", name, err)
	}
	return fmt.Errorf("%s: %w", name, err)
}

// reading reads a file until its context ends, so that an interrupt is heard while a large one is read, and shows how far
// it is. end it when the file is read.
type reading struct {
	*bar
	ctx         context.Context
	r           io.Reader
	done, total int // bytes; total 0: only the time is shown
}

func newReading(c *cobra.Command, in *input) *reading {
	what := "reading " + filepath.Base(in.name)
	info, err := in.Stat()
	if err != nil || in.format == spiceFormat { // whose circuits are made when the last byte is read
		return &reading{bar: newClock(c, what), ctx: c.Context(), r: in.r}
	}
	return &reading{bar: newBar(c, what), ctx: c.Context(), r: in.r, total: int(info.Size())}
}

func (r *reading) Read(p []byte) (int, error) {
	if err := r.ctx.Err(); err != nil {
		return 0, err
	}
	n, err := r.r.Read(p)
	if r.done += n; r.total > 0 {
		r.set(r.done, max(r.done, r.total))
	}
	return n, err
}

// drawing is what extract works on.
type drawing struct {
	lib   *layout.Library
	top   *layout.Cell
	stack *stack.Stack

	traced *provenance                   // where its shapes come from; nil: it is exact
	bias   map[layout.Layer]measure.Bias // what the call states of layers, instead of what the dossier says
}

// inputFlags say how an input is taken that does not say it itself.
type inputFlags struct {
	stackName string
	taking
	rules, units bool // an input asked for rules, or for the size of its units
}

func (f *inputFlags) flags(c *cobra.Command) {
	f.mapping.flags(c)
	f.placing.unitFlag(c)
}

// check returns an error where flags make no sense.
func (f *inputFlags) check(c *cobra.Command) error { return f.placing.check(c) }

// checkUsed returns an error where something was said of drawings that no input is, and warns of rules that were about nothing.
func (f *inputFlags) checkUsed(c *cobra.Command) error {
	if said := given(c, []string{"map", "leave-unmapped"}); len(said) > 0 && !f.rules {
		return usagef("--%s is for SVG and GeoJSON drawings: there is none", said[0])
	}
	if len(given(c, []string{"um-per-unit"})) > 0 && !f.units {
		return usagef("--um-per-unit is for SVG drawings: there is none")
	}
	p := &printer{w: c.ErrOrStderr()}
	for _, n := range f.mapping.idle() {
		p.f("warning: %s\n", n)
	}
	return p.err
}

// loadDrawing reads a drawing with a stack, or what was traced in a dossier. top names a cell; empty: the only cell that no
// other places, of a dossier the die, of SVG and GeoJSON the one that is drawn.
func loadDrawing(c *cobra.Command, in *input, f *inputFlags, top string) (*drawing, error) {
	switch in.format {
	case dossierFormat:
		return loadTracing(c, in.name, f.stackName, top)
	case spiceFormat:
		return nil, fmt.Errorf("%s: a netlist has nothing to extract\n    extract wants a dossier or a drawing (GDSII, SVG, GeoJSON)", in.name)
	}
	if f.stackName == "" {
		return nil, usagef("%s is a drawing: --stack FILE says what its layers are\n    built in: %s", in.name, stack.BuiltinPattern)
	}
	st, err := stack.Load(f.stackName)
	if err != nil {
		return nil, err
	}
	if in.format != gdsFormat {
		return loadForeign(c, in, f, st, top)
	}
	from := newReading(c, in)
	lib, report, err := gds.Read(filepath.Base(in.name), from, gds.ForStack(st))
	from.end()
	if err != nil {
		return nil, err
	}
	printReport(c.ErrOrStderr(), in.name, report)
	cell, err := pickTop(in.name, lib, top)
	if err != nil {
		return nil, err
	}
	return &drawing{lib: lib, top: cell, stack: st}, nil
}

// loadForeign reads an SVG or GeoJSON drawing.
func loadForeign(c *cobra.Command, in *input, f *inputFlags, st *stack.Stack, top string) (*drawing, error) {
	f.rules, f.units = true, f.units || in.format == svgFormat
	f.taking.stack = st
	if err := f.mapping.check(st); err != nil {
		return nil, err
	}
	f.noShot = true
	d, err := f.take(c, in)
	if err != nil {
		return nil, err
	}
	p := &printer{w: c.ErrOrStderr()}
	for _, text := range d.left {
		p.f("%s: left out: %s\n", in.name, text)
	}
	for _, n := range d.notes {
		p.f("%s: %s\n", in.name, n)
	}
	if top != "" {
		if d.top, err = pickTop(in.name, d.lib, top); err != nil {
			return nil, err
		}
	}
	return &drawing{lib: d.lib, top: d.top, stack: st}, p.err
}

// loadTracing reads the drawing of a dossier. A stack that is given stands in for the dossier's own.
func loadTracing(c *cobra.Command, name, stackName, top string) (d *drawing, err error) {
	if stackName != "" {
		return nil, usagef("%s has a stack of its own: leave --stack out\n    undermetal stack set %s %s replaces it", name, name, stackName)
	}
	err = readDossier(c, name, func(dos *dossier.Dossier) error {
		d, err = tracingOf(dos, name, top)
		return err
	})
	return d, err
}

// tracingOf reads the drawing of a dossier that is open.
func tracingOf(dos *dossier.Dossier, name, top string) (*drawing, error) {
	st, err := dos.Stack()
	if err != nil {
		return nil, err
	}
	lib, origins, err := dos.Excerpt(st.LayerNames()...)
	if err != nil {
		return nil, err
	}
	d := &drawing{lib: lib, top: lib.Cells[0], stack: st}
	if d.traced, err = newProvenance(dos, st, origins); err != nil {
		return nil, err
	}
	if top != "" {
		d.top, err = pickTop(name, lib, top)
	}
	return d, err
}

// printReport says what of a stream was left out or taken differently.
func printReport(w io.Writer, name string, r *gds.Report) {
	for _, n := range r.Notes {
		fmt.Fprintf(w, "%s: %s (%d times, first at byte %d, cell %s)\n", name, n.Text, n.Count, n.Offset, n.Cell)
	}
	var pairs []string
	for _, s := range r.Skipped {
		var what []string
		if s.Shapes > 0 {
			what = append(what, counted(s.Shapes, "shape"))
		}
		if s.Labels > 0 {
			what = append(what, counted(s.Labels, "text"))
		}
		pairs = append(pairs, fmt.Sprintf("%s (%s)", s.Pair, strings.Join(what, ", ")))
	}
	if len(pairs) > 0 {
		fmt.Fprintf(w, "%s: left out what the stack does not name: %s\n", name, someNames(pairs))
	}
}

// counted says how many of a thing there are.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}

func pickTop(file string, lib *layout.Library, top string) (*layout.Cell, error) {
	if top != "" {
		if c := lib.Cell(top); c != nil {
			return c, nil
		}
		return nil, fmt.Errorf("%s: there is no cell %q\n    it has %s", file, top, someNames(cellNames(lib.Cells)))
	}
	tops := lib.Tops()
	switch len(tops) {
	case 0:
		return nil, fmt.Errorf("%s: holds no cell", file)
	case 1:
		return tops[0], nil
	}
	return nil, usagef("%s: %d cells are placed by no other; say which with --top\n    %s", file, len(tops), someNames(cellNames(tops)))
}

func cellNames(cells []*layout.Cell) []string {
	names := make([]string, len(cells))
	for i, c := range cells {
		names[i] = c.Name
	}
	return names
}

// someNames lists names, the first few of many.
func someNames(names []string) string {
	const most = 12
	if len(names) > most {
		return strings.Join(names[:most], ", ") + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return strings.Join(names, ", ")
}

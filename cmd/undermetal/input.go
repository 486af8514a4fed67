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
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/spice"
)

// format is what a file holds, told by its content.
type format int

const (
	unknownFormat format = iota
	gdsFormat
	spiceFormat
)

// detect tells the format of a file by its first bytes: a GDSII stream begins with a HEADER record of 6 bytes; anything
// that is text is taken for SPICE.
func detect(head []byte) format {
	switch {
	case bytes.HasPrefix(head, []byte{0, 6, 0, 2}):
		return gdsFormat
	case len(head) == 0 || bytes.IndexByte(head, 0) >= 0 || bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		return unknownFormat
	}
	return spiceFormat
}

// openInput opens a file and tells what it holds.
func openInput(name string) (*os.File, *bufio.Reader, format, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, nil, 0, inputError(name, err)
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, nil, 0, fmt.Errorf("%s: is a folder, not a drawing or a netlist", name)
	}
	r := bufio.NewReaderSize(f, 1<<16)
	head, err := r.Peek(512)
	if err != nil && !errors.Is(err, io.EOF) {
		f.Close()
		return nil, nil, 0, inputError(name, err)
	}
	kind := detect(head)
	if kind == unknownFormat {
		f.Close()
		return nil, nil, 0, fmt.Errorf("%s: neither a GDSII stream nor a SPICE netlist\n    a drawing is read as GDSII, not compressed", name)
	}
	return f, r, kind, nil
}

func inputError(name string, err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return fmt.Errorf("%s: %w", name, err)
}

// untilDone reads until its context ends, so that an interrupt is heard while a large file is read.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u untilDone) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	return u.r.Read(p)
}

// drawing is what extract works on.
type drawing struct {
	lib   *layout.Library
	top   *layout.Cell
	stack *stack.Stack
}

// loadDrawing reads a GDSII stream with a stack. top names a cell; empty: the only cell that no other places.
func loadDrawing(c *cobra.Command, name, stackName, top string) (*drawing, error) {
	if stackName == "" {
		return nil, usagef("%s is a drawing: --stack FILE says what its layers are\n    built in: %s", name, strings.Join(stack.Builtins(), ", "))
	}
	st, err := stack.Load(stackName)
	if err != nil {
		return nil, err
	}
	f, r, kind, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if kind != gdsFormat {
		return nil, fmt.Errorf("%s: a netlist has nothing to extract\n    extract wants a drawing (GDSII)", name)
	}
	lib, report, err := gds.Read(filepath.Base(name), untilDone{c.Context(), r}, gdsMap(st))
	if err != nil {
		return nil, err
	}
	for _, n := range report.Notes {
		fmt.Fprintf(c.ErrOrStderr(), "%s: %s (%d times, first at byte %d, cell %s)\n", name, n.Text, n.Count, n.Offset, n.Cell)
	}
	cell, err := pickTop(name, lib, top)
	if err != nil {
		return nil, err
	}
	return &drawing{lib, cell, st}, nil
}

func gdsMap(st *stack.Stack) *gds.Map {
	m := &gds.Map{Layers: st.LayerNames(), Shapes: map[gds.Pair]layout.Layer{}, Labels: map[gds.Pair]layout.Layer{}}
	for i, l := range st.Layers {
		for _, p := range l.GDS {
			m.Shapes[gds.Pair(p)] = layout.Layer(i)
		}
		for _, p := range l.Labels {
			m.Labels[gds.Pair(p)] = layout.Layer(i)
		}
	}
	return m
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

// runExtract extracts a drawing with a progress bar.
func runExtract(c *cobra.Command, d *drawing) (*extract.Result, error) {
	b := newBar(c, "extracting "+d.top.Name)
	defer b.end()
	return extract.Run(c.Context(), d.lib, d.top, d.stack, extract.Options{Progress: b.set})
}

// loadCircuit reads a drawing or a netlist as one flat circuit.
func loadCircuit(c *cobra.Command, name, stackName, top string) (*netlist.Circuit, error) {
	f, r, kind, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if kind == gdsFormat {
		d, err := loadDrawing(c, name, stackName, top)
		if err != nil {
			return nil, err
		}
		res, err := runExtract(c, d)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return res.Circuit, printWarnings(c.ErrOrStderr(), res.Warnings)
	}
	design, err := spice.Read(name, untilDone{c.Context(), r}, spice.ReadOptions{})
	if err != nil {
		return nil, err
	}
	circuit, err := pickCircuit(name, design, top)
	if err != nil {
		return nil, err
	}
	return netlist.Flatten(design, circuit)
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

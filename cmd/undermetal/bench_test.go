package main

import (
	"context"
	"path/filepath"
	"testing"

	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
)

// BenchmarkCompareSRAM holds the drawing of the published SRAM macro against its netlist: the comparison alone, and with
// the reading of both files and the extraction.
func BenchmarkCompareSRAM(b *testing.B) {
	root := corpus(b)
	const cell = "RM_IHPSG13_1P_256x8_c3_bm_bist"
	file := filepath.Join(root, "ihp-sg13g2", cell)
	st := mustStack(b, filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	load := func(b *testing.B) (drawn, want *netlist.Circuit) {
		lib := readLibrary(b, file+".gds", st)
		res, err := extract.Run(context.Background(), lib, lib.Cell(cell), st, extract.Options{})
		if err != nil {
			b.Fatal(err)
		}
		d := readNetlist(b, file+".cdl")
		if want, err = netlist.Flatten(d, d.Circuit(cell)); err != nil {
			b.Fatal(err)
		}
		return res.Circuit, want
	}
	hold := func(b *testing.B, drawn, want *netlist.Circuit) {
		res, err := compare.Compare(context.Background(), drawn, want, compare.DefaultOptions())
		if err != nil {
			b.Fatal(err)
		}
		if !res.Same || res.Matched != 18283 { // the published netlist's count
			b.Fatalf("same is %v, %d devices matched", res.Same, res.Matched)
		}
	}
	b.Run("cell=sram/step=compare", func(b *testing.B) {
		drawn, want := load(b)
		for b.Loop() {
			hold(b, drawn, want)
		}
	})
	b.Run("cell=sram/step=all", func(b *testing.B) {
		for b.Loop() {
			drawn, want := load(b)
			hold(b, drawn, want)
		}
	})
}

package main

import (
	"context"
	"path/filepath"
	"testing"

	"undermetal/netlist/compare"
)

const (
	macroCell    = "RM_IHPSG13_1P_256x8_c3_bm_bist"
	macroDevices = 18283 // the published netlist's count
)

// macro reads the published SRAM macro, drawing and netlist.
func macro(t testing.TB) published {
	root := corpus(t)
	file := filepath.Join(root, "ihp-sg13g2", macroCell)
	st := mustStack(t, filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	return extractCell(t, readLibrary(t, file+".gds", st), macroCell, st, readNetlist(t, file+".cdl"))
}

// TestCorpusMacro: the published SRAM macro is the same as its published netlist, bulks by structure and by name; with one
// device wider it is not.
func TestCorpusMacro(t *testing.T) {
	t.Parallel()
	m := macro(t)
	for _, byName := range []bool{false, true} {
		opt := compare.DefaultOptions()
		opt.BulkByName = byName
		res, err := compare.Compare(context.Background(), m.result.Circuit, m.want, opt)
		if err != nil {
			t.Fatal(err)
		}
		if !res.Same || res.Matched != macroDevices {
			t.Errorf("bulk by name %v: same is %v, %d devices matched, want %d", byName, res.Same, res.Matched, macroDevices)
		}
	}
	m.want.Devices[7000].W *= 1.05
	if res, err := compare.Compare(context.Background(), m.result.Circuit, m.want, compare.DefaultOptions()); err != nil || res.Same {
		t.Errorf("with a wider device it is the same, too (%v)", err)
	}
}

// BenchmarkCompareSRAM holds the macro's drawing against its netlist: the comparison alone, and with the reading of both
// files and the extraction.
func BenchmarkCompareSRAM(b *testing.B) {
	hold := func(b *testing.B, m published) {
		res, err := compare.Compare(context.Background(), m.result.Circuit, m.want, compare.DefaultOptions())
		if err != nil {
			b.Fatal(err)
		}
		if !res.Same || res.Matched != macroDevices {
			b.Fatalf("same is %v, %d devices matched", res.Same, res.Matched)
		}
	}
	b.Run("cell=sram/step=compare", func(b *testing.B) {
		m := macro(b)
		for b.Loop() {
			hold(b, m)
		}
	})
	b.Run("cell=sram/step=all", func(b *testing.B) {
		for b.Loop() {
			hold(b, macro(b))
		}
	})
}

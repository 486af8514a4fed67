package recognise

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// drawnCells extracts the published layouts of a library's cells, and its macro apart.
func drawnCells(t *testing.T, lib string) map[string]*netlist.Circuit {
	dir := filepath.Join(corpus(t), lib)
	st, err := stack.Load(filepath.Join(dir, lib+".stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.gds"))
	if err != nil {
		t.Fatal(err)
	}
	cells := map[string]*netlist.Circuit{}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		l, _, err := gds.Read(name, f, gds.ForStack(st))
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		placed := map[*layout.Cell]bool{}
		for _, c := range l.Cells {
			for _, p := range c.Placements {
				placed[p.Cell] = true
			}
		}
		for _, c := range l.Cells {
			if placed[c] {
				continue
			}
			res, err := extract.Run(context.Background(), l, c, st, extract.Options{})
			if err != nil {
				t.Fatal(err)
			}
			cells[c.Name] = res.Circuit
		}
	}
	return cells
}

// The published layouts, extracted, are recognised as their names say, as their netlists are; and the macro's layout holds its 2,048
// memory cells, as two arrays of 32 × 32.
func TestPublishedLayouts(t *testing.T) {
	for _, lib := range []string{"gf180mcu", "ihp-sg13g2"} {
		cells := drawnCells(t, lib)
		namedRight(t, lib, cells)
		if c := cells["RM_IHPSG13_1P_256x8_c3_bm_bist"]; lib == "ihp-sg13g2" {
			if c == nil {
				t.Fatal("the macro is not there")
			}
			r := find(t, c, Options{})
			count := 0
			for _, f := range r.Fits {
				if f.Pattern.Name == "sram_6t" {
					count++
				}
			}
			if count != 2048 {
				t.Errorf("%d memory cells, want 2048", count)
			}
			macroArrays(t, Arrays(c, r))
		}
	}
}

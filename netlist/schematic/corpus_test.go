package schematic_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
	"undermetal/netlist/schematic"
)

// TestCorpus draws published cells of two libraries: all of them with UNDERMETAL_FULL, else every sixteenth and a flip-flop.
func TestCorpus(t *testing.T) {
	t.Parallel()
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published cells are not here")
	}
	every, cells, drawn := 16, 0, 0
	if os.Getenv("UNDERMETAL_FULL") != "" {
		every = 1
	}
	for _, library := range []string{"gf180mcu", "ihp-sg13g2"} {
		st, err := stack.Load(filepath.Join(root, library, library+".stack.toml"))
		if err != nil {
			t.Fatal(err)
		}
		files, _ := filepath.Glob(filepath.Join(root, library, "*.gds"))
		for _, name := range files {
			if strings.Contains(name, "/RM_") {
				continue // the SRAM macro
			}
			f, err := os.Open(name)
			if err != nil {
				t.Fatal(err)
			}
			lib, _, err := gds.Read(name, f, gds.ForStack(st))
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
			for _, top := range lib.Tops() {
				cells++
				if cells%every != 0 && !strings.HasSuffix(top.Name, "dffrnq_1") {
					continue
				}
				res, err := extract.Run(context.Background(), lib, top, st, extract.Options{})
				if err != nil {
					t.Fatal(err)
				}
				if n := len(res.Circuit.Devices); n == 0 {
					continue // fill cells
				}
				check(t, res.Circuit, schematic.Options{Title: top.Name})
				drawn++
			}
		}
	}
	if drawn < 12 {
		t.Errorf("drawn %d cells", drawn)
	}
}

package check_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

func corpus(t testing.TB) string {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: published cells are not checked")
	}
	return root
}

func readGDS(t testing.TB, name string, st *stack.Stack) *layout.Library {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(filepath.Base(name), f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	return lib
}

// TestPublishedCells looks at cells that were made: design rules forbid outlines that cross themselves, contacts on nothing
// and gates that do not cross their diffusion (common practice), and no rule of a process of 130 or 180 nm lets a gap be as
// narrow as 10 nm.
func TestPublishedCells(t *testing.T) {
	root := corpus(t)
	never := map[string]bool{check.CrossesItself: true, check.ContactOnNone: true, check.GateEndsInside: true, check.NearMiss: true, check.ShortEndCap: true}
	for _, lib := range []struct{ stack, files string }{
		{"gf180mcu/gf180mcu.stack.toml", "gf180mcu/*.gds"},
		{"ihp-sg13g2/ihp-sg13g2.stack.toml", "ihp-sg13g2/sg13g2_stdcell.gds"},
	} {
		st, err := stack.Load(filepath.Join(root, lib.stack))
		if err != nil {
			t.Fatal(err)
		}
		files, err := filepath.Glob(filepath.Join(root, lib.files))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v, %v", lib.files, files, err)
		}
		count := map[string]int{}
		cells := 0
		for _, file := range files {
			l := readGDS(t, file, st)
			for _, top := range l.Tops() {
				cells++
				fs, err := check.Run(context.Background(), l, top, st, check.Options{ToleranceNm: 10})
				if err != nil {
					t.Fatal(err)
				}
				for _, f := range fs {
					if count[f.Code]++; never[f.Code] || count[f.Code] <= 3 {
						t.Logf("%s: %s %s (%d, %d) %s", top.Name, f.Code, st.Layers[f.Layer].Name, f.At.X, f.At.Y, f.Text)
					}
					if never[f.Code] {
						t.Errorf("%s: %s", top.Name, f.Code)
					}
				}
			}
		}
		t.Logf("%s: %d cells, %v", lib.stack, cells, count)
	}
}

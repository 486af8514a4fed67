package question

import (
	"context"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
)

// published returns a file of the corpus; the test is skipped where the corpus is not here.
func published(t testing.TB, name string) string {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: NOTHING IS ASKED about published cells")
	}
	return filepath.Join(root, name)
}

// drawing reads a GDSII file with a stack.
func drawing(t testing.TB, name string, st *stack.Stack) *layout.Library {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(name, f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	return lib
}

func loadStack(t testing.TB, name string) *stack.Stack {
	st, err := stack.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// askCell returns the questions about all structures of a cell, and their devices.
func askCell(t testing.TB, lib *layout.Library, cell *layout.Cell, st *stack.Stack) (*extract.Result, []Question) {
	res, err := extract.Run(context.Background(), lib, cell, st, extract.Options{Facts: true, Workers: 1})
	if err != nil {
		t.Fatalf("%s: %v", cell.Name, err)
	}
	return res, mustAsk(t, res, st, nil, Options{Kinds: []string{TransistorOrCapacitor}, All: true})
}

// TestPublishedCells: of the cells of two libraries whatever the netlist has as a transistor is read as one, but for the plates of
// decoupling cells, which the netlist writes as transistors with source on drain.
func TestPublishedCells(t *testing.T) {
	var libs []*layout.Library
	var stacks []*stack.Stack
	st := loadStack(t, published(t, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	libs, stacks = append(libs, drawing(t, published(t, "ihp-sg13g2/sg13g2_stdcell.gds"), st)), append(stacks, st)
	st = loadStack(t, published(t, "gf180mcu/gf180mcu.stack.toml"))
	files, err := filepath.Glob(published(t, "gf180mcu/*.gds"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no cells: %v", err)
	}
	sort.Strings(files)
	for _, f := range files {
		libs, stacks = append(libs, drawing(t, f, st)), append(stacks, st)
	}
	transistors, right, listed, decaps := map[string]int{}, map[string]int{}, 0, 0
	for i, lib := range libs {
		for _, cell := range lib.Tops() {
			if strings.Contains(cell.Name, "fill_") { // a plate of poly that a supply does not reach: no transistor in the netlist
				continue
			}
			res, qs := askCell(t, lib, cell, stacks[i])
			answered := 0
			for k := range qs {
				q := &qs[k]
				answered += len(q.Devices)
				want := "transistor"
				if strings.Contains(cell.Name, "decap") {
					want = "capacitor"
					decaps++
				}
				of := map[bool]string{true: "ihp-sg13g2", false: "gf180mcu"}[i == 0]
				if want == "transistor" {
					transistors[of] += len(q.Devices)
					if q.Leading().Reading == want {
						right[of] += len(q.Devices)
					}
				} else if q.Leading().Reading != want {
					t.Errorf("%s: want %s\n%s", cell.Name, want, describe(q))
				}
				if strings.Contains(cell.Name, "fillcap") && q.Leading().Reading != want {
					t.Errorf("%s: want %s\n%s", cell.Name, want, describe(q))
				}
				if q.Leading().Reading != want && testing.Verbose() {
					t.Logf("%s: want %s\n%s", cell.Name, want, describe(q))
				}
				if q.Open() {
					listed++
				}
			}
			mos := 0
			for k := range res.Circuit.Devices {
				if res.Circuit.Devices[k].Kind.IsMOS() {
					mos++
				}
			}
			if answered != mos {
				t.Errorf("%s: %d transistors, %d of them in questions", cell.Name, mos, answered)
			}
		}
	}
	for _, of := range []string{"ihp-sg13g2", "gf180mcu"} {
		t.Logf("%s: %d of %d read as transistors, %.2f %%", of, right[of], transistors[of], 100*float64(right[of])/float64(transistors[of]))
		if transistors[of] < 1000 || float64(right[of]) < 0.98*float64(transistors[of]) {
			t.Errorf("%s: too few", of)
		}
	}
	t.Logf("%d structures of decoupling cells; %d questions below %d db", decaps, listed, PlausibleDb)
	if decaps != 4 { // one of either type in each of two cells
		t.Errorf("%d structures of decoupling cells, want 4", decaps)
	}
	if listed > 60 {
		t.Errorf("%d questions about ordinary cells", listed)
	}
}

// TestPublishedMacro: the SRAM's transistors with source on drain that lie at the edges of rows, with the W and L of what is beside
// them, are dummies; all else are transistors.
func TestPublishedMacro(t *testing.T) {
	st := loadStack(t, published(t, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	lib := drawing(t, published(t, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	res, qs := askCell(t, lib, lib.Tops()[0], st)
	count := map[string]int{}
	open := 0
	for i := range qs {
		q := &qs[i]
		if q.Open() {
			open++
		}
		for _, d := range q.Devices {
			dev := &res.Circuit.Devices[d]
			sides := "two nets"
			if dev.Terminals[netlist.Source] == dev.Terminals[netlist.Drain] {
				sides = "one net"
			}
			count[q.Leading().Reading+" with "+sides]++
		}
		if testing.Verbose() && (q.Open() || q.Leading().Reading != "transistor") {
			t.Log(describe(q))
		}
	}
	t.Logf("%v; %d questions below %d db", count, open, PlausibleDb)
	// The published netlist has 18,283 transistors, 256 of them with source on drain, all in cells at the edges of the array.
	if count["dummy with one net"] != 256 || count["transistor with two nets"] != 18283-256 || len(count) != 2 {
		t.Errorf("%v", count)
	}
}

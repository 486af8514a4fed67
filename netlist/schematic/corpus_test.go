package schematic_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
	"undermetal/netlist/schematic"
)

func TestCorpus(t *testing.T) {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published cells are not here")
	}
	st, err := stack.Load(filepath.Join(root, "gf180mcu/gf180mcu.stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	files, _ := filepath.Glob(filepath.Join(root, "gf180mcu/*.gds"))
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		lib, _, err := gds.Read(name, f, gds.ForStack(st))
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		top := lib.Tops()[0]
		res, err := extract.Run(context.Background(), lib, top, st, extract.Options{})
		if err != nil {
			t.Fatal(err)
		}
		check(t, res.Circuit, schematic.Options{Title: top.Name})
	}
}

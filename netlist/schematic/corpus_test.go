package schematic_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist/compare"
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
		c := res.Circuit
		start := time.Now()
		d, err := schematic.Draw(context.Background(), c, schematic.Options{Title: top.Name})
		if err != nil {
			t.Errorf("%s: %v", top.Name, err)
			continue
		}
		if f := d.Faults(); len(f) > 0 {
			t.Errorf("%s: %d: %v", top.Name, len(f), f[0])
		}
		back := d.Read(c)
		diff, err := compare.Compare(context.Background(), c, back, compare.Options{BulkByName: true})
		if err != nil {
			t.Fatal(err)
		}
		if !diff.Same {
			t.Errorf("%s: not the same: %v", top.Name, diff.Differences)
		}
		if el := time.Since(start); el > time.Second {
			t.Log(top.Name, len(c.Devices), el)
		}
		if dir := os.Getenv("SCH"); dir != "" {
			for i := range d.Sheets {
				o, _ := os.Create(filepath.Join(dir, strings.TrimSuffix(filepath.Base(name), ".gds")+string(rune('0'+i))+".svg"))
				d.WriteSVG(o, i)
				o.Close()
			}
		}
	}
}

package main

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/testdata/ambiguous"
)

// bankCase is a capacitor that looks like many transistors.
const bankCase = "bank of squares, one diffusion, staggered"

// writeAmbiguous writes drawings of testdata/ambiguous that scripts ask about: NAME.gds, with the stack NAME.stack.toml. In
// array.gds the bank lies in a cell that is placed 3 × 2 times.
func writeAmbiguous(dir string) error {
	files := map[string]string{
		"waffle switch":             "waffle",
		bankCase:                    "bank",
		"serpentine without a rule": "serpentine",
	}
	for _, c := range ambiguous.Hand() {
		name, wanted := files[c.Name]
		if !wanted {
			continue
		}
		delete(files, c.Name)
		if err := writeDrawing(dir+"/"+name, c.Library, c.Stack); err != nil {
			return err
		}
		if name != "bank" {
			continue
		}
		box := geom.EmptyRect()
		for _, s := range c.Top.Shapes {
			box = box.Union(s.Polygon.Bounds())
		}
		c.Top.Name = "BANK"
		top := &layout.Cell{Name: "ARRAY", Placements: []layout.Placement{{Cell: c.Top, Name: "B", Transform: geom.Identity, Columns: 3, Rows: 2,
			ColumnExtent: geom.Vec{X: 2 * float64(box.Width()+20000)}, RowExtent: geom.Vec{Y: float64(box.Height() + 20000)}}}}
		c.Library.Cells = []*layout.Cell{top, c.Top}
		if err := writeDrawing(dir+"/array", c.Library, c.Stack); err != nil {
			return err
		}
	}
	if len(files) > 0 {
		return fmt.Errorf("testdata/ambiguous has no drawings %v", files)
	}
	return nil
}

// writeDrawing writes a drawing and its stack.
func writeDrawing(name string, lib *layout.Library, st *stack.Stack) error {
	var b bytes.Buffer
	err := gds.Write(&b, lib, func(l layout.Layer) gds.Pair { return st.Layers[l].GDS[0] }, func(l layout.Layer) gds.Pair {
		return append(st.Layers[l].Labels, st.Layers[l].GDS...)[0]
	})
	if err != nil {
		return err
	}
	if err := os.WriteFile(name+".gds", b.Bytes(), 0o600); err != nil {
		return err
	}
	return os.WriteFile(name+".stack.toml", st.TOML(), 0o600)
}

const ambiguousDir = "../../testdata/ambiguous"

// TestAmbiguousFiles: the drawing that the README asks about is what testdata/ambiguous draws, on a process with 20 nm of gate
// oxide. With -update it is written anew.
func TestAmbiguousFiles(t *testing.T) {
	dir := t.TempDir()
	for _, c := range ambiguous.Hand() {
		if c.Name != bankCase {
			continue
		}
		c.Stack.Process.GateOxideNm = 20
		if err := writeDrawing(dir+"/bank", c.Library, c.Stack); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"bank.gds", "bank.stack.toml"} {
		want, err := os.ReadFile(dir + "/" + name)
		if err != nil {
			t.Fatal(err)
		}
		if *updatePixel {
			if err := os.WriteFile(ambiguousDir+"/"+name, want, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := os.ReadFile(ambiguousDir + "/" + name); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not what is drawn (%v): go test ./cmd/undermetal -run AmbiguousFiles -update writes it", name, err)
		}
	}
}

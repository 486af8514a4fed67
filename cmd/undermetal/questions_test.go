package main

import (
	"bytes"
	"fmt"
	"os"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/testdata/ambiguous"
)

// writeAmbiguous writes drawings of testdata/ambiguous that scripts ask about: NAME.gds, with the stack NAME.stack.toml. In
// array.gds the bank lies in a cell that is placed 3 × 2 times.
func writeAmbiguous(dir string) error {
	files := map[string]string{
		"waffle switch": "waffle",
		"bank of squares, one diffusion, staggered": "bank",
		"serpentine without a rule":                 "serpentine",
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

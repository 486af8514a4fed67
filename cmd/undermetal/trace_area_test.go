package main

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/geom"
)

// TestAreaTop: of a GDSII file with several cells that no other places somebody has to say which, and can.
func TestAreaTop(t *testing.T) {
	t.Chdir(t.TempDir())
	box := func(size int) []layout.Shape {
		return []layout.Shape{{Polygon: geom.Polygon{geom.Box(0, 0, size, size).Ring()}}}
	}
	lib := &layout.Library{Name: "L", Layers: []string{"metal2"}, Cells: []*layout.Cell{{Name: "A", Shapes: box(3000)}, {Name: "B", Shapes: box(2000)}}}
	var b bytes.Buffer
	pair := func(layout.Layer) gds.Pair { return gds.Pair{Layer: 1} }
	if err := gds.Write(&b, lib, pair, pair); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("two.gds", b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		args, out, err string
	}{
		{"new k.dossier", "", ""},
		{"trace area k.dossier metal2 --from two.gds", "", "two.gds: 2 cells are placed by no other; say which with --top\n    A, B\n"},
		{"trace area k.dossier metal2 --from two.gds --top B", "metal2: 4 µm² from (0, 0) µm to (2, 2) µm\n", ""},
	} {
		var out, errs bytes.Buffer
		run(strings.Fields(tc.args), &out, &errs)
		if !strings.HasSuffix(errs.String(), tc.err) || tc.out != "" && out.String() != tc.out {
			t.Errorf("%s: %s%s", tc.args, &out, &errs)
		}
	}
}

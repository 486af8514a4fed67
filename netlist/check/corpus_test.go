package check_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

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

func TestTry(t *testing.T) {
	root := corpus(t)
	st, err := stack.Load(filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	lib := readGDS(t, filepath.Join(root, "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.gds"), st)
	for _, tol := range []int{10, 50} {
		start := time.Now()
		fs, err := check.Run(context.Background(), lib, lib.Tops()[0], st, check.Options{ToleranceNm: tol})
		if err != nil {
			t.Fatal(err)
		}
		n := map[string][2]int{}
		for _, f := range fs {
			v := n[f.Code]
			v[0]++
			v[1] += f.Count
			n[f.Code] = v
			if v[0] < 4 {
				t.Log(f.Code, st.Layers[f.Layer].Name, f.At, f.Gap, f.Path, f.Count, f.Text)
			}
		}
		t.Log(tol, n, time.Since(start))
	}
}

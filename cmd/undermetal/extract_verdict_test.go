package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// TestExtractVerdict: extract follows the verdicts of a dossier, in all formats that it writes, and tells of those whose
// cell is gone.
func TestExtractVerdict(t *testing.T) {
	ctx := context.Background()
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		t.Fatal(err)
	}
	st.Process.GateOxideNm = 20
	name := filepath.Join(t.TempDir(), "plate.dossier")
	d, err := dossier.Create(ctx, name, st)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(ctx, "draw", func(tx *dossier.Tx) error {
		gone := dossier.Cell{Name: "GONE"}
		if err := tx.AddCell(&gone); err != nil {
			return err
		}
		box := func(layer string, x0, y0, x1, y1 int) error {
			return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: layer, Method: "hand", Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}})
		}
		return errors.Join(box("diffusion", 0, 0, 30000, 30000), box("poly", 10000, 10000, 20000, 20000),
			tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "poly", At: geom.Point{X: 15000, Y: 15000}, Text: "UP"}),
			tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "diffusion", At: geom.Point{X: 5000, Y: 5000}, Text: "DOWN"}),
			tx.AddVerdict(&dossier.Verdict{Cell: dossier.Frame, Layer: "poly", At: geom.Point{X: 12000, Y: 13000}, Kind: "transistor-or-capacitor", Reading: "capacitor"}),
			tx.AddVerdict(&dossier.Verdict{Cell: gone.ID, Layer: "poly", At: geom.Point{X: 1000, Y: 1000}, Kind: "polarity", Reading: "p"}),
			tx.RemoveCell(gone.ID))
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	extracted := func(args ...string) (out, warnings string) {
		var o, e bytes.Buffer
		c := newRoot()
		c.SetArgs(append([]string{"extract", name}, args...))
		c.SetOut(&o)
		c.SetErr(&e)
		if err := c.ExecuteContext(ctx); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, e.String())
		}
		return o.String(), e.String()
	}
	text, warnings := extracted("--json", "-")
	if !strings.Contains(warnings, "verdict-lost") || !strings.Contains(warnings, "GONE") {
		t.Errorf("warnings: %s", warnings)
	}
	var got struct {
		Nets    []struct{ ID, Name string }
		Devices []struct {
			Kind      string
			Terminals map[string]string
			Value     float64
			Unit      string
			Area      float64 `json:"area_um2"`
		}
	}
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	named := map[string]string{}
	for _, n := range got.Nets {
		named[n.ID] = n.Name
	}
	// 100 µm² over 20 nm of oxide at ε0·3.9: 172.66 fF.
	if len(got.Devices) != 1 || got.Devices[0].Kind != "capacitor" || got.Devices[0].Unit != "F" || math.Abs(got.Devices[0].Value-172.657e-15) > 1e-18 || got.Devices[0].Area != 100 ||
		named[got.Devices[0].Terminals["a"]] != "UP" || named[got.Devices[0].Terminals["b"]] != "DOWN" {
		t.Errorf("%s", text)
	}
	if sp, _ := extracted("--spice", "-"); !strings.Contains(sp, "\nC") || strings.Contains(sp, "\nM") || !strings.Contains(sp, "UP DOWN 1.7265") {
		t.Errorf("%s", sp)
	}
	if summary, _ := extracted(); !strings.Contains(summary, "area 100.000 µm², perimeter 40.000 µm") {
		t.Errorf("%s", summary)
	}
}

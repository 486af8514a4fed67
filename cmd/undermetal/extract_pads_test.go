package main

import (
	"encoding/json"
	"errors"
	"reflect"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// TestPadsInJSON: an opening over named metal, and one over nothing.
func TestPadsInJSON(t *testing.T) {
	t.Chdir(t.TempDir())
	st, err := stack.Load("cmos-1p1m")
	if err != nil {
		t.Fatal(err)
	}
	st.Layers = append(st.Layers, stack.Layer{Name: "opening", Role: stack.Pad})
	d, err := dossier.Create(t.Context(), "pads.dossier", st)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "draw", func(tx *dossier.Tx) error {
		box := func(layer string, b geom.Rect) error {
			return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: layer, Method: "hand", Polygon: geom.Polygon{b.Ring()}})
		}
		return errors.Join(box("metal1", geom.Box(-5000, -5000, 85000, 85000)), box("opening", geom.Box(0, 0, 80000, 80000)), box("opening", geom.Box(200000, 10000, 260000, 70000)),
			tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "metal1", At: geom.Point{X: 1000, Y: 1000}, Text: "OUT"}))
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	type pad struct {
		Layer string
		At    [2]float64
		Box   [2][2]float64
		Metal string
		Net   string
	}
	var circuit struct {
		Nets []struct{ ID, Name string }
		Pads []pad
	}
	if err := json.Unmarshal([]byte(said(t, "extract pads.dossier --json -")), &circuit); err != nil {
		t.Fatal(err)
	}
	if len(circuit.Nets) != 1 || circuit.Nets[0].Name != "OUT" {
		t.Fatalf("nets %+v", circuit.Nets)
	}
	want := []pad{{"opening", [2]float64{0, 0}, [2][2]float64{{0, 0}, {80, 80}}, "metal1", circuit.Nets[0].ID}, {"opening", [2]float64{200, 10}, [2][2]float64{{200, 10}, {260, 70}}, "", ""}}
	if !reflect.DeepEqual(circuit.Pads, want) {
		t.Errorf("pads %+v, want %+v", circuit.Pads, want)
	}
}

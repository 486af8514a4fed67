package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// newPlate makes plate.dossier in the current folder: 10 × 10 µm of poly in the middle of 30 × 30 µm of diffusion.
func newPlate(t *testing.T) {
	t.Helper()
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		t.Fatal(err)
	}
	st.Process.GateOxideNm = 20
	d, err := dossier.Create(t.Context(), "plate.dossier", st)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "draw", func(tx *dossier.Tx) error {
		box := func(layer string, b geom.Rect) error {
			return tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: layer, Method: "hand", Polygon: geom.Polygon{b.Ring()}})
		}
		return errors.Join(box("diffusion", geom.Box(0, 0, 30000, 30000)), box("poly", geom.Box(10000, 10000, 20000, 20000)),
			tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "poly", At: geom.Point{X: 15000, Y: 15000}, Text: "UP"}),
			tx.AddLabel(&dossier.Label{Cell: dossier.Frame, Layer: "diffusion", At: geom.Point{X: 5000, Y: 5000}, Text: "DOWN"}))
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
}

// said runs the command and returns what it prints; it must succeed.
func said(t *testing.T, call string) string {
	t.Helper()
	var out, err bytes.Buffer
	if status := run(strings.Fields(call), &out, &err); status != exitDone {
		t.Fatalf("%s: exit status %d\n%s", call, status, err.String())
	}
	return out.String()
}

// redraw makes the poly of plate.dossier another box, or takes it away.
func redraw(t *testing.T, box *geom.Rect) {
	t.Helper()
	d, err := dossier.Open(t.Context(), "plate.dossier")
	if err != nil {
		t.Fatal(err)
	}
	shapes, err := d.Shapes(dossier.Frame)
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "redraw", func(tx *dossier.Tx) error {
		for i := range shapes {
			switch s := &shapes[i]; {
			case s.Layer != "poly":
			case box == nil:
				return tx.RemoveShape(s.ID)
			default:
				s.Polygon = geom.Polygon{box.Ring()}
				return tx.SetShape(s)
			}
		}
		return errors.New("there is no poly")
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
}

// TestAnswerAfterEdits: an answer holds when its shape is drawn a little otherwise, and is listed when that is gone.
func TestAnswerAfterEdits(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlate(t)
	said(t, "questions plate.dossier --answer transistor=capacitor")
	// 100 µm² over 20 nm of oxide at ε0·3.9: 172.66 fF; with 10.2 µm instead of 10 on one side 176.1098 fF.
	if sp := said(t, "extract plate.dossier --spice -"); !strings.Contains(sp, "UP DOWN 1.7265") {
		t.Errorf("%s", sp)
	}
	redraw(t, &geom.Rect{Min: geom.Point{X: 9800, Y: 10000}, Max: geom.Point{X: 20000, Y: 20000}})
	if sp := said(t, "extract plate.dossier --spice -"); !strings.Contains(sp, "UP DOWN 1.76109") {
		t.Errorf("%s", sp)
	}
	if list := said(t, "questions plate.dossier"); !strings.Contains(list, "0 questions open, 1 answered") || strings.Contains(list, "nothing is done with") {
		t.Errorf("%s", list)
	}
	redraw(t, nil)
	list := said(t, "questions plate.dossier")
	if !strings.Contains(list, "v1 ") || !strings.Contains(list, "capacitor, in cell die: nothing of the kind is there any more") {
		t.Errorf("%s", list)
	}
	said(t, "questions plate.dossier --withdraw v1")
	if list := said(t, "questions plate.dossier"); strings.Contains(list, "v1 ") {
		t.Errorf("%s", list)
	}
}

// TestQuestionsJSON: devices and nets are called as extract --json calls them, and a device names its question.
func TestQuestionsJSON(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlate(t)
	var circuit struct {
		Nets    []struct{ ID, Name string }
		Devices []struct{ ID, Question string }
	}
	var qs []map[string]any
	if err := json.Unmarshal([]byte(said(t, "extract plate.dossier --json -")), &circuit); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(said(t, "questions plate.dossier --json -")), &qs); err != nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(qs, func(q map[string]any) bool { return q["kind"] == "transistor-or-capacitor" })
	if k < 0 || len(circuit.Devices) != 1 || !slices.ContainsFunc(qs, func(q map[string]any) bool { return q["id"] == circuit.Devices[0].Question }) {
		t.Fatalf("%d devices, their question %v is none of %v", len(circuit.Devices), circuit.Devices, qs)
	}
	q := qs[k]
	for _, name := range []string{"id", "kind", "at", "layer", "devices", "nets", "shots", "count", "prior_db", "readings", "evidence", "next_look", "verdict", "note"} {
		if _, ok := q[name]; !ok {
			t.Errorf("there is no %q", name)
		}
	}
	if d := q["devices"].([]any); len(d) != 1 || d[0] != circuit.Devices[0].ID {
		t.Errorf("the question %v is about %v; the device is %s", q["id"], d, circuit.Devices[0].ID)
	}
	var names []string
	for _, id := range q["nets"].([]any) {
		for _, n := range circuit.Nets {
			if n.ID == id {
				names = append(names, n.Name)
			}
		}
	}
	if slices.Sort(names); !slices.Equal(names, []string{"DOWN", "UP"}) {
		t.Errorf("nets %v", names)
	}
	sum := 0.0
	for _, r := range q["readings"].([]any) {
		sum += r.(map[string]any)["probability"].(float64)
	}
	if sum < 0.999999 || sum > 1.000001 {
		t.Errorf("the probabilities add up to %g", sum)
	}
}

// TestNextLookOfNoUse: a look that would tell nothing is not told of.
func TestNextLookOfNoUse(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlate(t)
	if text := said(t, "questions plate.dossier --show transistor --prior capacitor=60"); strings.Contains(text, "0.00 bits") || !strings.Contains(text, "next look  none that would tell more") {
		t.Errorf("%s", text)
	}
	if text := said(t, "questions plate.dossier --show transistor --prior capacitor=-45"); !strings.Contains(text, "bits of") {
		t.Errorf("%s", text)
	}
}

// TestInterruptedAnswer: wherever it is interrupted, an answer is kept whole or not at all, and what was kept can be undone.
func TestInterruptedAnswer(t *testing.T) {
	t.Chdir(t.TempDir())
	newPlate(t)
	kept := func() int {
		d, err := dossier.OpenToRead(t.Context(), "plate.dossier")
		if err != nil {
			t.Fatal(err)
		}
		verdicts, err := d.Verdicts()
		if err := errors.Join(err, d.Close()); err != nil {
			t.Fatal(err)
		}
		return len(verdicts)
	}
	for n := int64(0); ; n = n*5/4 + 1 {
		left := new(atomic.Int64)
		left.Store(n)
		var out bytes.Buffer
		status := runContext(countdown{t.Context(), left}, strings.Fields("questions plate.dossier --answer transistor=capacitor"), &out, &out)
		if status == exitDone {
			if kept() != 1 || n < 5 {
				t.Errorf("%d answers are kept after %d looks at the context", kept(), n)
			}
			break
		}
		if status != exitFailed {
			t.Fatalf("exit status %d\n%s", status, out.String())
		}
		if kept() == 1 {
			if !strings.Contains(out.String(), "undermetal undo") {
				t.Errorf("an answer is kept, and nobody says so:\n%s", out.String())
			}
			said(t, "undo plate.dossier")
		}
		if kept() != 0 {
			t.Fatalf("%d answers are kept", kept())
		}
	}
	if text := said(t, "check plate.dossier"); !strings.Contains(text, "sound") {
		t.Errorf("%s", text)
	}
}

// TestOdds: odds are written to one or two digits. 10·log10(9) = 9.54, of 35 15.44, of 350 25.44.
func TestOdds(t *testing.T) {
	for db, want := range map[float64]string{0: "1:1", 9.54: "9:1", -9.54: "1:9", 15.44: "35:1", 25.44: "350:1", 3.01: "2:1", 1.76: "1.5:1", 60: "over 10000:1", -60: "under 1:10000", 39.9: "9800:1"} {
		if got := odds(db); got != want {
			t.Errorf("%g dB is %s, want %s", db, got, want)
		}
	}
}

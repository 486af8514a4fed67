package dossier

import (
	"path/filepath"
	"reflect"
	"testing"
)

// TestBlocksOfSchema2: a block that an older program kept is supposed, and of no diagram; undo goes across the step.
func TestBlocksOfSchema2(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	newest := steps
	t.Cleanup(func() { steps = newest })
	steps = steps[:2]
	d := create(t, path)
	edit(t, d, "block", func(tx *Tx) error {
		_, err := tx.exec("INSERT INTO block (name, polygon, reason) VALUES (?, ?, ?)", "pump", packPolygon(square(1, 2, 5)), "it's zigzag")
		return err
	})
	edit(t, d, "no block", func(tx *Tx) error { return tx.RemoveBlock(1) })
	d.Close()
	steps = newest

	d = reopen(t, path)
	if _, err := d.Undo(t.Context()); err != nil {
		t.Fatal(err)
	}
	want := []Block{{ID: 1, Name: "pump", Polygon: square(1, 2, 5), Reason: "it's zigzag", Status: Supposed}}
	if all, err := d.Blocks(); err != nil || !reflect.DeepEqual(all, want) {
		t.Error(all, err)
	}
	for _, undo := range []bool{true, false, false, true} {
		step := d.Redo
		if undo {
			step = d.Undo
		}
		if _, err := step(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if all, err := d.Blocks(); err != nil || !reflect.DeepEqual(all, want) {
		t.Error(all, err)
	}
	d.Close()
	checked(t, path)
}

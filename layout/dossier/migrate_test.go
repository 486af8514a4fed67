package dossier

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// laterStep is what a later program might do to a file: a column more, and a table made anew.
func laterStep() step {
	later := append([]table(nil), journaled()...)
	for i := range later {
		if later[i].name == "note" {
			later[i].columns = append(append([]string(nil), later[i].columns...), "mood")
		}
	}
	return step{addColumn("note", "mood", "TEXT", "'calm'") + `
CREATE TABLE cell_new (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE CHECK (name <> '')) STRICT;
INSERT INTO cell_new SELECT id, name FROM cell;
DROP TABLE cell;
ALTER TABLE cell_new RENAME TO cell;
`, later}
}

// withStep lets the program know one schema more, until the test ends.
func withStep(t *testing.T, s step) {
	old := steps
	steps = append(append([]step(nil), steps...), s)
	t.Cleanup(func() { steps = old })
}

// TestMigrates: a step that a later program might bring takes an old file along, whole or not at all, with what its
// journal remembers; until then the file stays what it was.
func TestMigrates(t *testing.T) {
	ctx := t.Context()
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "first", func(tx *Tx) error {
		return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddNote(&Note{Cell: Frame, Text: "old"}), tx.AddNote(&Note{Cell: 2, Text: "in A"}))
	})
	edit(t, d, "second", func(tx *Tx) error { return tx.RemoveNote(1) })
	d.Close()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	copied := filepath.Join(t.TempDir(), "b.dossier")
	if err := os.WriteFile(copied, before, 0o666); err != nil {
		t.Fatal(err)
	}

	now := Version()
	for name, bad := range map[string]struct{ sql, want string }{
		"a table that is there": {"CREATE TABLE note (x);", fmt.Sprintf("schema %d to %d", now, now+1)},
		"a lost row":            {"DELETE FROM cell WHERE id = 2;", "1 rows refer to what is not there"},
	} {
		t.Run(name, func(t *testing.T) {
			withStep(t, step{bad.sql, journaled()})
			if _, err := Open(ctx, path); err == nil || !strings.Contains(err.Error(), bad.want) {
				t.Error(err)
			}
		})
	}
	reopen(t, path).Close() // still of the schema that it had

	withStep(t, laterStep())
	if _, err := OpenToRead(ctx, copied); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("a dossier of schema %d, to be brought to %d: undermetal compact does that", now, now+1)) {
		t.Error(err)
	}
	later := reopen(t, copied)
	mood, err := one(later.reads, nil, "SELECT mood || ' ' || text FROM note", scanString)
	if err != nil || mood != "calm in A" {
		t.Error(mood, err)
	}
	if err := later.Edit(ctx, "nowhere", func(tx *Tx) error { return tx.AddLabel(&Label{Cell: 99, Layer: "poly", Text: "x"}) }); err == nil || !strings.Contains(err.Error(), "it refers to a cell") {
		t.Errorf("references are not enforced after a migration: %v", err)
	}
	for _, want := range []string{"second", "first"} {
		if what, err := later.Undo(ctx); err != nil || what != want {
			t.Fatal(what, err)
		}
	}
	if what, err := later.Redo(ctx); err != nil || what != "first" {
		t.Fatal(what, err)
	}
	mood, err = one(later.reads, nil, "SELECT group_concat(mood || ' ' || text) FROM note", scanString)
	if err != nil || mood != "calm old,calm in A" {
		t.Error(mood, err)
	}
	if findings, err := later.Check(ctx, func(int, int) {}); err != nil || len(findings) > 0 {
		t.Error(findings, err)
	}
	later.Close()

	steps = steps[:now]
	if _, err := Open(ctx, copied); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("a dossier of schema %d, made by a newer undermetal; this one knows %d", now+1, now)) {
		t.Error(err)
	}
}

package dossier

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/geom"
)

var update = flag.Bool("update", false, "write testdata anew")

// TestNoDossier: what is none, or not one that can be trusted, is refused with a reason, and not touched.
func TestNoDossier(t *testing.T) {
	dir := t.TempDir()
	made := func(name string, statements ...string) string {
		path := filepath.Join(dir, name)
		d, err := Create(t.Context(), path, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		d.Close()
		db, err := sql.Open("sqlite3", path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		for _, s := range statements {
			if _, err := db.Exec(s); err != nil {
				t.Fatal(s, err)
			}
		}
		return path
	}
	written := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		return path
	}
	whole, err := os.ReadFile(made("whole.dossier"))
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]string{
		filepath.Join(dir, "none.dossier"): "no such file",
		dir:                                "not a file",
		written("empty", nil):              "no dossier",
		written("text", []byte(strings.Repeat("hello, world\n", 1000))):                          "not an SQLite file",
		written("cut", whole[:len(whole)/2]):                                                     "damaged",
		made("other", "PRAGMA application_id = 1"):                                               "no dossier",
		made("newer", "PRAGMA user_version = 99"):                                                fmt.Sprintf("made by a newer undermetal; this one knows %d", Version()),
		made("zero", "PRAGMA user_version = 0"):                                                  "which there never was",
		made("trigger", "CREATE TRIGGER evil AFTER INSERT ON note BEGIN DELETE FROM shape; END"): "trigger evil is not one of a dossier",
		made("view", "CREATE VIEW v AS SELECT 1"):                                                "view v is not one",
		made("missing", "DROP TRIGGER note_journal_delete"):                                      "trigger note_journal_delete is missing",
	} {
		before, _ := os.ReadFile(path)
		for _, how := range []func(context.Context, string) (*Dossier, error){Open, OpenToRead} {
			d, err := how(t.Context(), path)
			if err == nil {
				d.Close()
			}
			if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), filepath.Base(path)) {
				t.Errorf("%s: %v, want %q", path, err, want)
			}
		}
		if after, _ := os.ReadFile(path); string(after) != string(before) {
			t.Errorf("%s was changed", path)
		}
		if files, _ := filepath.Glob(path + "?*"); len(files) > 0 && path != dir {
			t.Errorf("left behind: %q", files)
		}
	}
}

// TestDamage: bytes changed at random, or a file cut off at random, are noticed when it is opened or checked, or what is
// read is right; nothing panics. (A byte that no value uses may well go unnoticed.)
func TestDamage(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	addShot(t, d, "one", 700, 700)
	edit(t, d, "draw", func(tx *Tx) error {
		for i := range 200 {
			if err := tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(i*10, i, 5), Method: "hand"}); err != nil {
				return err
			}
		}
		return nil
	})
	d.Close()
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(5, 6))
	noticed := 0
	const rounds = 60
	for i := range rounds {
		data := append([]byte(nil), whole...)
		if i%4 == 0 {
			data = data[:rnd.IntN(len(data))]
		} else {
			for range 1 + rnd.IntN(200) {
				data[rnd.IntN(len(data))] ^= byte(1 + rnd.IntN(255))
			}
		}
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		d, err := Open(t.Context(), path)
		if err != nil {
			noticed++
			continue
		}
		if findings, err := d.Check(t.Context(), func(int, int) {}); err != nil || len(findings) > 0 {
			noticed++
		}
		d.Shapes(Frame)
		d.Undo(t.Context())
		d.Close()
		for _, suffix := range []string{"-wal", "-shm"} {
			os.Remove(path + suffix)
		}
	}
	if noticed < rounds*8/10 {
		t.Errorf("%d of %d damaged files were noticed", noticed, rounds)
	}
}

// TestJournalIsData: a journal that somebody filled with statements runs none of them.
func TestJournalIsData(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "one", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "keep me"}) })
	for _, tc := range []struct{ set, want string }{
		{"tbl = 'note; DROP TABLE shape'", "speaks of a table"},
		{"tbl = 'sqlite_schema'", "speaks of a table"},
		{"after = '1,1,0,0,load_extension(''x'')'", "journal is damaged"},
		{"after = '2,1,0,0,''x'''", "the key of row 1 of note is 2"},
		{"after = '1,1'", "2 values for the 5 columns"},
	} {
		for _, s := range []string{"SAVEPOINT s", "UPDATE change SET " + tc.set} {
			if _, err := d.writer.Exec(s); err != nil {
				t.Fatal(err)
			}
		}
		tx := &Tx{reads: reads{ctx: t.Context(), q: d.writer, of: d}}
		if _, err := tx.changes(1, true); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s: %v", tc.set, err)
		}
		if _, err := d.writer.Exec("ROLLBACK TO s; RELEASE s"); err != nil {
			t.Fatal(err)
		}
	}
	if what, err := d.Undo(t.Context()); err != nil || what != "one" {
		t.Error(what, err)
	}
}

// TestOldDossiers: a dossier of each schema version, made when it was the newest, opens, is whole, and holds what was put
// in. go test ./layout/dossier -run OldDossiers -update makes that of the present version.
func TestOldDossiers(t *testing.T) {
	if *update {
		newest := fmt.Sprintf("testdata/v%d.dossier", Version())
		os.Remove(newest)
		d, err := Create(t.Context(), newest, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		s := addShot(t, d, "bare", 300, 20)
		edit(t, d, "draw a pixel", func(tx *Tx) error {
			cell := &Cell{Name: "PIXEL"}
			return errors.Join(tx.AddCell(cell), tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(10, 20, 300), Method: "hand", Shot: s.ID, SigmaNm: 40}),
				tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Columns: 12, Rows: 20, ColumnExtent: geom.Vec{X: 11000}, RowExtent: geom.Vec{Y: 19000}}),
				tx.AddLabel(&Label{Cell: Frame, Layer: "metal1", At: geom.Point{X: 5, Y: 5}, Text: "VDD"}), tx.AddNote(&Note{Cell: Frame, Text: "first"}),
				tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", OutNm: -3, SigmaNm: 12}))
		})
		edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "undone"}) })
		if _, err := d.Undo(t.Context()); err != nil {
			t.Fatal(err)
		}
		d.Close()
	}
	files, err := filepath.Glob("testdata/v*.dossier")
	if err != nil || len(files) != Version() {
		t.Fatalf("%d dossiers for %d versions", len(files), Version())
	}
	for v, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(t.TempDir(), "old.dossier")
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		d := reopen(t, path)
		shapes, err := d.Shapes(2)
		placements, err2 := d.Placements(Frame)
		h, err3 := d.History()
		s, err4 := d.Shot("bare")
		if err := errors.Join(err, err2, err3, err4); err != nil {
			t.Fatal(file, err)
		}
		if len(shapes) != 1 || shapes[0].Polygon.Bounds().Max != (geom.Point{X: 310, Y: 320}) || shapes[0].Shot != s.ID || placements[0].Rows != 20 || len(h) != 3 || !h[2].Undone {
			t.Error(file, shapes, placements, h)
		}
		if biases, err := d.Biases(); err != nil || len(biases) != min(v, 1) || v > 0 && biases[0] != (Bias{1, s.ID, "poly", -3, 12}) { // the first schema has none
			t.Error(file, biases, err)
		}
		if what, err := d.Redo(t.Context()); err != nil || what != "note" {
			t.Error(what, err)
		}
		edit(t, d, "bias", func(tx *Tx) error { return tx.SetBias(&Bias{Shot: s.ID, Layer: "metal1", SigmaNm: 5}) })
		for range 4 { // past all that was done before
			if _, err := d.Undo(t.Context()); err != nil {
				t.Error(file, err)
			}
		}
		d.Close()
		checked(t, path)
	}
}

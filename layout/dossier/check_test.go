package dossier

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/geom"

	"github.com/mattn/go-sqlite3"
)

// TestHostileRows: what a file holds is checked as it is read: no row is believed because it is there. check says what is
// wrong, and the drawing is refused rather than wrong.
func TestHostileRows(t *testing.T) {
	for statement, want := range map[string]string{
		"DELETE FROM cell":                "the die itself is missing",
		"UPDATE placement SET child = 99": "foreign_key_check",
		"INSERT INTO placement SELECT 7, 2, 1, '', 0, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0": "contain itself",
		"UPDATE placement SET rows = -3":                                            "1 × -3 members",
		"UPDATE placement SET magnification = 9e999":                                "numbers must be finite",
		"UPDATE label SET x = 9223372036854775807":                                  "outside the frame",
		"UPDATE label SET cell = 77":                                                "foreign_key_check",
		"UPDATE verdict SET y = -9223372036854775807":                               "outside the frame",
		"UPDATE note SET x = 2000000000":                                            "outside the frame",
		"UPDATE edit SET at = 'notime'":                                             `an edit at the time "notime"`,
		"UPDATE shape SET x0 = 3":                                                   "its box is not that of its polygon",
		"UPDATE shape SET polygon = x'0101'":                                        "a polygon that is damaged",
		"UPDATE traced_area SET polygon = x'00'":                                    "without rings",
		"UPDATE stack SET toml = 'x'":                                               "stack",
		"UPDATE recording SET edit = 1":                                             "an edit is under way",
		"UPDATE change SET after = after || ',1'":                                   "values for the",
		"UPDATE shot SET width = 0":                                                 "header says 0 × 10 pixels",
		"UPDATE shot SET height = 10000000":                                         "a photograph has 1 to 262144 a side",
		"UPDATE shot SET channels = 9":                                              "9 channels",
		"UPDATE shot SET depth = 7":                                                 "samples of 7 bits",
		"UPDATE shot SET orientation = 77":                                          "orientation 77",
		"UPDATE shot SET gamma = 0":                                                 "gamma 0",
		"UPDATE registration SET rms_px = 9e999":                                    "numbers must be finite",
		"UPDATE registration SET parameters = x'000000000000F07F'":                  "numbers must be finite",
		"UPDATE registration SET kind = 'cubic'":                                    `the registration of shot 1: "cubic" is no kind of map`,
		"UPDATE control_point SET px = 9e999":                                       "numbers must be finite",
		"UPDATE bias SET sigma_nm = -1":                                             "a bias of 2 ± -1 nm on poly",
		"UPDATE bias SET out_nm = 0, sigma_nm = 0":                                  "a bias of 0 ± 0 nm on poly",
		"UPDATE bias SET layer = ''":                                                "is of no layer",
		"UPDATE bias SET shot = 99":                                                 "foreign_key_check(bias)",
		"UPDATE block SET polygon = x'0101'":                                        `block "b": a polygon that is damaged`,
		"UPDATE block SET status = 'x'":                                             "a status of \"x\"",
		"UPDATE outline SET polygon = x'00'":                                        "the outline of the die: a polygon without rings",
		"DELETE FROM tile":                                                          `shot "s": tile 0, 0 of level 0 is missing`,
		"DROP TRIGGER note_journal_insert":                                          "trigger note_journal_insert is missing",
		"DELETE FROM shape_box":                                                     "1 shapes are not where the index says",
		"DELETE FROM shape_box_rowid":                                               "index of shapes:",
		"INSERT INTO tile VALUES (7, 99, x'00')":                                    "foreign_key_check(tile)",
		"INSERT INTO original VALUES (7, 99, x'00')":                                "foreign_key_check(original)",
		"INSERT INTO change VALUES (77, 99, 'note', 1, NULL, NULL)":                 "foreign_key_check(change)",
	} {
		path := filepath.Join(t.TempDir(), "a.dossier")
		d, err := Create(t.Context(), path, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		s := addShot(t, d, "s", 10, 10)
		edit(t, d, "draw", func(tx *Tx) error {
			return errors.Join(tx.SetControlPoints(s.ID, []ControlPoint{{PX: 1}}), tx.SetRegistration(&Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{2, 0, 0, 0, 2, 0}}),
				tx.AddCell(&Cell{Name: "A"}), tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(1, 2, 5)}),
				tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Columns: 1, Rows: 1}), tx.AddLabel(&Label{Cell: Frame, Layer: "poly", Text: "x"}),
				tx.AddVerdict(&Verdict{Cell: Frame}), tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", OutNm: 2, SigmaNm: 5}), tx.AddNote(&Note{Cell: Frame}), tx.AddBlock(&Block{Name: "b", Polygon: square(0, 0, 9)}), tx.SetOutline(square(0, 0, 9)), tx.AddArea(&Area{Layer: "poly", Polygon: square(0, 0, 9)}))
		})
		d.Close()
		db, err := sql.Open("sqlite3", path)
		if err == nil {
			_, err = db.Exec(statement)
		}
		if err != nil {
			t.Fatal(statement, err)
		}
		db.Close()
		d, err = OpenToCheck(t.Context(), path)
		if err != nil {
			t.Errorf("%s: %v", statement, err)
			continue
		}
		findings, err := d.Check(t.Context(), func(int, int) {})
		if err != nil || !strings.Contains(strings.Join(findings, "\n"), want) {
			t.Errorf("%s: %q, %v, want %q", statement, findings, err, want)
		}
		d.Close()
		if d, err := Open(t.Context(), path); err == nil { // must not panic
			if lib, err := d.Library(); err == nil {
				lib.CheckCycles()
			}
			d.Undo(t.Context())
			d.Close()
		}
	}
}

// TestCheckGoesOn: a page that is damaged keeps nobody from learning what else is.
func TestCheckGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	edit(t, d, "write", func(tx *Tx) error {
		return errors.Join(tx.AddNote(&Note{Cell: Frame, Text: "find this page"}), tx.AddLabel(&Label{Cell: Frame, Layer: "poly", Text: "x", At: geom.Point{X: 1}}))
	})
	d.Close()
	db, err := sql.Open("sqlite3", path)
	if err == nil {
		_, err = db.Exec("UPDATE label SET cell = 77")
	}
	if err != nil {
		t.Fatal(err)
	}
	var page, size int
	if err := db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'note'").Scan(&page); err != nil {
		t.Fatal(err)
	}
	if err := db.QueryRow("PRAGMA page_size").Scan(&size); err != nil {
		t.Fatal(err)
	}
	db.Close()
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte(strings.Repeat("rubbish", 100)), int64((page-1)*size)); err != nil {
		t.Fatal(err)
	}
	f.Close()
	if _, err := Open(t.Context(), path); err == nil || !strings.Contains(err.Error(), "undermetal check says more") {
		t.Error(err)
	}
	d, err = OpenToCheck(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	findings, err := d.Check(t.Context(), func(int, int) {})
	text := strings.Join(findings, "\n")
	if err != nil || !strings.Contains(text, "integrity_check") || !strings.Contains(text, "foreign_key_check") || !strings.Contains(text, "damaged") {
		t.Errorf("%v\n%s", err, text)
	}
}

// TestCheckOlder: a file of an older schema is checked by what it must be, and is not called damaged for its age.
func TestCheckOlder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	d.Close()
	now := Version()
	withStep(t, laterStep())
	check := func() ([]string, error) {
		d, err := OpenToCheck(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer d.Close()
		return d.Check(t.Context(), func(int, int) {})
	}
	if findings, err := check(); len(findings) > 0 || err == nil || !strings.Contains(err.Error(), fmt.Sprintf("its pages and references are sound, what it holds was not looked at: a dossier of schema %d, to be brought to %d: undermetal compact does that", now, now+1)) {
		t.Error(findings, err)
	}
	db, err := sql.Open("sqlite3", path)
	if err == nil {
		_, err = db.Exec("UPDATE note SET cell = 77")
	}
	if err != nil {
		t.Fatal(err)
	}
	db.Close()
	if findings, err := check(); err != nil || len(findings) != 1 || !strings.Contains(findings[0], "foreign_key_check(note)") {
		t.Error(findings, err)
	}
	if db, err = sql.Open("sqlite3", path); err == nil {
		_, err = db.Exec("UPDATE note SET cell = 1")
	}
	if err != nil {
		t.Fatal(err)
	}
	db.Close()
}

// TestCheckStopped: a check that is interrupted finds nothing, whichever of the two contexts ends.
func TestCheckStopped(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	for n := 1; ; n += everyLook() {
		findings, err := d.Check(&countdown{t.Context(), int64(n)}, func(int, int) {})
		if len(findings) > 0 {
			t.Fatalf("stopped at the %d-th look: %q", n, findings)
		}
		if err == nil {
			break
		}
	}
}

// TestMovedOnce: what happened to a file that was moved is said once, however many pass it on.
func TestMovedOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	if err := os.Rename(path, path+"2"); err != nil {
		t.Fatal(err)
	}
	err := d.failed(d.failed(sqlite3.Error{Code: sqlite3.ErrIoErr}))
	if err == nil || strings.Count(err.Error(), "it was moved or removed") != 1 {
		t.Error(err)
	}
	if err := os.Rename(path+"2", path); err != nil {
		t.Fatal(err)
	}
}

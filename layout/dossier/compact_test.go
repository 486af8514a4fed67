package dossier

import (
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestCompactKeepsBuild: a pyramid that is being built outlasts Compact.
func TestCompactKeepsBuild(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	picture, err := d.NewPicture(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.Compact(t.Context(), true); err != nil {
		t.Fatal(err)
	}
	if n, err := d.count("SELECT count(*) FROM picture WHERE id = ?", picture); err != nil || n != 1 {
		t.Error(n, err)
	}
}

// TestCompactShrinks: the file is smaller while it is still open, and the folder for temporary files is again what it was.
func TestCompactShrinks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	for i := range 3 {
		if err := addNoise(t.Context(), d, fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
	}
	edit(t, d, "remove", func(tx *Tx) error { return tx.RemoveShot(1) })
	d.Close()
	d = reopen(t, path)
	before, after, err := d.Compact(t.Context(), true)
	if err != nil || after > before*3/4 {
		t.Errorf("%d to %d bytes, %v", before, after, err)
	}
	if info, err := os.Stat(path); err != nil || info.Size() != after {
		t.Error(info, err)
	}
	if info, err := os.Stat(path + "-wal"); err != nil || info.Size() != 0 {
		t.Error("what was written beside it is still there:", info, err)
	}
	var folder string
	if err := d.writer.QueryRow("PRAGMA temp_store_directory").Scan(&folder); !errors.Is(err, sql.ErrNoRows) {
		t.Errorf("temporary files are in %q, %v", folder, err)
	}
	d.Close()
}

// TestCompactKeptFrom: where somebody reads what the file was, or it is stopped, what was done is said and what was not.
func TestCompactKeptFrom(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	err := d.Moment(func(m Moment) error {
		if _, err := m.Notes(); err != nil {
			return err
		}
		_, _, err := d.Compact(t.Context(), false)
		return err
	})
	if err == nil || !strings.Contains(err.Error(), "what nothing needs is gone, but the file is not as small as it can be: it takes its new size once nobody reads it any more: somebody is reading it") {
		t.Error(err)
	}
	stopped := 0
	for n := 1; ; n++ {
		_, _, err := d.Compact(&countdown{t.Context(), int64(n)}, true)
		if err == nil {
			break
		}
		if strings.Contains(err.Error(), "beside it") {
			t.Error(err)
		}
		if strings.Contains(err.Error(), "the journal is gone, but the file is not as small as it can be: it was stopped, and compact goes on with it") {
			stopped++
		}
	}
	if stopped == 0 {
		t.Error("never stopped while the file was written anew")
	}
}

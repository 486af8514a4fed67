package dossier

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout/shot"
)

// TestRemovedShot: undo brings a removed shot back with its pyramid; Compact keeps that as long as the journal stands.
func TestRemovedShot(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 900, 900)
	edit(t, d, "trace", func(tx *Tx) error {
		return errors.Join(tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(0, 0, 9), Shot: s.ID}), tx.SetControlPoints(s.ID, []ControlPoint{{PX: 1}}), tx.SetRegistration(&Registration{Shot: s.ID, Kind: "affine", Parameters: []float64{2, 0, 0, 0, 2, 0}}),
			tx.SetBias(&Bias{Shot: s.ID, Layer: "poly", SigmaNm: 5}))
	})
	before := dump(t, d.reads)
	edit(t, d, "remove", func(tx *Tx) error { return tx.RemoveShot(s.ID) })
	if shapes, err := d.Shapes(Frame); err != nil || len(shapes) != 1 || shapes[0].Shot != 0 {
		t.Error(shapes, err)
	}
	if biases, err := d.Biases(); err != nil || len(biases) > 0 {
		t.Error(biases, err)
	}
	if _, _, err := d.Compact(t.Context(), false); err != nil {
		t.Fatal(err)
	}
	if what, err := d.Undo(t.Context()); err != nil || what != "remove" {
		t.Fatal(what, err)
	}
	if dump(t, d.reads) != before {
		t.Error("another dossier")
	}
	if _, err := d.Tile(s, 0, 3, 3); err != nil {
		t.Error(err)
	}
	if what, err := d.Redo(t.Context()); err != nil || what != "remove" {
		t.Fatal(what, err)
	}
	if _, _, err := d.Compact(t.Context(), true); err != nil {
		t.Fatal(err)
	}
	if n, err := d.count("SELECT count(*) FROM tile"); err != nil || n != 0 {
		t.Error(n, err)
	}
	if _, err := d.Undo(t.Context()); !errors.Is(err, ErrNothing) || err.Error() != "there is nothing to undo" {
		t.Error(err)
	}
}

// TestHolder: who comes second reads, and is told who holds the dossier; once that is closed, the next may edit.
func TestHolder(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	second, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if why := second.ReadOnly(); !strings.Contains(why, fmt.Sprintf("process %d", os.Getpid())) || !strings.Contains(why, "it is held by") {
		t.Error(why)
	}
	if err := second.Edit(t.Context(), "x", nil); !errors.Is(err, ErrReadOnly) || !strings.Contains(err.Error(), "held by") {
		t.Error(err)
	}
	edit(t, d, "seen by both", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "hello"}) })
	if notes, err := second.Notes(); err != nil || len(notes) != 1 {
		t.Error(notes, err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	third, err := Open(t.Context(), path)
	if err != nil || third.ReadOnly() != "" {
		t.Fatal(third.ReadOnly(), err)
	}
	if err := second.Close(); err != nil {
		t.Fatal(err)
	}
	if err := third.Close(); err != nil {
		t.Fatal(err)
	}
	if by := (Holder{}).String(); by != "another program" {
		t.Error(by)
	}
}

// TestReadOnlyPlace: in a folder or a file that cannot be written to, a dossier is read and says why it cannot be edited.
func TestReadOnlyPlace(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("root may write anywhere: read-only folders are NOT checked by this run; TestReadOnlyMount does where it can")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "a.dossier")
	d := create(t, path)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	defer os.Chmod(dir, 0o755)
	readsOnly(t, path, "its folder cannot be written to (open "+path+"-holder: permission denied)")
	os.Chmod(dir, 0o755)
}

func readsOnly(t *testing.T, path, why string) {
	t.Helper()
	d, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if !strings.Contains(d.ReadOnly(), why) {
		t.Errorf("%q, want %q", d.ReadOnly(), why)
	}
	if _, err := d.Cells(); err != nil {
		t.Error(err)
	}
	if err := d.Edit(t.Context(), "x", nil); !errors.Is(err, ErrReadOnly) {
		t.Error(err)
	}
}

// TestCreateNeverOverwrites: not even an empty file, and it leaves none beside.
func TestCreateNeverOverwrites(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.dossier")
	if err := os.WriteFile(path, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(t.Context(), path, builtin(t)); !errors.Is(err, fs.ErrExist) {
		t.Error(err)
	}
	if _, err := Create(t.Context(), filepath.Join(dir, "none", "a.dossier"), builtin(t)); err == nil {
		t.Error("made in a folder that is not there")
	}
	files, _ := os.ReadDir(dir)
	if len(files) != 1 {
		t.Error(files)
	}
}

// TestUnfinishedPicture: tiles of a broken-off build are gone at the next opening; those of a shot stay.
func TestUnfinishedPicture(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	s := addShot(t, d, "one", 300, 300)
	picture, err := d.NewPicture(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := d.AddTiles(t.Context(), picture, []shot.Tile{{Data: []byte{1}}, {Level: 1, Data: []byte{2}}}); err != nil {
		t.Fatal(err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	d = reopen(t, d.Path)
	if n, err := d.count("SELECT count(*) FROM tile"); err != nil || n != tilesOf(300, 300) || n != 5 {
		t.Error(n, err)
	}
	if _, err := d.Tile(s, 1, 0, 0); err != nil {
		t.Error(err)
	}
	if _, err := d.Tile(s, 1, 1, 0); err == nil || !strings.Contains(err.Error(), "tile 1, 0 of level 1 is missing") {
		t.Error(err)
	}
	p2, err := d.NewPicture(t.Context())
	if err == nil {
		err = d.DropPicture(t.Context(), p2)
	}
	if n, _ := d.count("SELECT count(*) FROM picture"); err != nil || n != 1 {
		t.Error(n, err)
	}
}

// TestOriginal: a file comes back as it was; one that was changed in the dossier is noticed.
func TestOriginal(t *testing.T) {
	for _, size := range []int{0, 1, pieceBytes - 1, pieceBytes, pieceBytes + 1, 9*pieceBytes + 5} {
		d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
		file := make([]byte, size)
		for i := range file {
			file[i] = byte(i * i >> 7)
		}
		s := addShot(t, d, "one", 3, 3)
		var heard int64
		sum, err := d.AddOriginal(t.Context(), s.picture, bytes.NewReader(file), func(n int64) { heard = n })
		if want := sha256.Sum256(file); err != nil || heard != int64(size) || sum != hex.EncodeToString(want[:]) {
			t.Fatal(size, heard, sum, err)
		}
		if err := d.WriteOriginal(s, io.Discard); err == nil || !strings.Contains(err.Error(), "not in the dossier but at /photos/one.tif") {
			t.Error(err)
		}
		s.SHA256, s.Linked = sum, false
		edit(t, d, "keep", func(tx *Tx) error { return tx.SetShot(s) })
		var b bytes.Buffer
		if err := d.WriteOriginal(s, &b); err != nil || !bytes.Equal(b.Bytes(), file) {
			t.Error(size, b.Len(), err)
		}
		s.SHA256 = strings.Repeat("00", 32)
		if err := d.WriteOriginal(s, io.Discard); err == nil || !strings.Contains(err.Error(), "it is damaged") {
			t.Error(err)
		}
	}
}

// TestReadersDuringEdits: readers see whole edits only, and none waits for an edit to end.
func TestReadersDuringEdits(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	done := make(chan error)
	go func() {
		for i := range 60 {
			err := d.Edit(context.Background(), "pair", func(tx *Tx) error {
				for range 2 {
					if err := tx.AddNote(&Note{Cell: Frame, Text: fmt.Sprint(i)}); err != nil {
						return err
					}
				}
				if i == 30 { // a reader in the middle of an edit
					if notes, err := d.Notes(); err != nil || len(notes) != 60 {
						return fmt.Errorf("%d notes, %v", len(notes), err)
					}
				}
				return nil
			})
			if err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for {
		notes, err := d.Notes()
		if err != nil || len(notes)%2 != 0 {
			t.Fatal(len(notes), err)
		}
		select {
		case err := <-done:
			if err != nil {
				t.Error(err)
			}
			return
		default:
		}
	}
}

// TestCancelled: a context that ends leaves nothing of an edit.
func TestCancelled(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	ctx, cancel := context.WithCancel(t.Context())
	err := d.Edit(ctx, "x", func(tx *Tx) error {
		if err := tx.AddNote(&Note{Cell: Frame, Text: "x"}); err != nil {
			return err
		}
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Error(err)
	}
	if notes, err := d.Notes(); err != nil || len(notes) != 0 {
		t.Error(notes, err)
	}
	edit(t, d, "afterwards", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "y"}) })
	if h, err := d.History(); err != nil || len(h) != 1 || h[0].What != "afterwards" || h[0].At.IsZero() {
		t.Error(h, err)
	}
}

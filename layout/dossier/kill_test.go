package dossier

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// undoUntilKilled undoes and redoes at random, and says how many edits stand.
func undoUntilKilled(ctx context.Context, path string, _ int) error {
	d, err := Open(ctx, path)
	if err != nil {
		return err
	}
	defer d.Close()
	fmt.Println("open")
	for {
		step := d.Undo
		if rand.IntN(2) == 0 {
			step = d.Redo
		}
		if _, err := step(ctx); errors.Is(err, ErrNothing) {
			continue
		} else if err != nil {
			return err
		}
		n, err := d.count("SELECT count(*) FROM edit WHERE undone = 0")
		if err != nil {
			return err
		}
		fmt.Println("did", n)
	}
}

// TestKilledWhileUndoing: the dossier is as it was after the last step that was acknowledged, or after the one that
// followed; each edit stands whole or not at all.
func TestKilledWhileUndoing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	const edits = 30
	states := []string{dump(t, d.reads)}
	for i := range edits {
		edit(t, d, "draw", func(tx *Tx) error {
			for j := range 3 {
				if err := tx.AddShape(&Shape{Cell: Frame, Layer: "poly", Polygon: square(10*i, 10*j, 5), Method: "hand"}); err != nil {
					return err
				}
			}
			return tx.SetCell(&Cell{ID: Frame, Name: fmt.Sprint("after ", i)})
		})
		states = append(states, dump(t, d.reads))
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	acknowledged := 0
	for range rounds(10, 150) {
		did, said := runChild(t, "undo", path, 0, 0, time.Duration(rand.IntN(60)+5)*time.Millisecond)
		if said != "" {
			t.Fatal(said)
		}
		d := reopen(t, path)
		n, err := d.count("SELECT count(*) FROM edit WHERE undone = 0")
		if err != nil {
			t.Fatal(err)
		}
		if did > 0 {
			acknowledged++
			if n < did-1 || n > did+1 {
				t.Fatalf("%d edits stand; the last step that was acknowledged left %d", n, did)
			}
		}
		if dump(t, d.reads) != states[n] {
			t.Fatalf("not as it was when %d edits stood", n)
		}
		d.Close()
	}
	if acknowledged == 0 {
		t.Error("no child came to do anything")
	}
}

// storeUntilKilled adds shots with their pyramids.
func storeUntilKilled(ctx context.Context, path string, first int) error {
	d, err := Open(ctx, path)
	if err != nil {
		return err
	}
	defer d.Close()
	fmt.Println("open")
	for i := first; ; i++ {
		if err := addNoise(ctx, d, fmt.Sprint("shot ", i)); err != nil {
			return err
		}
		fmt.Println("did", i)
	}
}

// TestKilledWhileStoring: a shot is there with its whole pyramid or not at all. What was broken off stays while the
// dossier is only read, and is gone once it was opened to be edited.
func TestKilledWhileStoring(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	brokenOff := 0
	next := 1
	for range rounds(10, 150) {
		did, said := runChild(t, "store", path, next, 0, time.Duration(rand.IntN(60)+5)*time.Millisecond)
		if said != "" {
			t.Fatal(said)
		}
		reader, err := OpenToRead(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		n, err := reader.count("SELECT count(*) FROM picture WHERE complete = 0")
		if err != nil || n > 1 {
			t.Fatal(n, err)
		}
		brokenOff += n
		reader.Close()
		checked(t, path)
		d := reopen(t, path)
		shots, err := d.Shots()
		if err != nil {
			t.Fatal(err)
		}
		if did = max(did, next-1); len(shots) != did && len(shots) != did+1 {
			t.Fatalf("%d shots; acknowledged were %d", len(shots), did)
		}
		next = len(shots) + 1
		if n, err := d.count("SELECT count(*) FROM picture"); err != nil || n != len(shots) {
			t.Fatalf("%d pyramids of %d shots, %v", n, len(shots), err)
		}
		d.Close()
	}
	if brokenOff == 0 {
		t.Error("no child was killed in the middle of a pyramid")
	}
}

func migrateOnce(ctx context.Context, path string, _ int) error {
	steps = append(steps, laterStep())
	fmt.Println("open")
	d, err := Open(ctx, path)
	if err != nil {
		return err
	}
	return d.Close()
}

// TestKilledWhileMigrating: the file is of the old schema or of the new one, never between, and nothing is lost.
func TestKilledWhileMigrating(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "write", func(tx *Tx) error {
		for i := range 2000 {
			if err := tx.AddNote(&Note{Cell: Frame, Text: fmt.Sprint(i, strings.Repeat(" long", 100))}); err != nil {
				return err
			}
		}
		return nil
	})
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	old, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer os.WriteFile(path, old, 0o666) // for the check at the end
	withStep(t, laterStep())
	want := ""
	versions := map[int]int{}
	for range rounds(10, 150) {
		if err := os.WriteFile(path, old, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, said := runChild(t, "migrate", path, 0, 0, time.Duration(rand.IntN(20_000))*time.Microsecond); said != "" {
			t.Fatal(said)
		}
		reader, err := OpenToCheck(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		version, err := marks(t.Context(), reader.pool)
		if err != nil {
			t.Fatal(err)
		}
		reader.Close()
		versions[version]++
		d, err := Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		got := dump(t, d.reads) + fmt.Sprint(d.count("SELECT count(*) FROM change WHERE after LIKE '%calm%'"))
		if want == "" {
			want = got
		}
		if got != want || !strings.Contains(got, "1999 long") || !strings.HasSuffix(got, "2000 <nil>") {
			t.Fatal("something was lost")
		}
		if findings, err := d.Check(t.Context(), func(int, int) {}); err != nil || len(findings) > 0 {
			t.Fatal(findings, err)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("found after the kill, by schema: %v", versions)
}

// TestCreateAfterKill: what a killed Create left does not stand in the way, and goes.
func TestCreateAfterKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	for _, left := range []string{unfinishedSuffix, unfinishedSuffix + "-journal", holderSuffix} {
		if err := os.WriteFile(path+left, []byte("half"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if by, held := HeldBy(path); held {
		t.Error("a file that a dead process left holds it: ", by)
	}
	create(t, path) // which sees at the end that nothing is beside it
	if by, held := HeldBy(path); !held || by.PID != os.Getpid() {
		t.Error(by, held)
	}
}

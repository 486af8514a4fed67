package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"testing"
)

// TestInterrupt: work whose context has ended writes nothing and fails.
func TestInterrupt(t *testing.T) {
	t.Chdir(t.TempDir())
	drawnKiln(t, "d")
	must(t, "extract d/kiln.gds --stack d/kiln.stack.toml --spice d/kiln.sp")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, call := range []string{"extract d/kiln.gds --stack d/kiln.stack.toml --spice x.sp", "compare d/kiln.sp d/kiln.sp"} {
		var stdout, stderr bytes.Buffer
		if status := runContext(ctx, strings.Fields(call), &stdout, &stderr); status != exitFailed || !strings.Contains(stderr.String(), "interrupted") || stdout.Len() > 0 {
			t.Errorf("%s: exit status %d, printed %q, said %q", call, status, stdout.String(), stderr.String())
		}
	}
	if _, err := os.Stat("x.sp"); err == nil {
		t.Error("an interrupted extract has written its netlist")
	}
}

// TestInterruptedImportSays: an interrupted import says that nothing was stored, and what stores it; the same call does.
func TestInterruptedImportSays(t *testing.T) {
	t.Chdir(t.TempDir())
	drawnKiln(t, "d")
	opening := looksToOpen(t)
	if err := os.Remove("k.dossier"); err != nil {
		t.Fatal(err)
	}
	must(t, "new k.dossier --stack d/kiln.stack.toml")
	said := false
	for n := int64(0); !said && n < 1000; n++ {
		if n == 6 {
			n = max(n, opening-20) // most looks are those of opening
		}
		left := new(atomic.Int64)
		left.Store(n)
		var out bytes.Buffer
		if runContext(countdown{t.Context(), left}, strings.Fields("trace import k.dossier d/kiln.gds"), &out, &out) == exitDone {
			break
		}
		said = strings.Contains(out.String(), "\n    nothing was stored in k.dossier: the same call does it\n")
	}
	if !said {
		t.Error("no interrupted import says what was stored")
	}
	if got := must(t, "history k.dossier"); !strings.Contains(got, "no edits yet") {
		t.Errorf("after interrupted imports: %s", got)
	}
	must(t, "trace import k.dossier d/kiln.gds")
}

// countdown is a context that ends after it was asked some times.
type countdown struct {
	context.Context
	left *atomic.Int64
}

func (c countdown) Err() error {
	if c.left.Add(-1) < 0 {
		return context.Canceled
	}
	return nil
}

// TestInterruptWhileWriting: a signal that comes while a file is written leaves the old file and nothing beside it; one
// that comes while a file is read ends the reading.
func TestInterruptWhileWriting(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("x.sp", []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	c := newRoot()
	c.SetContext(ctx)
	reader := &reading{bar: &bar{}, ctx: ctx, r: strings.NewReader("abc")}
	if n, err := reader.Read(make([]byte, 1)); n != 1 || err != nil {
		t.Errorf("before the interrupt: %d, %v", n, err)
	}
	err := writeTo(c, "x.sp", func(w io.Writer) error {
		cancel()
		_, err := io.WriteString(w, "new")
		return err
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("writeTo: %v", err)
	}
	if n, err := reader.Read(make([]byte, 1)); n != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("after the interrupt: %d, %v", n, err)
	}
	files, _ := os.ReadDir(".")
	if data, _ := os.ReadFile("x.sp"); string(data) != "old" || len(files) != 1 {
		t.Errorf("x.sp holds %q, the folder %v", data, files)
	}
}

// TestWriteFaults: what there is to write is at fault where the file is not, and an old file stays.
func TestWriteFaults(t *testing.T) {
	t.Chdir(t.TempDir())
	c := newRoot()
	c.SetContext(t.Context())
	if err := os.WriteFile("old.tif", []byte("precious"), 0o666); err != nil {
		t.Fatal(err)
	}
	bad := errors.New(`shot "bare": damaged`)
	if err := writeTo(c, "old.tif", func(w io.Writer) error { w.Write([]byte("half")); return bad }); err != bad {
		t.Error(err)
	}
	if text, err := os.ReadFile("old.tif"); string(text) != "precious" || err != nil {
		t.Errorf("%q, %v", text, err)
	}
	if files, _ := os.ReadDir("."); len(files) != 1 {
		t.Errorf("left behind: %v", files)
	}
	if _, err := os.Stat("/dev/full"); err == nil {
		err := writeTo(c, "/dev/full", func(w io.Writer) error { _, err := w.Write([]byte("x")); return fmt.Errorf("row 1: %w", err) })
		if err == nil || !strings.Contains(err.Error(), "/dev/full: cannot write there: no space left on device\n") {
			t.Error(err)
		}
	}
}

// TestNotAdded: what was not tried was not added either.
func TestNotAdded(t *testing.T) {
	for want, err := range map[string]error{
		"one": notAdded([]error{errors.New("one")}, 1, 0),
		"3 of 4 photographs were not added:\n    a: missing\n        check\n    b: no room\n    not tried after it: 1 photograph": notAdded([]error{errors.New("a: missing\n    check"), errors.New("b: no room")}, 4, 1),
	} {
		if err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
	if err := notAdded(nil, 3, 0); err != nil {
		t.Error(err)
	}
}

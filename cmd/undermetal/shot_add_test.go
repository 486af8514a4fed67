package main

import (
	"bytes"
	"image/color"
	"os"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"

	"undermetal/layout/dossier"
)

// TestInterruptedAdd: wherever the adding of a photograph is interrupted, the dossier stays sound, holds the shot whole
// or not at all, and the same call can be given again.
func TestInterruptedAdd(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writePNG("a.png", 700, 600, func(x, y int) color.Color { return color.Gray{uint8(x*y + x)} }); err != nil {
		t.Fatal(err)
	}
	done := false
	for n := int64(0); !done; n += 1 + n/6 {
		var out bytes.Buffer
		os.Remove("k.dossier")
		if status := run([]string{"new", "k.dossier"}, &out, &out); status != exitDone {
			t.Fatal(out.String())
		}
		left := new(atomic.Int64)
		left.Store(n)
		done = runContext(countdown{t.Context(), left}, []string{"shot", "add", "k.dossier", "a.png"}, &out, &out) == exitDone
		d, err := dossier.Open(t.Context(), "k.dossier")
		if err != nil {
			t.Fatal(err)
		}
		shots, err := d.Shots()
		if findings, err2 := d.Check(t.Context(), func(int, int) {}); err != nil || err2 != nil || len(findings) > 0 || len(shots) == 1 != done {
			t.Fatalf("ended at the %d-th look, done: %v: %d shots, %v, %v, %q", n, done, len(shots), err, err2, findings)
		}
		d.Close()
		if !done && !strings.Contains(out.String(), "interrupted") {
			t.Errorf("it says %q", out.String())
		}
		if run([]string{"shot", "add", "k.dossier", "a.png"}, &out, &out) != exitDone {
			t.Fatal(out.String())
		}
		if n > 100000 {
			t.Fatal("it never ends")
		}
	}
	if files, _ := os.ReadDir("."); len(files) != 2 {
		t.Error(files)
	}
}

// TestAddNeedsNoPicture: what is held while a photograph is added goes with its width, not with its area: of 48
// megapixels, which would be 48 MB, a fraction. (The figures for large ones are in DEVELOPERS.md.)
func TestAddNeedsNoPicture(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writePNG("a.png", 2000, 24000, func(x, y int) color.Color { return color.Gray{uint8(x ^ y)} }); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if run([]string{"new", "k.dossier"}, &out, &out) != exitDone {
		t.Fatal(out.String())
	}
	runtime.GC()
	var before runtime.MemStats
	runtime.ReadMemStats(&before)
	var peak atomic.Uint64
	stop, stopped := make(chan bool), make(chan bool)
	go func() {
		defer close(stopped)
		for {
			select {
			case <-stop:
				return
			default:
			}
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			peak.Store(max(peak.Load(), m.HeapAlloc))
		}
	}()
	status := run([]string{"shot", "add", "k.dossier", "a.png", "--link"}, &out, &out)
	close(stop)
	<-stopped
	if status != exitDone {
		t.Fatal(out.String())
	}
	if held := int64(peak.Load()) - int64(before.HeapAlloc); held > 30<<20 {
		t.Errorf("%d MB were held", held>>20)
	}
}

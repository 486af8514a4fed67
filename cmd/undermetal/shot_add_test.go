package main

import (
	"bytes"
	"context"
	"image/color"
	"os"
	"path/filepath"
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
	done, named := false, 0
	opening := looksToOpen(t)
	for n := int64(0); !done; n += 3 {
		if n == 6 {
			n = opening - 20 // most looks are those of opening
		}
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
		if strings.Contains(out.String(), "left half written\n    a.png was not added: the same call adds it; undermetal compact k.dossier gives back the room that it had taken\n") {
			named++
		}
		if run([]string{"shot", "add", "k.dossier", "a.png"}, &out, &out) != exitDone {
			t.Fatal(out.String())
		}
		if n > 100000 {
			t.Fatal("it never ends")
		}
	}
	if named < 5 {
		t.Errorf("%d interrupted calls named the photograph", named)
	}
	if files, _ := os.ReadDir("."); len(files) != 2 {
		t.Error(files)
	}
}

// looksToOpen returns how often the context is asked while a dossier is opened, and no shot found.
func looksToOpen(t *testing.T) int64 {
	must(t, "new k.dossier")
	const many = 1 << 20
	left := new(atomic.Int64)
	left.Store(many)
	var out bytes.Buffer
	if runContext(countdown{t.Context(), left}, []string{"shot", "set", "k.dossier", "none", "--na", "0.9"}, &out, &out) != exitFailed || !strings.Contains(out.String(), `there is no shot "none"`) {
		t.Fatal(out.String())
	}
	return many - left.Load()
}

// TestInterruptedAddStops: after an interrupt no further photograph is tried, nor are those before it told as failures.
func TestInterruptedAddStops(t *testing.T) {
	amongPhotos(t)
	must(t, "new k.dossier")
	ctx, cancel := context.WithCancel(t.Context())
	out := &cancelling{cancel: cancel}
	if status := runContext(ctx, []string{"shot", "add", "k.dossier", "none.png", "ruling.png", "bare.png", "photos"}, out, out); status != exitFailed {
		t.Error(status)
	}
	if got := out.String(); !strings.Contains(got, "bare.png was not added: the same call adds it") || strings.Contains(got, "photographs were not added") {
		t.Error(got)
	}
	if got := must(t, "shot list k.dossier"); !strings.Contains(got, "ruling: ") || strings.Contains(got, "bare: ") {
		t.Error(got)
	}
}

// cancelling ends a context once something is written to it.
type cancelling struct {
	bytes.Buffer
	cancel func()
}

func (c *cancelling) Write(p []byte) (int, error) {
	c.cancel()
	return c.Buffer.Write(p)
}

// TestHeld: a dossier that another holds cannot be edited, and what helps is said.
func TestHeld(t *testing.T) {
	traced(t)
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	var out bytes.Buffer
	status := run([]string{"shot", "set", "k.dossier", "bare", "--na", "0.9"}, &out, &out)
	if status != exitFailed || !strings.Contains(out.String(), "k.dossier cannot be edited now: it is held by ") ||
		!strings.Contains(out.String(), "\n    wait until it is done, or close it there; a copy taken once nobody has it open can be edited") {
		t.Error(status, out.String())
	}
}

// TestTextsOnOneLine: names and other texts have no line breaks and no control characters.
func TestTextsOnOneLine(t *testing.T) {
	traced(t)
	for _, flag := range []string{"step", "objective", "illumination", "date", "note", "name"} {
		for _, text := range []string{"two\nlines", "a\x1b[31m", "a\u2028b", "\u0085"} {
			var out bytes.Buffer
			status := run([]string{"shot", "set", "k.dossier", "bare", "--" + flag, text}, &out, &out)
			if status != exitUsage || !strings.Contains(out.String(), "--"+flag+" ") || !strings.Contains(out.String(), "write it on one line, without control characters") {
				t.Errorf("%s %q: %d, %s", flag, text, status, out.String())
			}
		}
	}
	for file, want := range map[string]string{"a/--v.png": "v", "-.tif": "shot", ".png": "shot", "a\x1b[m.png": "a[m", "a\n.b.jpg": "a.b", "step 2.png": "step 2", "a\xff.png": "a", "- -x.png": "x"} {
		if got := cleanName(strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))); got != want {
			t.Errorf("%q: %q, want %q", file, got, want)
		}
	}
}

// TestAddNeedsNoPicture: what is held while a photograph is added goes with its width, not with its area: of 48
// megapixels, which would be 48 MB, a fraction. (The figures for large ones are in DEVELOPERS.md.)
func TestAddNeedsNoPicture(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := writeGreyPNG("a.png", 2000, 24000, func(x, y int) uint8 { return uint8(x ^ y) }); err != nil {
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

// TestInterruptedCompact: what an interrupted compact --forget has done is said, and it can be given again.
func TestInterruptedCompact(t *testing.T) {
	amongPhotos(t)
	opening := looksToOpen(t)
	must(t, "shot add k.dossier bare.png")
	must(t, "shot remove k.dossier bare")
	said := 0
	for n := int64(1); ; n++ {
		if n == 6 {
			n = max(n, opening-20) // most looks are those of opening
		}
		left := new(atomic.Int64)
		left.Store(n)
		var out bytes.Buffer
		if runContext(countdown{t.Context(), left}, []string{"compact", "k.dossier", "--forget"}, &out, &out) == exitDone {
			break
		}
		gone := must(t, "history k.dossier") == ""
		if told := strings.Contains(out.String(), "the journal is gone, but the file is not as small as it can be: it was stopped, and compact goes on with it"); told {
			said++
		} else if gone && said == 0 {
			t.Errorf("the journal is gone, and it says %q", out.String())
		}
	}
	if said == 0 {
		t.Error("never stopped while the file was written anew")
	}
}

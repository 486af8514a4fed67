//go:build unix

package workbench

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/testdata/pixel"
)

// transistors makes a dossier with rows of transistors in an array, each of ten shapes, wired along the rows.
func transistors(t testing.TB, columns, rows int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "rows.dossier")
	st, err := stack.Parse("pixel.stack.toml", pixel.Stack)
	if err != nil {
		t.Fatal(err)
	}
	d, err := dossier.Create(t.Context(), path, st)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	const pitch = 6000
	err = d.Edit(t.Context(), "draw", func(tx *dossier.Tx) error {
		c := &dossier.Cell{Name: "one"}
		if err := tx.AddCell(c); err != nil {
			return err
		}
		box := func(cell int64, layer string, x0, y0, x1, y1 int) error {
			return tx.AddShape(&dossier.Shape{Cell: cell, Layer: layer, Polygon: geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()}, Method: "hand"})
		}
		for _, s := range []struct {
			layer          string
			x0, y0, x1, y1 int
		}{
			{"diffusion", 500, 1000, 5500, 2500}, {"poly", 2700, 500, 3300, 4500},
			{"contact", 1000, 1500, 1500, 2000}, {"contact", 4500, 1500, 5000, 2000}, {"contact", 2800, 4000, 3200, 4400},
			{"metal1", 800, 1300, 1700, 2200}, {"metal1", 4300, 1300, 5200, 2200}, {"metal1", 0, 3900, pitch, 4600},
			{"via1", 1000, 1500, 1500, 2000}, {"metal2", 800, 0, 1700, pitch},
		} {
			if err := box(c.ID, s.layer, s.x0, s.y0, s.x1, s.y1); err != nil {
				return err
			}
		}
		return tx.AddPlacement(&dossier.Placement{Parent: dossier.Frame, Child: c.ID, Magnification: 1, Columns: columns, Rows: rows,
			ColumnExtent: geom.Vec{X: float64(pitch * (columns - 1))}, RowExtent: geom.Vec{Y: float64(pitch * (rows - 1))}})
	})
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// showDossier is the program that the tests below run in a terminal.
func showDossier(path string) int {
	d, err := dossier.Open(context.Background(), path)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer d.Close()
	if err := Run(context.Background(), d, Options{Pixels: Glyphs}); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// watched is a terminal with a process in it, of which is noted when frames of the picture have come whole.
type watched struct {
	f      *os.File
	frames chan time.Time
	text   chan string // what came
}

// watch starts the workbench on a dossier in a terminal of 200 × 60 cells.
func watch(t testing.TB, path string) *watched {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), "WORKBENCH_TEST=dossier", "WORKBENCH_DOSSIER="+path, "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	w := &watched{frames: make(chan time.Time, 1000), text: make(chan string, 10_000)}
	if w.f, err = pty.StartWithSize(c, &pty.Winsize{Rows: 60, Cols: 200, X: 2000, Y: 1200}); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		b := make([]byte, 1<<16)
		tail := ""
		const end = "\x1b[m" + bringCursor // of what a painter sends
		for {
			n, err := w.f.Read(b)
			now := time.Now()
			s := tail + string(b[:n])
			for range strings.Count(s, end) {
				select {
				case w.frames <- now:
				default:
				}
			}
			tail = ""
			for k := len(end) - 1; k > 0; k-- { // the mark may come in two parts
				if strings.HasSuffix(s, end[:k]) {
					tail = end[:k]
					break
				}
			}
			select {
			case w.text <- string(b[:n]):
			default:
			}
			if err != nil {
				return
			}
		}
	}()
	t.Cleanup(func() {
		c.Process.Kill()
		c.Wait()
		w.f.Close()
		<-done
	})
	return w
}

// quiet waits until nothing has come for a while.
func (w *watched) quiet(d time.Duration) (all string) {
	for {
		select {
		case s := <-w.text:
			all += s
		case <-time.After(d):
			for len(w.frames) > 0 {
				<-w.frames
			}
			return all
		}
	}
}

// strike sends a key that changes the picture, and returns how long it takes until the next frame of it is there. The key must be one that
// changes the picture; another frame that comes first, for another reason, would count.
func (w *watched) strike(key string) (time.Duration, bool) {
	for len(w.frames) > 0 {
		<-w.frames
	}
	start := time.Now()
	w.f.WriteString(key)
	select {
	case at := <-w.frames:
		return at.Sub(start), true
	case <-time.After(20 * time.Second):
		return 0, false
	}
}

// zoom is the n-th key: it looks closer some times and then from further away, so that all of the picture changes with each of them, and
// with two of one kind that are taken at once.
func zoom(n int) string { return "++++----"[n%8 : n%8+1] }

// TestInputWhileReading: with a drawing whose circuit is being read in the background, every key has its frame, and the head says what
// goes on.
func TestInputWhileReading(t *testing.T) {
	w := watch(t, transistors(t, 60, 60))
	said := ""
	for n := range 8 {
		if n == 4 {
			said += w.quiet(time.Second / 2) // so that the last + and the first - are not one frame
		}
		if _, ok := w.strike(zoom(n)); !ok {
			t.Fatalf("key %d has no frame", n)
		}
	}
	if said += w.quiet(time.Second); !strings.Contains(said, "circuit") {
		t.Errorf("nothing is said of the circuit")
	}
	w.f.WriteString("Q")
}

// BenchmarkInput: from a key's being written into the terminal to the frame of 200 × 60 cells that is zoomed: at rest, and
// while the circuit of 190,000 shapes is read again and again. Medians and the 95th of a hundred, in ms; the circuit takes some seconds, so that
// -benchtime 60x is about what fits.
func BenchmarkInput(b *testing.B) {
	path := transistors(b, 140, 136)
	for _, busy := range []bool{false, true} {
		b.Run(fmt.Sprintf("busy=%v", busy), func(b *testing.B) {
			w := watch(b, path)
			if !busy {
				for !strings.Contains(w.quiet(3*time.Second), "\x1b[") { // until all is read
				}
			} else {
				time.Sleep(2 * time.Second)
			}
			var all []float64
			for b.Loop() {
				d, ok := w.strike(zoom(len(all)))
				if !ok {
					b.Fatal("a key has no frame")
				}
				all = append(all, d.Seconds()*1000)
				time.Sleep(30 * time.Millisecond)
			}
			slices.Sort(all)
			at := func(part float64) float64 { return all[min(len(all)-1, int(math.Floor(part*float64(len(all)))))] }
			b.ReportMetric(at(0.5), "ms-median")
			b.ReportMetric(at(0.95), "ms-95%")
			b.ReportMetric(all[len(all)-1], "ms-most")
		})
	}
}

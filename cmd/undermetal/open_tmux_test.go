//go:build unix

package main

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"undermetal/layout/dossier"
)

// mux is a terminal of tmux with a command in it.
type mux struct {
	t      *testing.T
	socket string
}

var muxes atomic.Int64

// inTmux runs a line of the shell in a terminal of columns × rows.
func inTmux(t *testing.T, columns, rows int, line string) *mux {
	t.Helper()
	if _, err := exec.LookPath("tmux"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("no tmux: the workbench is not tried in a terminal")
		}
		t.Skip("no tmux: the workbench is not tried in a terminal")
	}
	m := &mux{t, fmt.Sprintf("undermetal-test-%d-%d", os.Getpid(), muxes.Add(1))}
	t.Cleanup(func() { exec.Command("tmux", "-L", m.socket, "kill-server").Run() })
	m.tmux("-f", "/dev/null", "new-session", "-d", "-x", strconv.Itoa(columns), "-y", strconv.Itoa(rows),
		"env TERM=screen-256color COLORTERM=truecolor LC_ALL=C.UTF-8 sh -c '"+line+"; echo exit status $?; exec sleep 300'")
	return m
}

func (m *mux) tmux(args ...string) string {
	m.t.Helper()
	c := exec.Command("tmux", append([]string{"-L", m.socket}, args...)...)
	c.Env = append(os.Environ(), "LC_ALL=C.UTF-8")
	out, err := c.CombinedOutput()
	if err != nil {
		m.t.Fatalf("tmux %v: %v\n%s", args, err, out)
	}
	return string(out)
}

func (m *mux) screen() string { return m.tmux("capture-pane", "-p") }

// until waits until the screen shows all of some texts.
func (m *mux) until(texts ...string) {
	m.t.Helper()
	m.untilIt(strings.Join(texts, ", "), func(screen string) bool {
		for _, text := range texts {
			if !strings.Contains(screen, text) {
				return false
			}
		}
		return true
	})
}

func (m *mux) untilIt(what string, f func(screen string) bool) {
	m.t.Helper()
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		s := m.screen()
		if f(s) {
			return
		}
		if time.Now().After(end) {
			m.t.Fatalf("waited for %s in vain; shown is\n%s", what, s)
		}
	}
}

// keys strikes keys by their names in tmux.
func (m *mux) keys(names ...string) {
	m.t.Helper()
	m.tmux(append([]string{"send-keys"}, names...)...)
}

// command types a line behind a colon, and waits for what it leads to.
func (m *mux) command(line string, shows ...string) {
	m.t.Helper()
	m.tmux("send-keys", "-l", ":"+line)
	m.until(":" + line)
	m.keys("Enter")
	m.untilIt("the end of :"+line, func(screen string) bool { return !strings.Contains(screen, ":"+line) })
	m.until(shows...)
}

// The codes of what a mouse does (ctlseqs of xterm, SGR mode).
const (
	mousePress   = 0
	mouseDrag    = 32
	mouseRelease = -1
	mouseMove    = 35
	mouseWheel   = 64
)

// mouse sends what a terminal sends for a mouse at a cell, the first being (0, 0).
func (m *mux) mouse(what, x, y int) {
	m.t.Helper()
	end := "M"
	if what == mouseRelease {
		what, end = 0, "m"
	}
	args := []string{"send-keys", "-H"}
	for _, b := range []byte(fmt.Sprintf("\x1b[<%d;%d;%d%s", what, x+1, y+1, end)) {
		args = append(args, fmt.Sprintf("%02x", b))
	}
	m.tmux(args...)
}

var placeShown = regexp.MustCompile(`(-?[0-9.]+), (-?[0-9.]+) µm`)

// at moves the mouse to a cell, and returns the place that the last line says it has, in µm.
func (m *mux) at(x, y int) (um [2]float64) {
	m.t.Helper()
	before := placeShown.FindString(m.screen())
	m.mouse(mouseMove, x, y)
	m.untilIt("another place", func(screen string) bool {
		match := placeShown.FindStringSubmatch(screen)
		if match == nil || match[0] == before {
			return false
		}
		um[0], _ = strconv.ParseFloat(match[1], 64)
		um[1], _ = strconv.ParseFloat(match[2], 64)
		return true
	})
	return um
}

var pxShown = regexp.MustCompile(`(-?[0-9.]+), (-?[0-9.]+) px`)

// cursorTo moves the cursor to a pixel of the photograph by arrows, whose step is 1 px.
func (m *mux) cursorTo(px string) {
	m.t.Helper()
	var want, is [2]float64
	for i, field := range strings.Split(px, ",") {
		want[i], _ = strconv.ParseFloat(field, 64)
	}
	read := func(screen string) bool {
		match := pxShown.FindStringSubmatch(screen)
		if match == nil {
			return false
		}
		is[0], _ = strconv.ParseFloat(match[1], 64)
		is[1], _ = strconv.ParseFloat(match[2], 64)
		return true
	}
	m.untilIt("the cursor's px", read)
	for i, names := range [2][2]string{{"Left", "Right"}, {"Up", "Down"}} {
		by := int(math.Round(want[i] - is[i]))
		name := names[1]
		if by < 0 {
			name, by = names[0], -by
		}
		if by >= 10 {
			m.keys("-N", strconv.Itoa(by/10), "S-"+name)
		}
		if by%10 > 0 {
			m.keys("-N", strconv.Itoa(by%10), name)
		}
	}
	m.untilIt("the cursor at "+px, func(screen string) bool {
		return read(screen) && math.Abs(is[0]-want[0]) <= 0.5 && math.Abs(is[1]-want[1]) <= 0.5
	})
}

// cells returns which cell shows a place, where the view is upright.
func (m *mux) cells() func(x, y float64) (int, int) {
	m.t.Helper()
	a, b := m.at(8, 5), m.at(20, 15)
	return func(x, y float64) (int, int) {
		return int(math.Round(8 + 12*(x-a[0])/(b[0]-a[0]))), int(math.Round(5 + 10*(y-a[1])/(b[1]-a[1])))
	}
}

// pixelDossier is a dossier with two photographs, of which the first is registered.
func pixelDossier(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "pixel.dossier")
	must := func(line string) {
		t.Helper()
		var out strings.Builder
		args := strings.Fields(line)
		for i := range args {
			args[i] = strings.NewReplacer("DOSSIER", path, "PIXEL", pixelDir).Replace(args[i])
		}
		if status := run(args, &out, &out); status != exitDone {
			t.Fatalf("%s: %d\n%s", line, status, out.String())
		}
	}
	must("new DOSSIER --stack PIXEL/pixel.stack.toml")
	must("shot add DOSSIER PIXEL/stripped.png --step stripped")
	must("shot add DOSSIER PIXEL/metal.png --step metal")
	must("shot calibrate DOSSIER stripped --points 161.0,103.4:646.0,117.0 --pitch 8 --pitch-sigma 0.02 --periods 1")
	must("shot register DOSSIER stripped --points PIXEL/stripped.csv")
	return path
}

// shapesOn counts the shapes of a dossier on a layer, and returns the box of the last one, nm.
func shapesOn(t *testing.T, path, layer string) (n int, box [4]int) {
	t.Helper()
	d, err := dossier.OpenToRead(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	lib, err := d.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range lib.Cells {
		for _, s := range c.Shapes {
			if lib.Layers[s.Layer] == layer {
				n++
				b := s.Polygon.Bounds()
				box = [4]int{b.Min.X, b.Min.Y, b.Max.X, b.Max.Y}
			}
		}
	}
	return n, box
}

// TestOpenJourney: in a real terminal, by keys and mouse: a photograph laid on another by four pairs, metal traced, nets seen to
// join and, after undo, to part; all of it is there when the dossier is opened again.
func TestOpenJourney(t *testing.T) {
	t.Parallel()
	path := pixelDossier(t)
	m := inTmux(t, 110, 32, "undermetal open "+path)
	m.until("1 look", "stripped")
	m.keys("2")
	m.until("2 register", "metal")
	m.command("step 1")
	for i, p := range [][2]string{{"1.5,7.3", "118,105"}, {"9.5,7.3", "499,82"}, {"1.5,-0.7", "140,485"}, {"9.5,-0.7", "520,462"}} { // metal.csv, in whole px
		m.command("at " + p[0])
		m.keys("Space")
		m.until("half a pair")
		m.cursorTo(p[1])
		m.keys("Space")
		m.until(fmt.Sprintf("%d pair", i+1))
	}
	m.command("accept", "register shot metal: similarity, 4 control points")
	m.keys("Escape")
	time.Sleep(200 * time.Millisecond) // or tmux makes Alt of Escape and the next key
	m.keys("3")
	m.until("3 trace")
	m.command("layer metal1", "on metal1")
	m.command("rectangle 0.5,1 3,2")
	m.command("at 1,1.5")
	m.command("label LEFT", "net LEFT")
	m.command("rectangle 5,1 7.5,2")
	m.command("at 6,1.5")
	m.command("label RIGHT", "net RIGHT")
	m.command("at 1,1.5", "net LEFT")
	if n, _ := shapesOn(t, path, "metal1"); n != 2 {
		t.Errorf("%d shapes on metal1, want 2", n)
	}

	cell := m.cells()
	m.keys("g") // no snapping: the corners are where the mouse is
	m.until("snapping is off")
	m.keys("r")
	x0, y0 := cell(2.2, 1.8)
	x1, y1 := cell(5.8, 1.2)
	a, b := m.at(x0, y0), m.at(x1, y1)
	m.mouse(mouseMove, x0, y0)
	m.mouse(mousePress, x0, y0)
	for x := x0 + 1; x <= x1; x++ {
		m.mouse(mouseDrag, x, y0+(y1-y0)*(x-x0)/(x1-x0))
	}
	m.mouse(mouseDrag, x1, y1)
	m.mouse(mouseRelease, x1, y1)
	m.untilIt("one net of two names", func(screen string) bool {
		return strings.Contains(screen, "two-names") || !strings.Contains(screen, "net RIGHT") && strings.Contains(screen, "LEFT")
	})
	n, box := shapesOn(t, path, "metal1")
	want := [4]float64{min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])}
	for i := range want {
		if math.Abs(float64(box[i])-1000*want[i]) > 1 { // what is said is rounded to nm
			t.Errorf("drawn from %v to %v µm, stored as %v nm", a, b, box)
			break
		}
	}
	if n != 3 {
		t.Errorf("%d shapes on metal1, want 3", n)
	}
	m.keys("F4")
	m.untilIt("the list of joined nets", func(screen string) bool { return strings.Contains(screen, "nets") && nets(screen) == 1 })
	m.keys("F4")
	m.keys("u")
	m.keys("F4")
	m.untilIt("the nets parted", func(screen string) bool { return nets(screen) == 2 })
	m.keys("C-q")
	m.until("exit status 0")
	if n, _ := shapesOn(t, path, "metal1"); n != 2 {
		t.Errorf("after undo and quitting %d shapes on metal1, want 2", n)
	}

	m = inTmux(t, 110, 32, "undermetal open "+path)
	m.until("1 look")
	m.keys("F4")
	m.untilIt("the nets once more", func(screen string) bool { return nets(screen) == 2 })
	m.keys("C-q")
	m.until("exit status 0")
}

// nets counts the rows of the list of nets that name LEFT or RIGHT.
func nets(screen string) (n int) {
	for line := range strings.Lines(screen) {
		_, side, ok := strings.Cut(line, "│")
		if ok && (strings.Contains(side, "LEFT") || strings.Contains(side, "RIGHT")) {
			n++
		}
	}
	return n
}

// TestOpenTwice: who comes second is told who has the dossier, and can look; after the first was killed, what it had saved is
// there and can be edited.
func TestOpenTwice(t *testing.T) {
	t.Parallel()
	path := pixelDossier(t)
	first := inTmux(t, 100, 30, "undermetal open "+path)
	first.until("1 look")
	first.keys("3")
	first.command("layer metal1", "on metal1")
	first.command("rectangle 0.5,1 3,2")
	second := inTmux(t, 100, 30, "undermetal open "+path)
	second.until("1 look", "you can only look")
	second.keys("3")
	second.command("layer metal1", "on metal1")
	second.command("rectangle 4,1 6,2")
	if n, _ := shapesOn(t, path, "metal1"); n != 1 {
		t.Errorf("%d shapes on metal1, want that of the first", n)
	}
	second.keys("C-q")
	second.until("exit status 0")

	holder, held := dossier.HeldBy(path)
	if !held {
		t.Fatal("nobody holds the dossier")
	}
	if err := syscall.Kill(holder.PID, syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(10 * time.Second); held && time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		_, held = dossier.HeldBy(path)
	}
	third := inTmux(t, 100, 30, "undermetal open "+path)
	third.until("1 look")
	third.keys("3")
	third.command("layer metal1", "on metal1")
	third.command("rectangle 4,1 6,2")
	if n, _ := shapesOn(t, path, "metal1"); n != 2 {
		t.Errorf("%d shapes on metal1 after SIGKILL, want 2", n)
	}
	third.keys("C-q")
	third.until("exit status 0")
}

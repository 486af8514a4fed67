//go:build unix

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"golang.org/x/term"
)

// xterm is a program in a real terminal emulator with sixels, on a display that nobody sees. What the program writes goes to the emulator
// and, read as text, to us; what we type goes to the program beside what the emulator answers.
type xterm struct {
	t       *testing.T
	display string
	f       *os.File // the program's terminal

	mu   sync.Mutex
	vt   *vt.Emulator
	text withoutSixels
	last time.Time // something was written

	writing bool // to the emulator
	outer   *os.File
	drawn   chan struct{} // it has answered that it is up to date
}

// withoutSixels leaves out of what a program writes what stands between ESC P and ESC \, and counts these.
type withoutSixels struct {
	n      int
	esc    bool // the last byte was one
	inside bool
}

func (w *withoutSixels) of(b []byte) (out []byte) {
	for _, c := range b {
		switch {
		case w.esc && !w.inside && c == 'P':
			w.inside, w.esc = true, false
			w.n++
			continue
		case w.esc && w.inside && c == '\\':
			w.inside, w.esc = false, false
			continue
		case w.esc && !w.inside:
			out = append(out, '\x1b')
		}
		if w.esc = c == '\x1b'; !w.esc && !w.inside {
			out = append(out, c)
		}
	}
	return out
}

// inXterm starts the program in a folder, in a terminal of columns × rows. It skips where there is no emulator, and fails under CI=true.
func inXterm(t *testing.T, dir string, columns, rows int, args ...string) *xterm {
	t.Helper()
	for _, name := range []string{"Xvfb", "xterm", "import", "convert"} {
		if _, err := exec.LookPath(name); err != nil {
			if os.Getenv("CI") == "true" {
				t.Fatalf("no %s: the workbench is not tried in a real terminal emulator", name)
			}
			t.Skipf("no %s: the workbench is not tried in a real terminal emulator", name)
		}
	}
	x := &xterm{t: t, vt: vt.NewEmulator(columns, rows), drawn: make(chan struct{}, 10)}
	go io.Copy(io.Discard, x.vt) // the emulator's answers count
	t.Cleanup(func() { x.vt.InputPipe().(io.Closer).Close() })
	x.showDisplay(16*columns, 24*rows)
	outer, emulator := x.startXterm(columns, rows)

	size, err := pty.GetsizeFull(outer)
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(args[0], args[1:]...)
	c.Dir = dir
	c.Env = append(os.Environ(), "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	if x.f, err = pty.StartWithSize(c, size); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		c.Process.Kill()
		c.Wait()
		x.f.Close()
		emulator.Process.Kill()
		emulator.Wait()
		outer.Close()
	})
	go x.answers(outer)
	x.outer = outer
	defer x.until("the first picture", func() bool {
		x.mu.Lock()
		defer x.mu.Unlock()
		return x.text.n > 0
	})
	go func() {
		b := make([]byte, 1<<16)
		for {
			n, err := x.f.Read(b)
			x.mu.Lock()
			x.vt.Write(x.text.of(b[:n]))
			x.writing = true
			x.mu.Unlock()
			outer.Write(b[:n]) // the emulator takes its time over sixels
			x.mu.Lock()
			x.writing, x.last = false, time.Now()
			x.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	return x
}

// upToDate is what a terminal answers to "\x1b[5n" when it has dealt with all before it.
const upToDate = "\x1b[0n"

// answers takes what the emulator answers to the program, but what was asked by us.
func (x *xterm) answers(outer *os.File) {
	b := make([]byte, 4096)
	for {
		n, err := outer.Read(b)
		got := b[:n]
		if rest, ours := bytes.CutSuffix(got, []byte(upToDate)); ours {
			got = rest
			x.drawn <- struct{}{}
		}
		x.f.Write(got)
		if err != nil {
			return
		}
	}
}

// settle waits until the program has nothing more to write, and the emulator has drawn it.
func (x *xterm) settle() {
	x.t.Helper()
	for {
		x.idle(time.Second)
		x.mu.Lock()
		before := x.last
		x.mu.Unlock()
		io.WriteString(x.outer, "\x1b[5n")
		select {
		case <-x.drawn:
		case <-time.After(time.Minute):
			x.t.Fatal("xterm does not answer")
		}
		x.mu.Lock()
		same := before == x.last
		x.mu.Unlock()
		if same {
			time.Sleep(200 * time.Millisecond) // the display draws what it was told
			return
		}
	}
}

// showDisplay starts a display.
func (x *xterm) showDisplay(width, height int) {
	x.t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		x.t.Fatal(err)
	}
	defer r.Close()
	c := exec.Command("Xvfb", "-displayfd", "3", "-screen", "0", fmt.Sprintf("%dx%dx24", width, height), "-nolisten", "tcp")
	c.ExtraFiles = []*os.File{w}
	err = c.Start()
	w.Close()
	if err != nil {
		x.t.Fatal(err)
	}
	x.t.Cleanup(func() {
		c.Process.Kill()
		c.Wait()
	})
	number, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		x.t.Fatalf("Xvfb does not begin: %v", err)
	}
	x.display = ":" + strings.TrimSpace(number)
}

// startXterm starts the emulator on a terminal of ours, and returns our side of it.
func (x *xterm) startXterm(columns, rows int) (*os.File, *exec.Cmd) {
	x.t.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		x.t.Fatal(err)
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		x.t.Fatal(err)
	}
	c := exec.Command("xterm", "-ti", "vt340", "-tn", "xterm-256color", "-xrm", "XTerm*maxGraphicSize: 4000x4000", "-xrm", "XTerm*scrollBar: false", "-fa", "DejaVu Sans Mono", "-fs", "11",
		"-bg", "black", "-fg", "grey85", "-b", "4", "-bw", "0", "-geometry", fmt.Sprintf("%dx%d+0+0", columns, rows), "-S"+filepath.Base(slave.Name())+"/3")
	c.Env = append(os.Environ(), "DISPLAY="+x.display, "LANG=C.UTF-8", "LC_ALL=C.UTF-8")
	c.ExtraFiles = []*os.File{master}
	err = c.Start()
	master.Close()
	if err != nil {
		x.t.Fatal(err)
	}
	// It begins with the number of its window.
	if _, err := readLine(slave); err != nil {
		x.t.Fatalf("xterm does not begin: %v", err)
	}
	x.until("xterm's size", func() bool {
		s, err := pty.GetsizeFull(slave)
		return err == nil && int(s.Cols) == columns && int(s.Rows) == rows && s.X > 0
	})
	return slave, c
}

// readLine reads to the end of a line, and no further.
func readLine(r io.Reader) (string, error) {
	var line []byte
	b := make([]byte, 1)
	for {
		if _, err := r.Read(b); err != nil {
			return string(line), err
		}
		if b[0] == '\n' {
			return string(line), nil
		}
		line = append(line, b[0])
	}
}

func (x *xterm) screen() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.vt.String()
}

// until waits for what is to become true.
func (x *xterm) until(what string, f func() bool) {
	x.t.Helper()
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if f() {
			return
		}
		if time.Now().After(end) {
			x.t.Fatalf("waited for %s in vain; shown is\n%s", what, x.screen())
		}
	}
}

// idle waits until nothing goes on in the background, and nothing was written for a while.
func (x *xterm) idle(quiet time.Duration) {
	x.t.Helper()
	x.until("rest", func() bool {
		x.mu.Lock()
		rest := !x.writing && time.Since(x.last) > quiet
		x.mu.Unlock()
		head, _, _ := strings.Cut(x.screen(), "\n")
		return rest && !strings.Contains(head, " …")
	})
}

// keyBytes are what terminals send for keys (ctlseqs of xterm).
var keyBytes = map[string]string{"Enter": "\r", "Esc": "\x1b", "Tab": "\t", "Space": " ", "Backspace": "\x7f", "Delete": "\x1b[3~",
	"Up": "\x1b[A", "Down": "\x1b[B", "Right": "\x1b[C", "Left": "\x1b[D", "PgUp": "\x1b[5~", "PgDn": "\x1b[6~",
	"F1": "\x1bOP", "F2": "\x1bOQ", "F3": "\x1bOR", "F4": "\x1bOS", "F5": "\x1b[15~", "F6": "\x1b[17~", "F7": "\x1b[18~", "F8": "\x1b[19~", "F9": "\x1b[20~",
	"F10": "\x1b[21~", "F11": "\x1b[23~", "F12": "\x1b[24~", "Ctrl+q": "\x11"}

// strike does what a line of the README's walk says: keys by their names, command lines from a colon to Enter, "click X,Y" and "drag X,Y
// X,Y" at places of the die in µm, as the foot shows them.
func (x *xterm) strike(line string) {
	x.t.Helper()
	words, before := strings.Fields(line), x.screen()
	for i := 0; i < len(words); i++ {
		switch w := words[i]; {
		case strings.HasPrefix(w, ":"):
			k := i
			for k < len(words) && words[k] != "Enter" {
				k++
			}
			if k == len(words) {
				x.t.Fatalf("%q: a command line without its Enter", line)
			}
			text := strings.Join(words[i:k], " ")
			x.types(text)
			x.until("the line "+text, func() bool { return strings.Contains(x.screen(), text) })
			x.types("\r")
			x.until("the end of the line "+text, func() bool { return !strings.Contains(x.screen(), text) })
			i = k
		case w == "click":
			i++
			c, r := x.cell(words[i])
			x.mouse(mousePress, c, r)
			x.mouse(mouseRelease, c, r)
		case w == "drag":
			c, r := x.cell(words[i+1])
			c2, r2 := x.cell(words[i+2])
			i += 2
			x.mouse(mousePress, c, r)
			x.mouse(mouseDrag, c2, r2)
			x.mouse(mouseRelease, c2, r2)
		case w == "Esc":
			x.types(keyBytes[w])
			time.Sleep(200 * time.Millisecond) // else it is Alt with the next key
		case keyBytes[w] != "":
			x.types(keyBytes[w])
		default: // a key, or what a command line is asked for
			x.types(w)
		}
	}
	for end := time.Now().Add(3 * time.Second); x.screen() == before && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	x.idle(700 * time.Millisecond)
}

func (x *xterm) types(s string) {
	x.t.Helper()
	if _, err := io.WriteString(x.f, s); err != nil {
		x.t.Fatal(err)
	}
}

func (x *xterm) mouse(what, column, row int) {
	x.t.Helper()
	end := "M"
	if what == mouseRelease {
		what, end = 0, "m"
	}
	x.types(fmt.Sprintf("\x1b[<%d;%d;%d%s", what, column+1, row+1, end))
}

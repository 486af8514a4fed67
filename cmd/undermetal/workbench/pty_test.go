//go:build unix

package workbench

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/charmbracelet/x/ansi"
	"github.com/charmbracelet/x/vt"
	"github.com/creack/pty"
	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/picture"
)

// showFake is the program that the tests below run in a terminal: a fake state, which tells in its foot what it was told.
func showFake() int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	bad := os.Getenv("WORKBENCH_PANIC")
	o := Options{Colours: 1 << 24, Hook: func(where string) {
		if where == bad {
			panic("a mistake made on purpose")
		}
	}}
	switch os.Getenv("WORKBENCH_PIXELS") {
	case "glyphs":
		o.Pixels = Glyphs
	case "kitty":
		o.Pixels = Kitty
	}
	self, err := os.Executable()
	if err != nil {
		return 3
	}
	o.Guard = []string{"/usr/bin/env", "WORKBENCH_TEST=guard", self}
	closed := false
	err = onTerminal(ctx, o, func(tcell.Screen, *picture.Composer, func()) (state, func() error, error) {
		f := newFake()
		f.scene.Bar = os.Getenv("WORKBENCH_BAR") != ""
		bytes := 0
		say := func() {
			f.foot = []desk.Span{{Text: fmt.Sprintf("keys %d, pastes %d of %d bytes, mice %d, picture %d x %d", len(f.keys), len(f.pastes), bytes, len(f.mice), f.size.X, f.size.Y)}}
		}
		f.onKey = func(k desk.Key) {
			switch k.Rune {
			case 'm':
				f.scene.View = f.scene.View.Pan(20, 0)
			case 'p':
				f.page = &desk.Text{Title: "a page", Lines: [][]desk.Span{{{Text: "with a line"}}}}
			case 'P':
				f.page = &desk.Text{Title: "a long page"}
				for range 60 {
					f.page.Lines = append(f.page.Lines, []desk.Span{{Text: strings.Repeat("over all ", 8)}})
				}
			case 'c':
				f.page = nil
			case 'L': // that has the keys: on a narrow screen it lies over the picture
				f.side = layersList()
				f.side.Focus = true
			case 'l':
				if f.side == nil {
					f.side = layersList()
				} else {
					f.side = nil
				}
			case 'X':
				go func() { panic("a mistake of a library") }()
				time.Sleep(time.Minute)
			}
		}
		return &told{f, &bytes, say}, func() error { closed = true; return nil }, nil
	})
	fmt.Fprintf(os.Stderr, "ended: %v, closed %v\n", err, closed)
	if err != nil {
		return 1
	}
	return 0
}

// told is a fake that counts bytes.
type told struct {
	*fake
	bytes *int
	say   func()
}

func (t *told) Paste(s string)    { *t.bytes += len(s); t.fake.Paste(s) }
func (t *told) Foot() []desk.Span { t.say(); return t.fake.Foot() }

// terminalUnder is an emulated terminal with a process in it.
type terminalUnder struct {
	t       *testing.T
	c       *exec.Cmd
	f       *os.File
	answers string // to graphics.Query

	mu      sync.Mutex
	vt      *vt.Emulator
	raw     bytes.Buffer
	sixels  []shownSixel
	kitties [][]byte
	ended   chan error
}

type shownSixel struct {
	x, y int
	data []byte
}

// underTest starts the fake in a terminal of columns × rows, each cell 10 × 20 px.
func underTest(t *testing.T, columns, rows int, answers string, env ...string) *terminalUnder {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	u := &terminalUnder{t: t, answers: answers, vt: vt.NewEmulator(columns, rows), ended: make(chan error, 1), c: exec.Command(self)}
	u.c.Env = append(os.Environ(), append([]string{"WORKBENCH_TEST=show", "TERM=xterm-256color", "COLORTERM=truecolor", "LANG=C.UTF-8", "LC_ALL=C.UTF-8", "TMPDIR=" + t.TempDir()}, env...)...)
	u.vt.RegisterDcsHandler('q', func(_ ansi.Params, data []byte) bool {
		at := u.vt.CursorPosition()
		u.sixels = append(u.sixels, shownSixel{at.X, at.Y, bytes.Clone(data)})
		return true
	})
	u.vt.RegisterApcHandler(func(data []byte) bool { u.kitties = append(u.kitties, bytes.Clone(data)); return true })
	go io.Copy(io.Discard, u.vt) // its own answers are not those of this test
	if u.f, err = pty.StartWithSize(u.c, &pty.Winsize{Rows: uint16(rows), Cols: uint16(columns), X: uint16(10 * columns), Y: uint16(20 * rows)}); err != nil {
		t.Fatal(err)
	}
	u.f = closable(t, u.f)
	read := make(chan struct{})
	go func() {
		defer close(read)
		b := make([]byte, 1<<16)
		for {
			n, err := u.f.Read(b)
			u.mu.Lock()
			u.raw.Write(b[:n])
			u.vt.Write(b[:n])
			asked := u.answers != "" && bytes.Contains(u.raw.Bytes(), []byte("\x1b[c"))
			if asked {
				answers := u.answers
				u.answers = ""
				u.mu.Unlock()
				io.WriteString(u.f, answers)
				u.mu.Lock()
			}
			u.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
	go func() { err := u.c.Wait(); <-read; u.ended <- err }()
	t.Cleanup(func() {
		u.c.Process.Kill()
		u.f.Close()
		u.vt.InputPipe().(io.Closer).Close() // and not vt.Close, which races with the goroutine that reads its answers
	})
	return u
}

// screen is what the terminal shows.
func (u *terminalUnder) screen() string {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.vt.String()
}

// until waits for what is to become true.
func (u *terminalUnder) until(what string, f func() bool) {
	u.t.Helper()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if f() {
			return
		}
		if time.Now().After(end) {
			u.t.Fatalf("waited for %s in vain; shown is\n%s", what, u.screen())
		}
	}
}

func (u *terminalUnder) shows(text string) {
	u.t.Helper()
	u.until(text, func() bool { return strings.Contains(u.screen(), text) })
}

func (u *terminalUnder) types(s string) {
	u.t.Helper()
	if _, err := io.WriteString(u.f, s); err != nil {
		u.t.Fatal(err)
	}
}

// ends waits for the process, and returns its exit status: that of a shell, 128 and the signal.
func (u *terminalUnder) ends() int {
	u.t.Helper()
	select {
	case <-u.ended:
	case <-time.After(20 * time.Second):
		u.t.Fatalf("it does not end; shown is\n%s", u.screen())
	}
	if ws := u.c.ProcessState.Sys().(syscall.WaitStatus); ws.Signaled() {
		return 128 + int(ws.Signal())
	}
	return u.c.ProcessState.ExitCode()
}

// closable returns f so that closing it ends a read that waits: else the terminal stays until something is written to it.
func closable(t *testing.T, f *os.File) *os.File {
	t.Helper()
	fd, err := syscall.Dup(int(f.Fd()))
	if err == nil {
		syscall.CloseOnExec(fd)
		err = errors.Join(syscall.SetNonblock(fd, true), f.Close())
	}
	if err != nil {
		t.Fatal(err)
	}
	return os.NewFile(uintptr(fd), f.Name())
}

// right reports what of the terminal is not as it was before: modes that were set and not unset, the other screen.
func (u *terminalUnder) right() {
	u.t.Helper()
	u.mu.Lock()
	defer u.mu.Unlock()
	raw := u.raw.String()
	for _, mode := range []string{"?1049", "?2004", "?1000", "?1002", "?1003", "?1006", "?9001"} {
		if set, unset := strings.LastIndex(raw, "\x1b["+mode+"h"), strings.LastIndex(raw, "\x1b["+mode+"l"); set > unset {
			u.t.Errorf("mode %s is left set", mode)
		}
	}
	if strings.LastIndex(raw, "\x1b[?25l") > strings.LastIndex(raw, "\x1b[?25h") {
		u.t.Error("the cursor is left hidden")
	}
	if u.vt.IsAltScreen() {
		u.t.Error("the other screen is left shown")
	}
}

const (
	answersPlain = "\x1b[?62;22c"
	answersSixel = "\x1b[?2;0;1000;1000S\x1b[6;20;10t\x1b[?62;4;22c"
	answersKitty = "\x1b_Gi=31;OK\x1b\\\x1b[6;20;10t\x1b[?62;c"
)

// TestQuit: it is shown, tells keys and mouse, and leaves the terminal as it was.
func TestQuit(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	u.shows("picture 160 x 44")
	u.types("ab\x1b[<0;11;6M\x1b[<32;12;7M\x1b[<0;12;7m")
	u.shows("keys 2, pastes 0 of 0 bytes, mice 3")
	u.types("q")
	if status := u.ends(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	u.right()
	if s := u.screen(); !strings.Contains(s, "ended: <nil>, closed true") {
		t.Errorf("said %q", s)
	}
}

// TestTypedBefore: what is typed while the terminal is asked is not lost.
func TestTypedBefore(t *testing.T) {
	u := underTest(t, 80, 24, "ab"+answersPlain+"c")
	u.shows("keys 3")
	u.types("q")
	u.ends()
}

// TestSilent: a terminal that answers nothing is used as one that can nothing.
func TestSilent(t *testing.T) {
	u := underTest(t, 80, 24, "")
	u.shows("picture 160 x 44")
	u.types("q")
	if status := u.ends(); status != 0 {
		t.Errorf("exit status %d", status)
	}
}

// TestPaste: a megabyte that looks like commands is text, and it is quickly there.
func TestPaste(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	u.shows("keys 0")
	text := strings.Repeat("q:\x1b[Aquit\r\n", 1<<20/11)
	u.types("a\x1b[200~" + text + "\x1b[201~b")
	u.shows(fmt.Sprintf("keys 2, pastes 1 of %d bytes", len(text)))
	u.types("q")
	if status := u.ends(); status != 0 {
		t.Errorf("exit status %d", status)
	}
}

// TestSignals: whatever ends it, the terminal is as it was, and the state closed where that is possible.
func TestSignals(t *testing.T) {
	for _, tc := range []struct {
		name   string
		do     func(*terminalUnder)
		env    string
		status int
		said   string
	}{
		{"SIGTERM", func(u *terminalUnder) { u.c.Process.Signal(syscall.SIGTERM) }, "", 1, "ended: terminated signal received, closed true"},
		{"SIGINT", func(u *terminalUnder) { u.c.Process.Signal(syscall.SIGINT) }, "", 1, "ended: interrupt signal received, closed true"},
		{"SIGHUP", func(u *terminalUnder) { u.c.Process.Signal(syscall.SIGHUP) }, "", 1, "ended: the terminal is gone, closed true"},
		{"panic in the loop", func(u *terminalUnder) { u.types("a") }, "WORKBENCH_PANIC=key", 1, "ended: a mistake made on purpose, closed true"},
		{"panic while drawing", func(u *terminalUnder) {}, "WORKBENCH_PANIC=picture", 1, "ended: a mistake made on purpose, closed true"},
		{"panic elsewhere", func(u *terminalUnder) { u.types("X") }, "", 2, "a mistake of the program ended it: panic: a mistake of a library"},
		{"SIGKILL", func(u *terminalUnder) { u.c.Process.Kill() }, "", 128 + 9, "it was killed; what was saved is in the dossier"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			u := underTest(t, 80, 24, answersSixel, "WORKBENCH_X=1", tc.env)
			if tc.env != "WORKBENCH_PANIC=picture" {
				u.shows("keys 0")
			}
			tc.do(u)
			if status := u.ends(); status != tc.status {
				t.Errorf("exit status %d, want %d", status, tc.status)
			}
			u.until(tc.said, func() bool { return strings.Contains(strings.ReplaceAll(u.screen(), "\n", ""), tc.said) })
			u.right()
		})
	}
}

// TestStopped: a terminal that takes nothing any more does not keep it from ending.
func TestStopped(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	u.shows("keys 0")
	u.mu.Lock() // nothing is read from now on
	defer u.mu.Unlock()
	var typed [2]error
	for end := time.Now().Add(2 * time.Second); time.Now().Before(end) && typed[0] == nil; time.Sleep(10 * time.Millisecond) {
		_, typed[0] = io.WriteString(u.f, "m") // another picture each time, more than the device keeps
	}
	typed[1] = u.c.Process.Signal(syscall.SIGTERM)
	for _, err := range typed {
		if err != nil {
			t.Fatal(err)
		}
	}
	gone := make(chan struct{})
	go func() {
		for u.c.Process.Signal(syscall.Signal(0)) == nil {
			time.Sleep(10 * time.Millisecond)
		}
		close(gone)
	}()
	select {
	case <-gone:
	case <-time.After(20 * time.Second):
		out, _ := exec.Command("sh", "-c", fmt.Sprintf("for t in /proc/%d/task/*; do cat $t/wchan; echo; cat $t/syscall; done; ls -l /proc/%d/fd; grep -l %d /proc/*/stat", u.c.Process.Pid, u.c.Process.Pid, u.c.Process.Pid)).CombinedOutput()
		t.Errorf("it waits for the terminal\n%s", out)
	}
}

// TestHangup: the terminal goes away.
func TestHangup(t *testing.T) {
	u := underTest(t, 80, 24, answersPlain)
	u.shows("keys 0")
	u.f.Close()
	if status := u.ends(); status != 1 {
		t.Errorf("exit status %d", status)
	}
}

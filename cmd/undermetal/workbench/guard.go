package workbench

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"runtime/debug"
	"strings"
	"time"

	"golang.org/x/term"
)

// restoring puts a terminal right that was left in the middle of things: modes that tcell sets are unset, the picture is removed,
// colours and cursor are as usual, the screen is the one from before (ctlseqs of xterm, from memory).
const restoring = "\x1b\\" + // the end of whatever was not ended
	"\x1b[?2026l\x1b[?1000l\x1b[?1002l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[?1004l" +
	"\x1b[?9001l\x1b[<u\x1b[>4;0m\x1b[?7h\x1b[?1l\x1b>\x1b[0m\x1b[?25h" +
	"\x1b_Ga=d,d=I,i=1,q=2\x1b\\" + "\x1b[?1049l\r"

// guardDone is what a process says to its guard when all is well.
const guardDone = "undermetal: done\n"

// guardStart is how long a guard may take to begin.
const guardStart = 5 * time.Second

// guard is a process that puts the terminal right should this one end without doing so: by a panic in a goroutine of
// some library, a fatal error of the runtime, or SIGKILL.
type guard struct {
	c    *exec.Cmd
	pipe *os.File
}

// startGuard starts one; it has to be done before anything about the terminal is changed.
func startGuard(command []string) (*guard, error) {
	if len(command) == 0 {
		return &guard{}, nil
	}
	r, w, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	c := exec.Command(command[0], command[1:]...)
	c.Stdin, c.Stderr = r, os.Stderr
	ready, err := c.StdoutPipe()
	if err != nil {
		w.Close()
		return nil, err
	}
	if err := c.Start(); err != nil {
		w.Close()
		return nil, fmt.Errorf("the process that guards the terminal does not start: %w", err)
	}
	begun := make(chan error, 1)
	go func() { _, err := ready.Read(make([]byte, 1)); begun <- err }()
	select {
	case err = <-begun:
	case <-time.After(guardStart):
		err = os.ErrDeadlineExceeded
	}
	if err != nil {
		w.Close()
		c.Process.Kill()
		c.Wait()
		return nil, fmt.Errorf("the process that guards the terminal does not begin: %w", err)
	}
	if err := debug.SetCrashOutput(w, debug.CrashOptions{}); err != nil {
		w.Close()
		c.Wait()
		return nil, err
	}
	return &guard{c, w}, nil
}

// end tells the guard that the terminal is right, and waits for it to go.
func (g *guard) end() {
	if g.c == nil {
		return
	}
	debug.SetCrashOutput(nil, debug.CrashOptions{})
	io.WriteString(g.pipe, guardDone)
	g.pipe.Close()
	g.c.Wait()
}

// Guard is what the guard's process does: it reads what the other one says when it crashes, from in, until that is gone, and then
// puts the terminal right and says on message what happened. It says on ready that it has begun.
func Guard(in io.Reader, ready, message io.Writer) error {
	signal.Ignore(guardIgnores...)
	tty, err := os.OpenFile("/dev/tty", os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer tty.Close()
	before, err := term.GetState(int(tty.Fd()))
	if err != nil {
		return err
	}
	if _, err := ready.Write([]byte{'\n'}); err != nil {
		return err
	}
	said, _ := io.ReadAll(in)
	if bytes.HasSuffix(said, []byte(guardDone)) {
		return nil
	}
	term.Restore(int(tty.Fd()), before)
	io.WriteString(tty, restoring)
	if len(said) == 0 {
		_, err = fmt.Fprintln(message, "undermetal: it was killed; what was saved is in the dossier")
		return err
	}
	first, _, _ := strings.Cut(string(said), "\n")
	name := crashFile(said)
	_, err = fmt.Fprintf(message, "undermetal: a mistake of the program ended it: %s\n    what was saved is in the dossier; %s\n", harmless(first), name)
	return err
}

// crashFile keeps what a process said when it crashed, and says where.
func crashFile(said []byte) string {
	f, err := os.CreateTemp("", "undermetal-crash-*.txt")
	if err != nil {
		return "the account of it could not be written: " + err.Error()
	}
	defer f.Close()
	w := bufio.NewWriter(f)
	w.Write(said)
	if err := w.Flush(); err != nil {
		return "the account of it could not be written: " + err.Error()
	}
	return "an account of it is in " + f.Name()
}

// CrashFile keeps the account of a panic in a file, and says where.
func (p *Panic) CrashFile() string {
	return crashFile(append([]byte(p.Error()+"\n\n"), p.Stack...))
}

// restore puts the terminal right without tcell.
func (t *terminal) restore() {
	stopped := make(chan struct{})
	go func() { // the modes of the device; what holds its lock may never give it back
		t.Tty.Stop()
		close(stopped)
	}()
	select {
	case <-stopped:
	case <-time.After(farewell):
	}
	if f, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0); err == nil {
		f.SetWriteDeadline(time.Now().Add(farewell))
		io.WriteString(f, restoring)
		f.Close()
	}
}

package workbench

import (
	"bytes"
	"errors"
	"io"
	"os"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"
)

// The marks around what is pasted (ctlseqs of xterm, "Bracketed Paste Mode", from memory).
var (
	pasteBegins = []byte("\x1b[200~")
	pasteEnds   = []byte("\x1b[201~")
)

const (
	// mostPaste is how much of one paste is kept, in bytes.
	mostPaste = 4 << 20
	// pasteGap is how long a paste may pause; a terminal that never ends it is not to swallow all keys from then on.
	pasteGap = 2 * time.Second
	// farewell is how long a terminal may take for what puts it right.
	farewell = time.Second
)

// terminal is the device that the screen writes to and reads from. It embeds another one and adds what is needed here: writing by
// several goroutines, which never hangs once the end has come, and pastes that are kept out of the keys.
type terminal struct {
	tcell.Tty

	mu    sync.Mutex
	out   *os.File // instead of Tty, where it is there, so that writing can be given up
	given bool     // it has been given up once

	paste pasteFilter
}

// newTerminal opens the terminal that the process is started from.
func newTerminal() (*terminal, error) {
	tty, err := tcell.NewDevTty()
	if err != nil {
		return nil, err
	}
	t := &terminal{Tty: tty}
	if f, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0); err == nil {
		t.out = f
	}
	return t, nil
}

// Write writes all of b, with nothing of others in between.
func (t *terminal) Write(b []byte) (int, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.out == nil {
		return t.Tty.Write(b)
	}
	n, err := t.out.Write(b)
	if errors.Is(err, os.ErrDeadlineExceeded) && !t.given {
		t.given = true
		discard(t.out)
		t.out.SetWriteDeadline(time.Now().Add(farewell)) // for what puts it right
	}
	return n, err
}

// hurry gives a terminal that takes nothing any more, because it is stopped or gone, a last second; then what is on its way to it is
// dropped, and there is another second for what puts it right.
func (t *terminal) hurry() {
	if t.out != nil {
		t.out.SetWriteDeadline(time.Now().Add(farewell))
	}
}

// room makes room, in a terminal that may take nothing any more, for what is said on it after the end: who writes to it then cannot
// give up. What is on its way is dropped; what puts it right goes once more.
func room() {
	if f, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0); err == nil {
		discard(f)
		f.SetWriteDeadline(time.Now().Add(farewell))
		io.WriteString(f, restoring)
		f.Close()
	}
}

// Close closes the device.
func (t *terminal) Close() error {
	err := t.Tty.Close()
	if t.out != nil {
		t.out.Close()
	}
	return err
}

// Read returns what was typed, of a paste only the marks around it. tcell would make a key event of every rune, and read escape
// sequences in it; taken out here, a megabyte is there at once, and is text whatever is in it.
func (t *terminal) Read(b []byte) (int, error) {
	for {
		if n := t.paste.take(b); n > 0 {
			return n, nil
		}
		n, err := t.Tty.Read(b)
		if n > 0 {
			t.paste.feed(b[:n], time.Now())
			continue
		}
		return 0, err
	}
}

// typed puts what was typed before the screen began in front of all that is read.
func (t *terminal) typed(b []byte) {
	t.paste.feed(b, time.Now())
}

// pasted returns the text whose end mark was read first.
func (t *terminal) pasted() (text string, cut bool) { return t.paste.next() }

// pasteFilter parts what is read into keys and pastes.
type pasteFilter struct {
	keys  []byte // to be read
	match int    // how much of the mark that is waited for was read last
	text  []byte // of the paste on its way
	cut   bool
	last  time.Time
	in    bool

	mu   sync.Mutex
	done []paste
}

type paste struct {
	text string
	cut  bool
}

// take hands over keys.
func (f *pasteFilter) take(b []byte) int {
	n := copy(b, f.keys)
	f.keys = f.keys[n:]
	return n
}

// feed takes what was read.
func (f *pasteFilter) feed(b []byte, now time.Time) {
	if f.in && now.Sub(f.last) > pasteGap {
		f.finish()
	}
	f.last = now
	for len(b) > 0 {
		if f.in {
			b = f.inside(b)
		} else {
			b = f.outside(b)
		}
	}
}

// outside passes keys on, up to and with the mark that a paste begins with.
func (f *pasteFilter) outside(b []byte) (rest []byte) {
	for i, c := range b {
		switch {
		case c == pasteBegins[f.match]:
			f.match++
		case c == pasteBegins[0]:
			f.match = 1
		default:
			f.match = 0
		}
		if f.match == len(pasteBegins) {
			f.in, f.match, f.text, f.cut = true, 0, nil, false
			f.keys = append(f.keys, b[:i+1]...)
			return b[i+1:]
		}
	}
	f.keys = append(f.keys, b...)
	return nil
}

// inside keeps text, up to the mark that a paste ends with.
func (f *pasteFilter) inside(b []byte) (rest []byte) {
	for i, c := range b {
		if c == pasteEnds[f.match] {
			if f.match++; f.match == len(pasteEnds) {
				f.match = 0
				f.finish()
				return b[i+1:]
			}
			continue
		}
		f.keep(pasteEnds[:f.match]...) // was none
		f.match = 0
		if c == pasteEnds[0] {
			f.match = 1
		} else {
			f.keep(c)
		}
	}
	return nil
}

// keep adds to the text as long as there is room.
func (f *pasteFilter) keep(b ...byte) {
	if len(f.text)+len(b) > mostPaste {
		f.cut = true
		return
	}
	f.text = append(f.text, b...)
}

// finish puts a paste on the pile, and its mark among the keys.
func (f *pasteFilter) finish() {
	f.mu.Lock()
	f.done = append(f.done, paste{string(bytes.ToValidUTF8(f.text, nil)), f.cut})
	f.mu.Unlock()
	f.in, f.match, f.text = false, 0, nil
	f.keys = append(f.keys, pasteEnds...)
}

// next takes a paste from the pile.
func (f *pasteFilter) next() (text string, cut bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(f.done) == 0 {
		return "", false
	}
	p := f.done[0]
	f.done = f.done[1:]
	return p.text, p.cut
}

package dossier

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/user"
	"path/filepath"
	"sync"
	"time"
)

// Holder is who holds a dossier for editing.
type Holder struct {
	User, Host, Program string
	PID                 int
	Since               time.Time
}

func (h Holder) String() string {
	if h.PID == 0 {
		return "another program"
	}
	return fmt.Sprintf("%s on %s (%s, process %d, since %s)", h.User, h.Host, h.Program, h.PID, h.Since.Local().Format("2006-01-02 15:04:05"))
}

// holderSuffix is what the name of the file that says who holds a dossier ends in. The lock on it goes with the
// process, however that ends; a file that was left behind means nothing.
const holderSuffix = "-holder"

// errHeld says that another process holds the dossier.
var errHeld = errors.New("held")

// hold takes hold of a dossier. Where somebody else has it, errHeld and who it is.
func hold(path string) (release func(), by Holder, err error) {
	name := path + holderSuffix
	for try := 1; ; {
		f, err := openHolder(name)
		if err != nil {
			return nil, Holder{}, err
		}
		if err := lock(f, true); err != nil {
			by := holderIn(f)
			f.Close()
			if try++; errors.Is(err, errHeld) && try <= 10 { // HeldBy has it for a moment
				time.Sleep(10 * time.Millisecond)
				continue
			}
			return nil, by, err
		}
		// Whoever held it before may have removed the name after it was opened here.
		here, err1 := f.Stat()
		there, err2 := os.Stat(name)
		if err1 != nil || err2 != nil || !os.SameFile(here, there) {
			f.Close()
			continue
		}
		by := thisProcess()
		if text, err := json.Marshal(by); err == nil && f.Truncate(0) == nil {
			f.WriteAt(append(text, '\n'), 0) // on a full disk it is held all the same, but nameless
		}
		var once sync.Once
		return func() {
			once.Do(func() {
				if there, err := os.Stat(name); err == nil && os.SameFile(here, there) {
					os.Remove(name)
				}
				f.Close()
			})
		}, by, nil
	}
}

// HeldBy tells who holds a dossier, if anybody does. It takes no hold itself.
func HeldBy(path string) (by Holder, held bool) {
	if file, err := filepath.EvalSymlinks(path); err == nil {
		path = file
	}
	f, err := askHolder(path + holderSuffix)
	if err != nil {
		return Holder{}, false
	}
	defer f.Close() // which gives the lock back
	if lock(f, false) == nil {
		return Holder{}, false
	}
	return holderIn(f), true
}

// holderIn reads who holds a dossier; nameless where that is being written just now.
func holderIn(f *os.File) (by Holder) {
	text, _ := io.ReadAll(io.NewSectionReader(f, 0, 1<<16))
	if json.Unmarshal(text, &by) != nil {
		return Holder{}
	}
	return by
}

func thisProcess() Holder {
	h := Holder{User: "somebody", Host: "this machine", Program: filepath.Base(os.Args[0]), PID: os.Getpid(), Since: time.Now().UTC().Truncate(time.Second)}
	if u, err := user.Current(); err == nil {
		h.User = u.Username
	}
	if name, err := os.Hostname(); err == nil {
		h.Host = name
	}
	return h
}

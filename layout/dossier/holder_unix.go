//go:build unix

package dossier

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"syscall"
)

// openHolder opens the file by which a dossier is held, and never what a link of that name leads to. One that another
// user left can only be read; that is enough to lock it.
func openHolder(name string) (*os.File, error) {
	f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|syscall.O_NOFOLLOW, 0o666)
	if errors.Is(err, fs.ErrPermission) {
		f, err = os.OpenFile(name, os.O_RDONLY|syscall.O_NOFOLLOW, 0)
	}
	if errors.Is(err, syscall.ELOOP) {
		return nil, fmt.Errorf("%s is a link, which nothing of ours makes: remove it", name)
	}
	return f, err
}

// lock locks a file for this process, or says that another has.
func lock(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if err == syscall.EWOULDBLOCK {
		return errHeld
	}
	return err
}

// mayWrite returns an error where this process may not write to a file or make files in a folder. It does not open it:
// to close a file takes away what locks SQLite has on it in the same process.
func mayWrite(path string) error { return syscall.Access(path, 2) }

// names is how many names a file has.
func names(info os.FileInfo) int { return int(info.Sys().(*syscall.Stat_t).Nlink) }

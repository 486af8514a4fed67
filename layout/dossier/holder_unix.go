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
	f, err := regular(name, os.O_RDWR|os.O_CREATE)
	if errors.Is(err, fs.ErrPermission) {
		if old, err := regular(name, os.O_RDONLY); !errors.Is(err, fs.ErrNotExist) {
			return old, err
		}
	}
	return f, err
}

// askHolder opens that file to see whether it is locked.
func askHolder(name string) (*os.File, error) { return regular(name, os.O_RDONLY) }

// regular opens a file that is no link, and no pipe, which would wait for somebody at its other end.
func regular(name string, flag int) (*os.File, error) {
	f, err := os.OpenFile(name, flag|syscall.O_NOFOLLOW|syscall.O_NONBLOCK, 0o666)
	if errors.Is(err, syscall.ELOOP) {
		return nil, fmt.Errorf("%s is a link, which nothing of ours makes: remove it", name)
	}
	if err != nil {
		return nil, err
	}
	if info, err := f.Stat(); err != nil || !info.Mode().IsRegular() {
		f.Close()
		return nil, fmt.Errorf("%s is not a file, which nothing of ours makes: remove it", name)
	}
	return f, nil
}

// lock locks a file, for this process alone or with others that only ask, or says that another has it.
func lock(f *os.File, alone bool) error {
	how := syscall.LOCK_SH
	if alone {
		how = syscall.LOCK_EX
	}
	err := syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB)
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

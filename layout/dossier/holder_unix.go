//go:build unix

package dossier

import (
	"os"
	"syscall"
)

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

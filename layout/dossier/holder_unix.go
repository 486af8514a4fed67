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

//go:build unix

package dossier

import (
	"os/signal"
	"syscall"
)

// limitFiles makes every write beyond so many bytes of a file fail, as on a full disk.
func limitFiles(n uint64) error {
	signal.Ignore(syscall.SIGXFSZ)
	return syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: n, Max: n})
}

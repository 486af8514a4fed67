//go:build !unix

package dossier

import (
	"errors"
	"os"
)

// lock is not written for this system: a dossier can be read here, not edited.
func lock(*os.File) error { return errors.ErrUnsupported }

// mayWrite goes with lock.
func mayWrite(string) error { return errors.ErrUnsupported }

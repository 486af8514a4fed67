//go:build !unix

package dossier

import (
	"errors"
	"os"
)

// openHolder, askHolder, lock and mayWrite are not written for this system: a dossier can be read here, not edited.
func openHolder(string) (*os.File, error) { return nil, errors.ErrUnsupported }

func askHolder(string) (*os.File, error) { return nil, errors.ErrUnsupported }

func lock(*os.File, bool) error { return errors.ErrUnsupported }

func mayWrite(string) error { return errors.ErrUnsupported }

func names(os.FileInfo) int { return 1 }

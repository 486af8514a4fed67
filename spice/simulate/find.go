package simulate

import (
	"fmt"
	"os/exec"
	"path/filepath"
)

// install tells how to get ngspice on common systems: its package is called ngspice in all of them.
const install = `install it (Debian, Ubuntu: apt install ngspice; Fedora: dnf install ngspice; Arch: pacman -S ngspice; ` +
	`macOS with Homebrew: brew install ngspice; Windows: the archive from ngspice.sourceforge.io), or name its program`

// Find returns the absolute path of a simulator: of the program that is named, by a path or as a name on PATH, or of
// ngspice on PATH where program is empty. ErrMissing, with how to install one, if there is none that can be run.
func Find(program string) (path string, err error) {
	name := program
	if name == "" {
		name = "ngspice"
	}
	found, err := exec.LookPath(name)
	if err == nil {
		found, err = filepath.Abs(found)
	}
	switch {
	case err == nil:
		return found, nil
	case program == "":
		return "", fmt.Errorf("%w: ngspice is not on PATH\n    %s", ErrMissing, install)
	default:
		return "", fmt.Errorf("%w: %q cannot be run (%v)\n    %s", ErrMissing, program, err, install)
	}
}

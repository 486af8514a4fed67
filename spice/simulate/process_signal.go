//go:build unix

package simulate

import (
	"errors"
	"os"
	"os/exec"
	"syscall"
)

// tooLarge says whether the system ended the simulator because a file grew too large.
func tooLarge(err error) bool {
	var exit *exec.ExitError
	if !errors.As(err, &exit) {
		return false
	}
	status, ok := exit.Sys().(syscall.WaitStatus)
	return ok && status.Signaled() && status.Signal() == syscall.SIGXFSZ
}

// killGroup ends all processes of a group.
func killGroup(pid int) error {
	err := syscall.Kill(-pid, syscall.SIGKILL)
	if errors.Is(err, syscall.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}

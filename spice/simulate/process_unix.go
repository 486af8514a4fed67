//go:build unix && !linux

package simulate

import (
	"os/exec"
	"syscall"
)

// isolate gives the simulator a group of its own, which is killed with it.
func isolate(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return killGroup(cmd.Process.Pid) }
}

// restrict does nothing: a running process cannot be limited here. The files' size is looked at.
func restrict(int, int64) {}

func sweepUp(int) {}

// afterwards kills what is left of the group of a simulator that has ended.
func afterwards(pid int) { _ = killGroup(pid) }

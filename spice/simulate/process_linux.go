package simulate

import (
	"errors"
	"os/exec"
	"syscall"

	"golang.org/x/sys/unix"
)

// isolate gives the simulator a group of its own, which is killed with it, and has the system kill it if this program
// dies without being able to.
func isolate(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
	cmd.Cancel = func() error { return killGroup(cmd.Process.Pid) }
}

// restrict bounds each of its files and its memory, and keeps it from leaving a core file. It may have run for a moment
// before; the files' size is looked at besides.
func restrict(pid int, bytes int64) {
	limit := func(what int, n uint64) { _ = unix.Prlimit(pid, what, &unix.Rlimit{Cur: n, Max: n}, nil) }
	limit(unix.RLIMIT_CORE, 0)
	limit(unix.RLIMIT_FSIZE, uint64(bytes))
	limit(unix.RLIMIT_DATA, 2<<30+4*uint64(bytes)) // all points of an analysis are in memory before they are written (conclude.go)
}

// sweepUp waits for the simulator's end and kills what is left of its group, while the dead simulator still holds the
// group's number.
func sweepUp(pid int) {
	for {
		if err := unix.Waitid(unix.P_PID, pid, nil, unix.WEXITED|unix.WNOWAIT, nil); !errors.Is(err, unix.EINTR) {
			break
		}
	}
	_ = killGroup(pid)
}

func afterwards(int) {}

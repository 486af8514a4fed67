//go:build unix

package workbench

import (
	"os"
	"syscall"
)

// hangupSignals tell that the terminal is gone.
var hangupSignals = []os.Signal{syscall.SIGHUP}

// guardIgnores are those that go to all processes of a terminal: the guard outlives the one that it guards. SIGTTOU would stop it
// when it puts right a terminal that is the shell's again.
var guardIgnores = []os.Signal{syscall.SIGHUP, syscall.SIGINT, syscall.SIGTERM, syscall.SIGQUIT, syscall.SIGTTOU, syscall.SIGTTIN, syscall.SIGTSTP}

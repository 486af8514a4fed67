package workbench

import (
	"os"

	"golang.org/x/sys/unix"
)

// discard drops what a terminal has not taken yet, so that there is room for what puts it right.
func discard(f *os.File) {
	if raw, err := f.SyscallConn(); err == nil { // Fd would end its deadlines
		raw.Control(func(fd uintptr) { unix.IoctlSetInt(int(fd), unix.TCFLSH, unix.TCOFLUSH) })
	}
}

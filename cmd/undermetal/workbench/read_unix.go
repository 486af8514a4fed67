//go:build unix

package workbench

import (
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// readBefore reads what there is, and waits for it up to a time.
func readBefore(f *os.File, b []byte, end time.Time) (int, error) {
	for {
		left := time.Until(end)
		if left <= 0 {
			return 0, os.ErrDeadlineExceeded
		}
		fds := []unix.PollFd{{Fd: int32(f.Fd()), Events: unix.POLLIN}}
		n, err := unix.Poll(fds, int(left.Milliseconds())+1)
		switch {
		case err == unix.EINTR:
		case err != nil:
			return 0, err
		case n > 0:
			return f.Read(b)
		}
	}
}

package simulate

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"
)

const (
	look = 50 * time.Millisecond // how often the files' size is looked at
	wait = 20 * time.Second      // how long outputs may stay open after the simulator's end: what is in the pipes has to be heard
)

// process is one run of a simulator in a folder of its own.
type process struct {
	program string
	dir     string
	limit   time.Duration
	bytes   int64
	hear    func(line string)
	watch   func() // called now and then from the goroutine of run, and at its end
}

// run lets the simulator read deck.sp in dir. said is what it printed, head and tail. err: context.Canceled or the
// caller's cause, ErrTime, ErrSize, or ErrFailed with how it ended. When run returns, by a panic of watch too, the simulator
// and whatever it started in its group have ended.
func (p *process) run(ctx context.Context) (said string, err error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	ctx, cancel := context.WithTimeoutCause(ctx, p.limit, ErrTime)
	defer cancel()

	var mu sync.Mutex // both outputs are heard by one ear
	hear := func(line string) {
		mu.Lock()
		defer mu.Unlock()
		p.hear(line)
	}
	out, errs := &mouth{hear: hear}, &mouth{hear: hear}
	cmd := exec.CommandContext(ctx, p.program, "-n", "-b", "deck.sp")
	cmd.Dir = p.dir
	cmd.Env = environment(p.dir)
	cmd.Stdout, cmd.Stderr = out, errs
	cmd.WaitDelay = wait
	isolate(cmd)

	ended := make(chan error, 1)
	go func() {
		// What the system does to the child at this program's death hangs on the thread that started it.
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		err := cmd.Start()
		if err == nil {
			restrict(cmd.Process.Pid, p.bytes)
			sweepUp(cmd.Process.Pid)
			err = cmd.Wait()
			afterwards(cmd.Process.Pid)
		}
		ended <- err
	}()
	waited := false
	defer func() {
		if !waited { // watch panicked
			stop(nil)
			<-ended
		}
	}()
	tick := time.NewTicker(look)
	defer tick.Stop()
	for !waited {
		select {
		case err = <-ended:
			waited = true
		case <-tick.C:
			if size(p.dir)+out.bytes()+errs.bytes() > p.bytes {
				stop(ErrSize)
			}
		}
		p.watch()
	}
	out.end()
	errs.end()
	said = out.String() + errs.String()
	return said, p.verdict(ctx, err)
}

// verdict says why a run did not end well, or nothing.
func (p *process) verdict(ctx context.Context, err error) error {
	cause := context.Cause(ctx)
	switch {
	case errors.Is(cause, ErrSize) || tooLarge(err):
		return fmt.Errorf("%w: the simulator wrote more than %d MB and was ended; take larger steps or a shorter time", ErrSize, p.bytes>>20)
	case errors.Is(cause, ErrTime):
		return fmt.Errorf("%w: the simulator was ended after %v; give it longer or less to do", ErrTime, p.limit)
	case cause != nil:
		return cause
	}
	var exit *exec.ExitError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &exit):
		return fmt.Errorf("%w: the simulator ended with %v", ErrFailed, exit.ProcessState)
	case errors.Is(err, exec.ErrWaitDelay):
		return fmt.Errorf("%w: the simulator left programs behind that hold its output", ErrFailed)
	}
	return fmt.Errorf("%w: the simulator does not run: %v", ErrMissing, err)
}

// environment is what the simulator gets to know: where programs and libraries are, and for all else its own folder. SPICE_…
// and what else would lead it to files of the user's is left out. One thread, so that runs are alike.
func environment(dir string) []string {
	env := []string{"HOME=" + dir, "TMPDIR=" + dir, "PWD=" + dir, "LC_ALL=C", "OMP_NUM_THREADS=1"}
	for _, name := range []string{"PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "SystemRoot"} {
		if v, ok := os.LookupEnv(name); ok {
			env = append(env, name+"="+v)
		}
	}
	return env
}

// size returns the bytes of all files in dir. What vanishes meanwhile does not count.
func size(dir string) int64 {
	var sum int64
	_ = filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			if info, err := d.Info(); err == nil {
				sum += info.Size()
			}
		}
		return nil
	})
	return sum
}

// folder makes the private folder of a run, with the deck in it, and says how to remove it.
func folder(deck string) (dir string, remove func(), err error) {
	if strings.ContainsRune(deck, 0) {
		return "", nil, errors.New("deck holds a zero byte")
	}
	dir, err = os.MkdirTemp("", "undermetal-simulate-")
	if err != nil {
		return "", nil, err
	}
	remove = func() { _ = os.RemoveAll(dir) }
	if err := os.WriteFile(filepath.Join(dir, "deck.sp"), []byte(deck), 0o600); err != nil {
		remove()
		return "", nil, err
	}
	return dir, remove, nil
}

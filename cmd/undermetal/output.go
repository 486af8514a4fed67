package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"
	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
	"golang.org/x/term"
)

// writeTo writes to the named file, or to standard output where the name is "-". A file is written beside its place and
// renamed when it is whole, so that nothing half written is left behind and an old file is lost only to a new one, of
// the same permissions. A link is followed; what is no file, such as a device or a pipe, is written as it is.
func writeTo(c *cobra.Command, name string, write func(io.Writer) error) error {
	if err := c.Context().Err(); err != nil {
		return err
	}
	if name == "-" {
		return write(c.OutOrStdout())
	}
	mode := os.FileMode(0o666)
	if target, err := filepath.EvalSymlinks(name); err == nil {
		info, err := os.Stat(target)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if !info.Mode().IsRegular() {
			return writeThrough(name, write)
		}
		name, mode = target, info.Mode().Perm()
	}
	return writeBeside(c, name, mode, write)
}

func writeThrough(name string, write func(io.Writer) error) error {
	f, err := os.OpenFile(name, os.O_WRONLY, 0)
	if err != nil {
		return outputError(name, err)
	}
	w := &written{w: f}
	return w.fault(name, write(w), f.Close())
}

// written notes whether what goes wrong is the writing, or what there is to write.
type written struct {
	w   io.Writer
	err error
}

func (w *written) Write(p []byte) (n int, err error) {
	n, err = w.w.Write(p)
	w.err = errors.Join(w.err, err)
	return n, err
}

// fault is the error of the whole, if there is one: err comes from what there is to write, unless writing it failed, more
// from the file.
func (w *written) fault(name string, err error, more ...error) error {
	if w.err != nil {
		return outputError(name, w.err)
	}
	if err != nil {
		return err
	}
	if err := errors.Join(more...); err != nil {
		return outputError(name, err)
	}
	return nil
}

// outputError says which of the caller's files could not be written, and why, without the name of a file beside it.
func outputError(name string, err error) error {
	var p *os.PathError
	var l *os.LinkError
	if errors.As(err, &p) {
		err = p.Err
	} else if errors.As(err, &l) {
		err = l.Err
	}
	return fmt.Errorf("%s: cannot write there: %w\n    give a file in a folder that exists and has room, or - for standard output", name, err)
}

func writeBeside(c *cobra.Command, name string, mode os.FileMode, write func(io.Writer) error) (err error) {
	temp := filepath.Join(filepath.Dir(name), fmt.Sprintf(".%s.%d", filepath.Base(name), os.Getpid()))
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return outputError(name, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(temp)
		}
	}()
	w := &written{w: f}
	if err := w.fault(name, write(w)); err != nil {
		return err
	}
	if err := c.Context().Err(); err != nil {
		return err
	}
	for _, step := range []func() error{f.Sync, f.Close, func() error { return os.Rename(temp, name) }} {
		if err := step(); err != nil {
			return outputError(name, err)
		}
	}
	return nil
}

// sameFile reports whether two names lead to one existing file.
func sameFile(a, b string) bool {
	x, err1 := os.Stat(a)
	y, err2 := os.Stat(b)
	return err1 == nil && err2 == nil && os.SameFile(x, y)
}

// bar shows how far a piece of work is, on a terminal only.
type bar struct {
	progress *mpb.Progress
	bar      *mpb.Bar
}

func newBar(c *cobra.Command, what string) *bar {
	return showBar(c, mpb.BarStyle(), what, decor.Percentage())
}

// newClock shows how long a piece of work takes of which nobody knows how much is left.
func newClock(c *cobra.Command, what string) *bar {
	return showBar(c, mpb.SpinnerStyle(), what, decor.Elapsed(decor.ET_STYLE_MMSS))
}

func showBar(c *cobra.Command, style mpb.BarFillerBuilder, what string, figure decor.Decorator) *bar {
	f, ok := c.ErrOrStderr().(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return &bar{}
	}
	p := mpb.NewWithContext(c.Context(), mpb.WithOutput(f), mpb.WithWidth(40))
	return &bar{p, p.New(0, style, mpb.BarRemoveOnComplete(), mpb.PrependDecorators(decor.Name(what+" ")), mpb.AppendDecorators(figure))}
}

func (b *bar) set(done, total int) {
	if b.bar != nil {
		b.bar.SetTotal(int64(total), false)
		b.bar.SetCurrent(int64(done))
	}
}

func (b *bar) end() {
	if b.bar != nil {
		b.bar.Abort(true)
		b.progress.Wait()
	}
}

func um(nm float64) float64 { return nm / 1000 }

package main

import (
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
// renamed when it is whole, so that nothing half written is left behind and an old file is lost only to a new one.
func writeTo(c *cobra.Command, name string, write func(io.Writer) error) (err error) {
	if name == "-" {
		return write(c.OutOrStdout())
	}
	f, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return fmt.Errorf("%s: cannot write there: %w", name, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := write(f); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := f.Chmod(0o644); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := f.Sync(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return os.Rename(f.Name(), name)
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
	f, ok := c.ErrOrStderr().(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return &bar{}
	}
	p := mpb.NewWithContext(c.Context(), mpb.WithOutput(f), mpb.WithWidth(40))
	return &bar{p, p.AddBar(0, mpb.BarRemoveOnComplete(), mpb.PrependDecorators(decor.Name(what+" ")),
		mpb.AppendDecorators(decor.Percentage()))}
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

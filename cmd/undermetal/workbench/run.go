package workbench

import (
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"os/signal"
	"runtime/debug"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"
	_ "github.com/gdamore/tcell/v2/encoding" // of locales that are not UTF-8
	"golang.org/x/term"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
)

// Options are how a workbench is shown.
type Options struct {
	Pixels  Pixels
	Blocks  glyph.Blocks
	Colours int // 0: what the terminal says; 2, 256 or 1<<24
	Bytes   int // how much of the photographs is kept unpacked; 0: picture.DefaultBytes

	// Guard is a command that runs Guard; nil: none is started, and whoever kills this process has to put the terminal right.
	Guard []string
	// Desk are the desk's own. Notify and Clip are the workbench's.
	Desk desk.Options
	// Notice is shown below until the first key.
	Notice string
	// Hook is for tests: it is called in the loop ("key") and in the goroutine that draws pictures ("picture").
	Hook func(where string)
}

// ErrNoTerminal is returned where there is none.
var ErrNoTerminal = errors.New("standard input and output are not a terminal")

// Panic is a programming error that ended the workbench. The terminal is as it was.
type Panic struct {
	Value any
	Stack []byte
}

func (p *Panic) Error() string { return fmt.Sprint(p.Value) }

// Gone reports whether an error says that the terminal went away.
func Gone(err error) bool { return errors.Is(err, errGone) }

// opener opens what is to be shown. It gets what pictures are drawn with, and a call for when there is something to take over.
type opener func(screen tcell.Screen, c *picture.Composer, notify func()) (state, func() error, error)

// Run shows a dossier until the user has done, or the context ends, whose error it then returns. The terminal is as it was
// before when it returns, whatever happened; the dossier stays open.
func Run(ctx context.Context, d *dossier.Dossier, o Options) error {
	return onTerminal(ctx, o, func(screen tcell.Screen, c *picture.Composer, notify func()) (state, func() error, error) {
		options := o.Desk
		options.Notify, options.Clip = notify, func(text string) { screen.SetClipboard([]byte(text)) }
		// What is asked of the dossier ends with Close, not with the context: an edit is whole or was none.
		k, err := desk.Open(context.WithoutCancel(ctx), d, c, options)
		if err != nil {
			return nil, nil, err
		}
		return k, k.Close, nil
	})
}

// onTerminal shows a state on the terminal that the process was started from.
func onTerminal(ctx context.Context, o Options, open opener) error {
	if !term.IsTerminal(int(os.Stdin.Fd())) || !term.IsTerminal(int(os.Stdout.Fd())) {
		return ErrNoTerminal
	}
	g, err := startGuard(o.Guard)
	if err != nil {
		return err
	}
	defer g.end()
	tty, err := newTerminal()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNoTerminal, err)
	}
	able := abilities{}
	if o.Pixels != Glyphs {
		able = askDevice(tty)
	}
	screen, err := tcell.NewTerminfoScreenFromTty(tty)
	if err != nil {
		return fmt.Errorf("TERM=%s: %w\n    set TERM to what the terminal is, as in TERM=xterm-256color", os.Getenv("TERM"), err)
	}
	ctx, stop := hangup(ctx)
	defer stop()
	if err = newBench(screen, tty, able, o).run(ctx, o.Colours, open); err != nil {
		room()
	}
	return err
}

// askDevice asks the terminal what it can show. What was typed meanwhile is kept for the screen.
func askDevice(t *terminal) abilities {
	f, err := os.OpenFile("/dev/tty", os.O_RDWR, 0)
	if err != nil {
		return abilities{}
	}
	defer f.Close()
	a, err := ask(f, answerTime)
	if err != nil {
		return abilities{}
	}
	t.typed(a.Rest)
	return a
}

// hangup returns a context that ends with ctx, and with errGone as its cause when the terminal hangs up.
func hangup(ctx context.Context) (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(ctx)
	signals := make(chan os.Signal, 1)
	signal.Notify(signals, hangupSignals...)
	go func() {
		select {
		case <-signals:
			cancel(errGone)
		case <-ctx.Done():
		}
	}()
	return ctx, func() { signal.Stop(signals); cancel(nil) }
}

// newBench prepares a screen that was not begun yet.
func newBench(screen tcell.Screen, tty *terminal, able abilities, o Options) *bench {
	b := &bench{screen: screen, tty: tty, notes: make(chan struct{}, 1), tiles: make(chan struct{}, 1), fatal: make(chan error, 1), hook: o.Hook, notice: o.Notice}
	b.base.pixels = able.choose(o.Pixels)
	b.base.cell = image.Pt(able.CellWidth, able.CellHeight)
	b.base.most = image.Pt(sixelSide, sixelSide)
	if able.SixelWidth > 0 {
		b.base.most = image.Pt(able.SixelWidth, able.SixelHeight)
	}
	b.base.style.Blocks = o.Blocks
	b.renderer = newRenderer(picture.New(picture.Options{Bytes: o.Bytes, Ready: func() { post(b.tiles) }}), o.Hook)
	b.renderer.sixel.Colours = able.Colours
	if able.Colours != able.ColoursBefore {
		b.farewell = fmt.Sprintf("\x1b[?1;3;%dS", able.ColoursBefore)
	}
	return b
}

// begin starts the screen and says what it can show.
func (b *bench) begin(colours int) error {
	if err := b.screen.Init(); err != nil {
		return fmt.Errorf("the terminal cannot be used: %w", err)
	}
	if colours == 0 {
		colours = b.screen.Colors()
	}
	blocks := b.base.style.Blocks
	b.base.style = coloursOf(colours, b.screen.CharacterSet() == "UTF-8")
	b.base.style.Blocks = blocks
	b.pen = pen{b.screen, b.base.style.ASCII}
	if b.tty != nil {
		if ok, marks := paintable(os.Getenv("TERM")); ok {
			b.painter = &painter{marks: marks}
		}
	}
	if b.base.pixels != Glyphs && b.cellSize(b.screen.Size()) == (image.Point{}) && b.base.cell.X == 0 {
		b.base.cell = image.Pt(10, 20) // those of a VT340; who asks for pixels where nobody knows their size gets these
	}
	b.screen.EnableMouse(tcell.MouseMotionEvents)
	b.screen.EnablePaste()
	b.screen.SetTitle("undermetal")
	return nil
}

// run opens a state, and shows it until the end.
func (b *bench) run(ctx context.Context, colours int, open opener) (err error) {
	ctx, cancel := context.WithCancel(ctx)
	var working sync.WaitGroup
	begun := false
	closeDesk := func() error { return nil }
	events, quit := make(chan tcell.Event, 64), make(chan struct{})
	defer func() {
		if p := recover(); p != nil {
			err = &Panic{p, debug.Stack()}
		}
		if b.tty != nil && err != nil {
			b.tty.hurry()
		}
		cancel()
		if begun {
			b.finish(events)
		}
		close(quit)
		working.Wait()
		var mistake *Panic
		err = errors.Join(err, closeSafely(closeDesk, errors.As(err, &mistake)))
		b.renderer.composer.Close()
	}()
	k, closing, err := open(b.screen, b.renderer.composer, func() { post(b.notes) })
	if err != nil {
		return err
	}
	b.desk, closeDesk = k, closing
	if err := b.begin(colours); err != nil {
		return err
	}
	begun = true
	go b.screen.ChannelEvents(events, quit)
	stop := context.AfterFunc(ctx, func() {
		if b.tty != nil {
			b.tty.hurry() // the loop may be writing to a terminal that takes nothing
		}
	})
	defer stop()
	working.Go(func() { b.watched(func() { b.renderer.run(ctx) }) })
	if err = b.loop(ctx, events); err != nil && ctx.Err() != nil {
		err = context.Cause(ctx)
	}
	return err
}

// watched runs f, and has the loop end when it panics.
func (b *bench) watched(f func()) {
	defer func() {
		if p := recover(); p != nil {
			select {
			case b.fatal <- &Panic{p, debug.Stack()}:
			default:
			}
		}
	}()
	f()
}

// closeSafely closes a desk. After a mistake somebody may hold its locks for good: then it is not waited for any longer than
// a terminal is.
func closeSafely(f func() error, mistaken bool) error {
	done := make(chan error, 1)
	go func() {
		defer func() {
			if p := recover(); p != nil {
				done <- &Panic{p, debug.Stack()}
			}
		}()
		done <- f()
	}()
	if !mistaken {
		return <-done
	}
	select {
	case err := <-done:
		return err
	case <-time.After(2 * farewell):
		return nil
	}
}

// finish puts the terminal right. Where tcell cannot, because it was interrupted with its locks held, it is done without it.
func (b *bench) finish(events <-chan tcell.Event) {
	go func() { // until the screen has ended: it waits for room for what was typed
		for range events {
		}
	}()
	done := make(chan struct{})
	go func() {
		defer close(done)
		if b.manner.pixels != Glyphs {
			b.write([]byte(erasePixels(b.manner.pixels)))
		}
		b.write([]byte(b.farewell))
		b.screen.Fini()
	}()
	select {
	case <-done:
	case <-time.After(2 * farewell):
		if b.tty != nil {
			b.tty.restore()
		}
	}
}

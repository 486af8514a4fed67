package desk

import (
	"context"
	"time"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
)

// Desk is the state of a workbench: a plain value with methods, for one goroutine, its owner's.
type Desk struct{}

// Open lays a dossier on the desk. The desk closes neither the dossier nor the composer.
func Open(ctx context.Context, d *dossier.Dossier, c *picture.Composer, o Options) (*Desk, error) {
	return nil, nil
}

// Key does what a key means.
func (d *Desk) Key(k Key) {}

// Mouse does what a mouse means.
func (d *Desk) Mouse(m Mouse) {}

// Paste is text that was pasted into the terminal.
func (d *Desk) Paste(text string) {}

// Resize says how large the picture is, in px; aspect is how many times as high as wide a px is, columns and rows are the
// character cells of the picture.
func (d *Desk) Resize(width, height int, aspect float64, columns, rows int) {}

// Tick tells the time; call it some five times a second, while Ticking. It reports whether the picture has to be drawn anew.
func (d *Desk) Tick(now time.Time) bool { return false }

// Ticking reports whether the desk wants ticks: something blinks, or work goes on.
func (d *Desk) Ticking() bool { return false }

// Take takes over what background work has handed over since; it reports whether there was something.
func (d *Desk) Take() bool { return false }

// Scene is what the first pane shows.
func (d *Desk) Scene() picture.Scene { return picture.Scene{} }

// Panes are all panes, from left to right.
func (d *Desk) Panes() []Pane { return nil }

// Head is the line above: the dossier, photographs, what the keys are for, how large things are shown.
func (d *Desk) Head() []Span { return nil }

// Foot is the line below: where the pointer is, in µm, what lies there, a message or a hint.
func (d *Desk) Foot() []Span { return nil }

// Side is the list beside the picture; nil: none is open.
func (d *Desk) Side() *List { return nil }

// Prompt is the command line; nil: it is closed.
func (d *Desk) Prompt() *Prompt { return nil }

// Page lies over the picture; nil: none does.
func (d *Desk) Page() *Text { return nil }

// Scroll tells how many lines of a page, and rows of the list, are seen, so that page keys go by as many.
func (d *Desk) Scroll(page, side int) {}

// ClickSide chooses a row of the list by mouse; twice goes there.
func (d *Desk) ClickSide(row int, twice bool) {}

// Busy says what goes on in the background; empty where nothing does. part is how much of it is done, 0 to 1, below 0 where nobody
// knows.
func (d *Desk) Busy() (text string, part float64) { return "", 0 }

// Done reports whether the user has ended the work.
func (d *Desk) Done() bool { return false }

// Close ends all background work and waits for it.
func (d *Desk) Close() error { return nil }

package workbench

import (
	"context"
	"errors"
	"image"
	"time"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/picture"
)

// state is what is shown: a desk.Desk, or what a test puts in its place.
type state interface {
	Key(desk.Key)
	Mouse(desk.Mouse)
	Paste(string)
	Resize(width, height int, aspect float64, columns, rows int)
	Tick(time.Time) bool
	Ticking() bool
	Take() bool
	Scene() picture.Scene
	Panes() []desk.Pane
	Head() []desk.Span
	Foot() []desk.Span
	Walk() []desk.Span
	Side() *desk.List
	Prompt() *desk.Prompt
	Page() *desk.Text
	Scroll(page, side int)
	ClickSide(row int, twice bool)
	Busy() (text string, part float64)
	Done() bool
}

var _ state = (*desk.Desk)(nil)

const (
	frameTime = time.Second / 60 // no two pictures are asked for closer to each other
	tickTime  = 200 * time.Millisecond
	// mostAtOnce is how many events are taken before the screen is drawn, unless a frame's time is over before.
	mostAtOnce = 256
)

// errGone is the end of a terminal.
var errGone = errors.New("the terminal is gone")

// bench is a desk on a screen. All of it is the loop's, but for the channels.
type bench struct {
	desk     state
	screen   tcell.Screen
	tty      *terminal // nil: none, as in a simulation
	painter  *painter  // of glyphs; nil: tcell writes them
	pen      pen
	renderer *renderer
	mouse    mouse
	dragging bool

	notes chan struct{} // the desk has something to take over
	tiles chan struct{} // there is a better picture
	fatal chan error    // a goroutine of ours has come to a bad end

	base    manner // what does not change with the size
	manner  manner
	areas   areas
	page    rect // what a page covers; empty: none is open
	top     int  // the first row of the list that is seen
	scroll  [2]int
	asked   job    // that was sent to the renderer last
	again   bool   // draw the same scene once more: tiles have come
	latest  *drawn // of glyphs: what is shown
	placed  bool   // it is in the cells
	wiped   bool   // the terminal has to be drawn from nothing
	locked  rect   // cells that are not tcell's: under real pixels, or glyphs of the painter
	trouble error  // what the latest picture lacks for good
	notice  string // of the shell itself, in the foot, until the next key
	hook    func(string)

	farewell string // what else the terminal is to be told at the end

	dirty bool
	fresh bool      // a picture has come that is not on the screen
	last  time.Time // when the screen was drawn, and a picture asked for
	shows int
}

// post puts a note where nobody waits for room: one is as good as two.
func post(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// loop waits for what happens, until the user or somebody else ends it.
func (b *bench) loop(ctx context.Context, events <-chan tcell.Event) error {
	ticker := time.NewTicker(tickTime)
	defer ticker.Stop()
	frame := time.NewTimer(0)
	defer frame.Stop()
	b.dirty = true
	for {
		ticks := ticker.C
		if !b.desk.Ticking() {
			ticks = nil
		}
		var due <-chan time.Time
		if b.dirty {
			frame.Reset(frameTime - time.Since(b.last))
			due = frame.C
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case err := <-b.fatal:
			return err
		case ev, ok := <-events:
			if !ok {
				return errGone
			}
			if err := b.take(ev, events); err != nil {
				return err
			}
		case <-b.notes:
			b.desk.Take()
			b.dirty = true
		case <-b.tiles:
			b.again, b.dirty = true, true
		case d := <-b.renderer.done:
			b.arrived(d)
		case now := <-ticks:
			b.desk.Tick(now)
			b.dirty = true
		case <-due:
		}
		if b.desk.Done() {
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		switch {
		case b.dirty && time.Since(b.last) >= frameTime:
			b.show()
		case b.fresh: // pictures are asked for once in a frame's time, so that this is no more often
			b.put(false)
		}
	}
}

// take does what an event and those behind it want, as long as there is time before the next picture.
func (b *bench) take(ev tcell.Event, events <-chan tcell.Event) error {
	start := time.Now()
	for n := 1; ; n++ {
		if err := b.event(ev); err != nil {
			return err
		}
		if b.desk.Done() || n == mostAtOnce || time.Since(start) > frameTime {
			return nil
		}
		select {
		case next, ok := <-events:
			if !ok {
				return errGone
			}
			ev = next
		default:
			return nil
		}
	}
}

func (b *bench) event(ev tcell.Event) error {
	switch ev := ev.(type) {
	case *tcell.EventKey:
		if b.hook != nil {
			b.hook("key")
		}
		b.notice = ""
		if k, ok := keyOf(ev); ok {
			if k == (desk.Key{Rune: 'l', Ctrl: true}) {
				b.wiped = true
			} else {
				b.desk.Key(k)
			}
		}
	case *tcell.EventMouse:
		b.mouseEvent(ev)
	case *tcell.EventPaste:
		if ev.End() && b.tty != nil {
			text, cut := b.tty.pasted()
			if b.notice = ""; cut {
				b.notice = "more than 4 MB were pasted: the rest was dropped"
			}
			b.desk.Paste(text)
		}
	case *tcell.EventResize:
		b.wiped = true
	case *tcell.EventError:
		return errors.Join(errGone, ev)
	default:
		return nil
	}
	b.dirty = true
	return nil
}

// mouseEvent does what a mouse means, by where it is.
func (b *bench) mouseEvent(ev *tcell.EventMouse) {
	x, y := ev.Position()
	d := b.mouse.does(ev)
	mods := ev.Modifiers()
	dragging := b.dragging // what was pressed on the picture is the picture's until it is let go
	if d.kind == desk.Release {
		b.dragging = false
	}
	if !dragging {
		switch {
		case b.page.holds(x, y), b.areas.side.holds(x, y):
			b.listMouse(x, y, d)
			return
		case !b.areas.picture.holds(x, y), d.kind == desk.Drag, d.kind == desk.Release:
			return
		}
		b.dragging = d.kind == desk.Press
	}
	px, py := b.manner.middleOf(x, y)
	b.desk.Mouse(desk.Mouse{X: px, Y: py, Kind: d.kind, Button: d.button, Steps: d.steps,
		Ctrl: mods&tcell.ModCtrl != 0, Alt: mods&(tcell.ModAlt|tcell.ModMeta) != 0, Shift: mods&tcell.ModShift != 0})
}

// wheelLines is how far a page or a list goes by a step of the wheel.
const wheelLines = 3

// listMouse is for a page and for the list.
func (b *bench) listMouse(x, y int, d deed) {
	list := b.desk.Side()
	page := b.page.holds(x, y)
	switch {
	case d.kind == desk.Wheel && (page || list != nil && list.Focus):
		name := "Down"
		if d.steps > 0 {
			name = "Up"
		}
		for range wheelLines {
			b.desk.Key(desk.Key{Name: name})
		}
	case d.kind == desk.Press && d.button == desk.Left && !page && list != nil:
		row := y - b.areas.side.y - 1
		if row >= 0 && row < b.pen.listRows(b.areas.side, list) && b.top+row < len(list.Rows) {
			b.desk.ClickSide(b.top+row, d.twice)
		}
	}
}

// arrived takes a picture from the renderer.
func (b *bench) arrived(d *drawn) {
	b.trouble = d.err
	if b.latest != nil {
		b.renderer.free <- b.latest
	}
	b.latest, b.placed, b.fresh = d, false, true
}

// show has what changed be seen: the picture of it is asked for, and put on the screen when it comes.
func (b *bench) show() {
	b.dirty, b.last = false, time.Now()
	b.put(true)
}

// put draws the screen as things are now: what has changed of it goes to the terminal. Before that the scene's picture is asked for, if
// it is to be.
func (b *bench) put(ask bool) {
	b.fresh = false
	b.shows++
	b.measure()
	if ask {
		b.ask()
	}
	b.draw()
	b.send()
}

// ask has the scene be drawn, if it is another one, or there is more of it.
func (b *bench) ask() {
	if b.manner.columns < 1 || b.manner.rows < 1 {
		return
	}
	next := job{manner: b.manner}
	panes := b.desk.Panes()
	if panes == nil {
		s := b.desk.Scene()
		panes = []desk.Pane{{Box: image.Rect(0, 0, s.View.Width, s.View.Height), Scene: s}}
	}
	for _, p := range panes {
		one := pane{Pane: p}
		if b.manner.pixels == Glyphs { // letters of px are too coarse to be read: bars are in cells, lengths in the foot
			one.Bar = p.Scene.Bar
			one.Scene.Bar, one.Scene.Text = false, false
		}
		next.panes = append(next.panes, one)
	}
	if !b.again && sameJob(&next, &b.asked) {
		return
	}
	b.asked, b.again = next, false
	b.renderer.ask(next)
}

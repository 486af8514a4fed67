package desk

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/stack"
)

// Desk is the state of a workbench: a plain value with methods, for one goroutine, its owner's.
type Desk struct {
	ctx      context.Context
	stop     context.CancelFunc
	file     *dossier.Dossier
	composer *picture.Composer
	opt      Options
	name     string // of the dossier, for people
	done     bool

	station station
	now     time.Time
	said    message
	acted   map[string]int // how often each binding and verb was used: the walk watches it

	width, height int // of all panes
	aspect        float64
	columns, rows int
	eyes          [2]eye // the second is for registering: it looks at the photograph that has no place yet
	eye           int
	limits        view.Limits
	back          []eye
	step          float64 // of the cursor, px of the photograph

	photos     []*photo
	base, over int // in photos; -1: none
	mode       picture.Mode
	part       float64
	second     bool
	blinked    time.Time

	stack  *stack.Stack
	layers []picture.Layer
	layer  int // that is drawn on; -1: none

	drawing *picture.Drawing
	placed  []placed
	labels  []dossier.Label
	areas   []dossier.Area
	blocks  []dossier.Block
	live    *live

	sel      edit.Selection
	selBox   geom.Rect
	selShown *picture.Drawing
	clip     edit.Clip
	tool     *tool
	points   []geom.Point // of the tool, so far
	carry    *carry
	snap     snapping
	width0   int        // of wires, nm; 0: ten pixels
	stamp    geom.Point // size of a stamp, nm; zero: twenty pixels
	axis     float64    // degrees by which the die's own axes are turned against the frame's
	ruler    *picture.Ruler
	drag     drag

	pairs     *pairing
	net       lit
	list      *list
	page      *page
	line      *prompt
	goesOn    continuing     // how the command would go on with the line
	past      []string       // command lines
	lies      below          // what lay under the cursor last
	version   int            // of what is drawn: how often it changed
	walk      int            // step of the walk from 1; 0: none
	walked    map[string]int // acted when the step began
	walkEdits int
	warned    string // what would be lost, when one wanted to leave last

	within          []inside     // the cells that were entered, the last is drawn in
	toCell, toFrame register.Map // between the frame and the cell's coordinates; nil in the die
	arranged        bool         // the drawing was seen once

	sideRows, pageRows int
	edits              int // made since it was opened that stand

	mu      sync.Mutex // guards what follows, which the background shares
	mail    []func(*Desk)
	jobs    map[string]*job
	gen     int
	drawnIn int64 // what the background is to arrange and extract
	workers sync.WaitGroup
}

// message is what the desk says last.
type message struct {
	text  string
	tone  Tone
	usage bool // the line was not understood
}

// Open lays a dossier on the desk. The desk closes neither the dossier nor the composer. The context ends all work in the
// background; edits under way end with an error then.
func Open(ctx context.Context, file *dossier.Dossier, c *picture.Composer, o Options) (*Desk, error) {
	d := &Desk{file: file, composer: c, opt: o, name: strings.TrimSuffix(filepath.Base(file.Path), ".dossier"), acted: map[string]int{},
		base: -1, over: -1, part: 0.5, step: 1, layer: -1, sideRows: 20, pageRows: 20, jobs: map[string]*job{}, aspect: 1,
		snap: snapping{on: true, vertices: true, edges: true, angles: true}, selBox: geom.EmptyRect(), width: 80, height: 48}
	d.ctx, d.stop = context.WithCancel(ctx)
	if err := d.reload(); err != nil {
		d.stop()
		return nil, err
	}
	if len(d.photos) > 0 {
		if err := d.lay(0, -1); err != nil {
			d.stop()
			return nil, err
		}
	}
	for i := range d.photos { // the second one is there to be compared with
		if i > 0 && d.over < 0 {
			d.over = i
		}
	}
	if len(d.layers) > 0 {
		d.layer = 0
	}
	d.start()
	d.look()
	d.changed()
	if o.FirstRun {
		d.beginWalk()
	}
	if why := file.ReadOnly(); why != "" {
		d.warn("the dossier can only be read: %s", why)
	}
	return d, nil
}

// Close ends all background work and waits for it. The dossier has all edits already.
func (d *Desk) Close() error {
	d.stop()
	d.mu.Lock()
	for _, j := range d.jobs {
		j.end()
	}
	d.mu.Unlock()
	d.workers.Wait()
	return nil
}

// Done reports whether the user has ended the work.
func (d *Desk) Done() bool { return d.done }

// Resize says how large the picture is, in px; aspect is how many times as high as wide a px is, columns and rows are the
// character cells of the picture.
func (d *Desk) Resize(width, height int, aspect float64, columns, rows int) {
	first := d.columns == 0
	d.width, d.height, d.aspect, d.columns, d.rows = max(width, 1), max(height, 1), aspect, columns, rows
	if !(d.aspect > 0) {
		d.aspect = 1
	}
	d.fitPanes()
	if first {
		d.look()
	}
}

// Tick tells the time; call it some five times a second, while Ticking. It reports whether the picture has to be drawn anew.
func (d *Desk) Tick(now time.Time) bool {
	d.now = now
	if d.mode == picture.Blink && now.Sub(d.blinked) >= blinkEvery {
		d.second, d.blinked = !d.second, now
		return true
	}
	return false
}

// blinkEvery is how long each of two photographs is seen.
const blinkEvery = 600 * time.Millisecond

// Ticking reports whether the desk wants ticks: something blinks, or work goes on.
func (d *Desk) Ticking() bool {
	busy, _ := d.Busy()
	return d.mode == picture.Blink && d.over >= 0 || busy != ""
}

// say, good, warn and fail set what the foot says.
func (d *Desk) say(format string, args ...any) {
	d.said = message{harmless(fmt.Sprintf(format, args...)), Plain, false}
}
func (d *Desk) good(format string, args ...any) {
	d.said = message{harmless(fmt.Sprintf(format, args...)), Good, false}
}
func (d *Desk) warn(format string, args ...any) {
	d.said = message{harmless(fmt.Sprintf(format, args...)), Caution, false}
}
func (d *Desk) fail(err error) { d.said = message{harmless(err.Error()), Failure, false} }

// try says what went wrong, if anything did, and reports whether nothing did.
func (d *Desk) try(err error) bool {
	if err != nil {
		d.fail(err)
	}
	return err == nil
}

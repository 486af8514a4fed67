package desk

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

// edit does something to the dossier, as one edit that one undo takes back; what goes wrong becomes a message, and nothing is
// changed then. It reports whether it was done.
func (d *Desk) edit(what string, f func(*dossier.Tx) error) bool {
	if !d.try(d.doEdit(what, f)) {
		return false
	}
	d.good("%s", what)
	return true
}

// doEdit is edit for whoever says himself how it went.
func (d *Desk) doEdit(what string, f func(*dossier.Tx) error) error {
	if err := d.editing(); err != nil {
		return err
	}
	if err := d.file.Edit(d.ctx, what, f); err != nil {
		return err
	}
	d.edits++
	d.changed()
	return nil
}

// undo takes back an edit, or does it again.
func (d *Desk) undo(again bool) bool {
	step, said, by := d.file.Undo, "taken back: %s", -1
	if again {
		step, said, by = d.file.Redo, "done again: %s", 1
	}
	if !d.try(d.editing()) {
		return false
	}
	what, err := step(d.ctx)
	switch {
	case errors.Is(err, dossier.ErrNothing) && again:
		d.say("there is nothing to do again")
		return false
	case errors.Is(err, dossier.ErrNothing):
		d.say("there is nothing to take back")
		return false
	case err != nil:
		d.fail(err)
		return false
	}
	d.edits += by
	d.begin(nil)
	d.choose(edit.Selection{}) // ids of what is gone are used again
	deep := len(d.within)
	d.changed()
	if len(d.within) < deep { // what d.changed said of that is not to be lost
		d.warn(said+"; %s", what, d.said.text)
		return true
	}
	d.good(said, what)
	return true
}

// changed is to be called after every edit: what is shown is made anew.
func (d *Desk) changed() {
	before, whole := d.px0(), d.seesAll()
	if err := d.reload(); err != nil {
		d.fail(err)
	}
	if after := d.px0(); before > 0 && after > 0 && math.Abs(after/before-1) > 1e-3 {
		d.look() // the frame has another scale: what was seen lies elsewhere now
	} else if whole && !d.seesAll() {
		d.eyes[0].view = d.eyes[0].view.Fit(d.limits.Die, fitRim) // there is more to be seen now
	}
	d.version++
	d.keepSelected()
	d.keepCarried()
	if d.pairs != nil {
		d.pairs.forget(d)
	}
	d.wake()
	d.refresh()
}

// px0 is how wide a pixel of the first photograph is in the frame; 0 where there is none.
func (d *Desk) px0() float64 {
	if d.base < 0 || d.photos[d.base].shown == nil {
		return 0
	}
	return d.photos[d.base].shown.NmPerPx
}

// reload reads what the desk holds of the dossier beside the drawing.
func (d *Desk) reload() error {
	st, err := d.file.Stack()
	if err != nil {
		return err
	}
	d.stack = st
	d.setLayers(st.LayerNames())
	d.outOfWhatIsGone()
	shots, err := d.file.Shots()
	if err != nil {
		return err
	}
	old := map[int64]*photo{}
	var base, over int64
	for i, p := range d.photos {
		old[p.l.ID] = p
		if i == d.base {
			base = p.l.ID
		}
		if i == d.over {
			over = p.l.ID
		}
	}
	var all []*photo
	d.base, d.over = -1, -1
	for i := range shots {
		l, err := d.file.Locate(&shots[i])
		if err != nil {
			return err
		}
		l = d.seenHere(l)
		p := &photo{l: l, display: shots[i].Display}
		if was := old[l.ID]; was != nil && was.l.SHA256 == l.SHA256 && was.l.Name == l.Name {
			p.display = was.display
			if was.l.Display != l.Display {
				p.display = l.Display
			}
			if was.shown != nil {
				if p.shown, err = was.shown.At(l); err != nil {
					return err
				}
			}
			if l.ID == base {
				d.base = i
			}
			if l.ID == over {
				d.over = i
			}
		}
		all = append(all, p)
	}
	d.photos = all
	if d.base < 0 && len(all) > 0 {
		d.base = 0
		if d.over == 0 {
			d.over = -1
		}
	}
	if d.base >= 0 {
		if err := d.open(d.base); err != nil {
			return err
		}
	}
	if d.mode != 0 && (d.base < 0 || d.over < 0 || !d.photos[d.base].shared() || !d.photos[d.over].shared()) {
		d.mode = 0
	}
	d.bounds()
	return nil
}

// placed is a placement in what is drawn in, with the box around all of its members.
type placed struct {
	id, child int64
	name, how string // an array by its name alone, and how many members it has
	box       geom.Rect
	own       geom.Rect // of its cell
}

// snapshot is a state of the dossier, for the background.
type snapshot struct {
	lib    *layout.Library
	top    *layout.Cell // what is drawn in: the die, or a cell
	cell   int64
	areas  []dossier.Area
	blocks []dossier.Block
	placed []placed
	labels []dossier.Label
}

// take takes a snapshot of what is drawn in a cell.
func take(m dossier.Moment, cell int64) (*snapshot, error) {
	s := &snapshot{cell: cell}
	var err error
	if s.lib, err = m.Library(); err != nil {
		return nil, err
	}
	if s.labels, err = m.Labels(cell); err != nil {
		return nil, err
	}
	if s.blocks, err = m.Blocks(); err != nil {
		return nil, err
	}
	if s.areas, err = m.Areas(); err != nil {
		return nil, err
	}
	placements, err := m.Placements(cell)
	if err != nil {
		return nil, err
	}
	cells, err := m.Cells()
	if err != nil {
		return nil, err
	}
	k := slices.IndexFunc(cells, func(c dossier.Cell) bool { return c.ID == cell })
	if k < 0 || k >= len(s.lib.Cells) {
		return nil, errors.New("the cell that was drawn in is gone")
	}
	if s.top = s.lib.Cells[k]; cell != dossier.Frame {
		s.areas = nil // they are of the die
	}
	top := s.top
	if len(placements) != len(top.Placements) {
		return nil, fmt.Errorf("%s has %d placements and not %d", top.Name, len(top.Placements), len(placements))
	}
	boxes := map[*layout.Cell]geom.Rect{}
	for i := range top.Placements {
		p := &top.Placements[i]
		if _, ok := boxes[p.Cell]; !ok {
			flat, err := layout.Flatten(p.Cell)
			if err != nil {
				return nil, err
			}
			boxes[p.Cell] = flat.Bounds()
		}
		own := boxes[p.Cell]
		name, how := top.InstanceName(i, 0, 0), "placed"
		if columns, rows := p.Members(); columns*rows > 1 {
			name, how = strings.TrimSuffix(name, "[0,0]"), fmt.Sprintf("array of %d × %d", columns, rows)
		}
		s.placed = append(s.placed, placed{placements[i].ID, placements[i].Child, name, how, around(p, own), own})
	}
	return s, nil
}

// around is the box around all members of a placement of a cell whose box is own.
func around(p *layout.Placement, own geom.Rect) geom.Rect {
	box := geom.EmptyRect()
	if own.Empty() {
		return box
	}
	columns, rows := p.Members()
	for _, k := range [4][2]int{{0, 0}, {columns - 1, 0}, {0, rows - 1}, {columns - 1, rows - 1}} {
		box = box.Union(p.Member(k[0], k[1]).Bounds(own))
	}
	return box
}

// drawn is the library with what is drawn in as its first cell, for the picture.
func (s *snapshot) drawn() *layout.Library {
	lib := *s.lib
	lib.Cells = []*layout.Cell{s.top}
	return &lib
}

// circuit is the library for extraction. Traced areas are of the die: of a cell all was looked at.
func (s *snapshot) circuit() *layout.Library {
	if s.cell == dossier.Frame {
		return s.lib
	}
	lib := *s.lib
	lib.Traced = nil
	return &lib
}

// cellNow is what the background is to look at.
func (d *Desk) cellNow() int64 {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.drawnIn
}

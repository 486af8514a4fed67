package desk

import (
	"slices"
	"strings"

	"undermetal/layout/geom"
)

// row is a line of a list with what it leads to.
type row struct {
	Row
	at  geom.Vec
	box geom.Rect
	n   int // which: a layer, photograph, device, net, finding, question; its meaning goes with the list
}

// list is what is open beside the picture.
type list struct {
	kind     string
	title    string
	hint     string
	rows     []row
	plain    []Row // what is shown of them
	selected int
	focus    bool
	of       *live // that the rows are of, where they are the circuit's
}

// ofCircuit are the lists that go with the circuit alone: as long as that is the same, so are they. Some have a hundred thousand rows.
var ofCircuit = []string{"devices", "nets", "checks", "questions", "groups"}

// listKinds are all lists, with the keys that open them (bindings.go) and what they hold.
var listKinds []listKind

type listKind struct {
	kind, title, hint string
	fill              func(*Desk) []row
	act               func(*Desk, row) // what Enter does; nil: go there
}

func init() { // they refer to the table
	listKinds = []listKind{
		{"layers", "layers", "Enter draws on it, h hides, k locks, o alone", (*Desk).layerRows, func(d *Desk, r row) { d.drawOn(r.n) }},
		{"photographs", "photographs", "Enter takes it for the first, o for the second", (*Desk).photoRows, func(d *Desk, r row) { d.takePhoto(r.n) }},
		{"devices", "devices", "Enter goes there, Backspace back", (*Desk).deviceRows, nil},
		{"nets", "nets", "Enter lights it and goes there", (*Desk).netRows, (*Desk).goToNet},
		{"ends", "where the net ends", "Enter goes there, Backspace back", (*Desk).endRows, nil},
		{"checks", "checks", "Enter goes there", (*Desk).checkRows, (*Desk).goToCheck},
		{"questions", "questions", "Enter goes there and shows it in full", (*Desk).questionRows, (*Desk).goToQuestion},
		{"groups", "what groups of devices may be", "Enter goes there, Backspace back", (*Desk).groupRows, nil},
		{"labels", "labels", "Enter goes there, x removes it", (*Desk).labelRows, nil},
		{"notes", "notes", "Enter goes there, x removes it", (*Desk).noteRows, nil},
		{"areas", "what was looked at", "Enter goes there, x removes it", (*Desk).areaRows, nil},
		{"blocks", "block map", "Enter goes there, x removes it", (*Desk).blockRows, nil},
		{"cells", "cells and placements", "Enter goes there", (*Desk).cellRows, nil},
		{"pairs", "control points", "Enter goes there, x takes it away", (*Desk).pairRows, nil},
		{"history", "edits, the last first", "Enter takes back, or does again, up to it", (*Desk).historyRows, (*Desk).goToEdit},
	}
}

// toggleList opens a list and gives it the keys; where it is open already, it is closed.
func (d *Desk) toggleList(kind string) {
	if d.list != nil && d.list.kind == kind {
		if d.list.focus {
			d.list = nil
		} else {
			d.list.focus = true
		}
		return
	}
	d.openList(kind)
}

func (d *Desk) openList(kind string) {
	for _, k := range listKinds {
		if k.kind == kind {
			d.list = &list{kind: kind, title: k.title, hint: k.hint, focus: true}
			d.refresh()
			if len(d.list.rows) == 0 {
				d.say("%s: there are none", k.title)
			}
			return
		}
	}
	d.warn("there is no list %q", kind)
}

// refresh fills the open list anew; the row that was selected stays so, by its number or its text.
func (d *Desk) refresh() {
	l := d.list
	if l == nil || l.of != nil && l.of == d.live {
		return
	}
	var was *row
	if l.selected >= 0 && l.selected < len(l.rows) {
		was = &l.rows[l.selected]
	}
	for _, k := range listKinds {
		if k.kind == l.kind {
			l.rows = k.fill(d)
		}
	}
	if slices.Contains(ofCircuit, l.kind) {
		l.of = d.live
	}
	l.plain = make([]Row, len(l.rows)) // a new one: what was shown may still be held
	for i := range l.rows {
		l.plain[i] = l.rows[i].Row
	}
	if was != nil {
		for i := range l.rows {
			if l.rows[i].Text == was.Text && l.rows[i].n == was.n {
				l.selected = i
				break
			}
		}
	}
	l.selected = max(0, min(l.selected, len(l.rows)-1))
}

// Side is the list beside the picture; nil: none is open.
func (d *Desk) Side() *List {
	if d.list == nil {
		return nil
	}
	l := &List{Title: d.list.title, Selected: d.list.selected, Focus: d.list.focus && d.line == nil && d.page == nil, Hint: d.list.hint, Rows: d.list.plain}
	if len(l.Rows) == 0 {
		l.Selected = -1
	}
	return l
}

// Scroll tells how many lines of a page, and rows of the list, are seen, so that page keys go by as many.
func (d *Desk) Scroll(page, side int) { d.pageRows, d.sideRows = max(page, 1), max(side, 1) }

// ClickSide chooses a row of the list by mouse; twice goes there.
func (d *Desk) ClickSide(row int, twice bool) {
	if d.list == nil || row < 0 || row >= len(d.list.rows) {
		return
	}
	d.list.focus, d.list.selected = true, row
	if twice {
		d.actRow()
	}
}

// moveRow goes up or down the list.
func (d *Desk) moveRow(by int) {
	if d.list != nil {
		d.list.selected = max(0, min(len(d.list.rows)-1, d.list.selected+by))
	}
}

// row is the selected one.
func (d *Desk) row() (row, bool) {
	if d.list == nil || d.list.selected < 0 || d.list.selected >= len(d.list.rows) {
		return row{}, false
	}
	return d.list.rows[d.list.selected], true
}

// actRow does what Enter means on the selected row.
func (d *Desk) actRow() {
	r, ok := d.row()
	if !ok {
		return
	}
	for _, k := range listKinds {
		if k.kind == d.list.kind && k.act != nil {
			k.act(d, r)
			d.refresh()
			return
		}
	}
	d.goToRow(r)
}

func (d *Desk) goToRow(r row) {
	if !r.Place && d.list.kind == "cells" {
		d.say("no placement of its own: those below lie somewhere; } goes into one")
		return
	}
	if !r.Place {
		d.say("%s lies nowhere", r.Text)
		return
	}
	d.jump(r.at, r.box)
}

// nextRow goes to the next row of a list and there; the list is opened where it is not.
func (d *Desk) nextRow(kind string, by int) {
	if d.list == nil || d.list.kind != kind {
		d.openList(kind)
		d.list.focus = false
		by = 0
	}
	d.moveRow(by)
	d.actRow()
}

// find looks for a net, device, label or cell by its name, and goes there.
func (d *Desk) find(name string) error {
	low := strings.ToLower(name)
	for _, exact := range []bool{true, false} {
		for _, kind := range []string{"nets", "devices", "labels", "cells", "notes"} {
			for _, k := range listKinds {
				if k.kind != kind {
					continue
				}
				for i, r := range k.fill(d) {
					text := strings.ToLower(r.Text)
					if exact && text != low && !strings.HasPrefix(text, low+" ") || !exact && !strings.Contains(text, low) || !r.Place && k.act == nil {
						continue
					}
					d.list = &list{kind: k.kind, title: k.title, hint: k.hint}
					d.refresh()
					d.list.selected = min(i, len(d.list.rows)-1)
					d.actRow()
					return nil
				}
			}
		}
	}
	return errorf("nothing is called %q: no net, device, label or cell", name)
}

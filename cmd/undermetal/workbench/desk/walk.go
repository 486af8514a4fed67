package desk

import "fmt"

// walkStep is a step of the walk: what to do, and how one knows that it was done. has says whether the dossier holds what it
// needs; a step that it does not is passed over.
type walkStep struct {
	text string
	ids  []string // of bindings and verbs, one of which is to be used
	done func(*Desk) bool
	has  func(*Desk) bool
}

func photosAre(n int) func(*Desk) bool { return func(d *Desk) bool { return len(d.photos) >= n } }

func editable(d *Desk) bool { return d.file.ReadOnly() == "" && d.inFrame() && len(d.layers) > 0 }

// scaleless reports whether nobody knows how wide a pixel of the first photograph is, and one may say it.
func scaleless(d *Desk) bool { return d.file.ReadOnly() == "" && d.base >= 0 && !d.inFrame() }

// unplaced reports whether the second photograph can be registered on the first one, and is not yet.
func unplaced(d *Desk) bool {
	return d.file.ReadOnly() == "" && d.known() == nil && d.photos[d.over].l.Registration == nil
}

var walkSteps = []walkStep{
	{text: "move the cursor: arrows; with Shift ten times as far, with Alt a tenth", ids: []string{"cursor", "here"}},
	{text: "magnify about it: +, or the wheel; - reduces", ids: []string{"zoom"}},
	{text: "show all again: 0", ids: []string{"all"}},
	{text: "take another photograph: b; B takes the one before again", ids: []string{"photo"}, has: photosAre(2)},
	{text: "more or less contrast: D and W, d and w", ids: []string{"contrast"}, has: photosAre(1)},
	{text: "give it a scale: r, Space at both ends of a known length, :length UM SIGMA; or :calibrate NM SIGMA", done: func(d *Desk) bool { return d.inFrame() }, has: scaleless},
	{text: "go to the station where one registers: 2", done: func(d *Desk) bool { return d.station == registering }, has: photosAre(2)},
	{text: "Space sets a place in one, Space the same one in the other; twice or more", done: func(d *Desk) bool {
		return d.pairs != nil && len(d.pairs.points) >= d.pairs.kind.Points()
	}, has: unplaced},
	{text: "accept the map that follows: a", done: func(d *Desk) bool { return !unplaced(d) }, has: unplaced},
	{text: "go to the station where one traces: 3", done: func(d *Desk) bool { return d.station == tracing }},
	{text: "choose the layer to draw on: ( and ), or F2 for the list", ids: []string{"layer", "layers"}},
	{text: "take the rectangle: r", ids: []string{"draw"}, has: editable},
	{text: "set two corners: move the cursor, Space, move it, Space", done: func(d *Desk) bool { return d.edits > d.walkEdits }, has: editable},
	{text: "take it back: u; U does it again", ids: []string{"undo"}, has: editable},
	{text: "see the nets: F4; Enter lights one and goes there, Backspace comes back", ids: []string{"nets"}},
	{text: "see what is asked: F6; Enter shows a question in full", ids: []string{"questions", "question"}},
	{text: "all keys: ?, and there type what you look for; the command line: :", ids: []string{"help", "command"}},
}

// beginWalk begins the walk from its beginning.
func (d *Desk) beginWalk() {
	d.walk, d.walked = 1, copyOf(d.acted)
	d.walkEdits = d.edits
	d.skip()
}

func copyOf(m map[string]int) map[string]int {
	c := map[string]int{}
	for k, v := range m {
		c[k] = v
	}
	return c
}

// walkOn begins the walk, or passes over a step of it.
func (d *Desk) walkOn() {
	if d.walk == 0 {
		d.beginWalk()
		return
	}
	d.nextStep()
}

func (d *Desk) nextStep() {
	d.walk++
	d.walked, d.walkEdits = copyOf(d.acted), d.edits
	d.skip()
}

// skip passes over steps that the dossier has nothing for.
func (d *Desk) skip() {
	for d.walk > 0 && d.walk <= len(walkSteps) && walkSteps[d.walk-1].has != nil && !walkSteps[d.walk-1].has(d) {
		d.walk++
	}
	if d.walk > len(walkSteps) {
		d.walk = 0
		d.good("that was the walk: F1 begins it anew")
	}
}

// stepWalk goes on where the step was done.
func (d *Desk) stepWalk() {
	if d.walk == 0 {
		return
	}
	s := walkSteps[d.walk-1]
	done := s.done != nil && s.done(d)
	for _, id := range s.ids {
		done = done || d.acted[id] > d.walked[id]
	}
	if done {
		d.nextStep()
	}
}

func (d *Desk) walkText() string {
	return fmt.Sprintf("walk %d of %d: %s", d.walk, len(walkSteps), walkSteps[d.walk-1].text)
}

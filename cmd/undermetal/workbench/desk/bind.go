package desk

import "undermetal/layout/edit"

// station is a step of the job: it says what some of the keys are for.
type station int

const (
	looking station = iota
	registering
	tracing
	asking
	naming
	handing
)

var stationWords = [...]string{"look", "register", "trace", "ask", "name", "hand over"}

// stationHints are the keys that one wants first at a station.
var stationHints = [...]string{
	looking:     "r ruler, D W contrast, b another photograph",
	registering: "Space sets a place in one photograph, then the same in the other; a accepts",
	tracing:     "( ) layer, r rectangle, p polygon, w wire, c stamp, s select, m pick up, l label",
	asking:      "n next question, c next check, a answer",
	naming:      "l label, n note, k a cell of what is selected, p place one",
	handing:     "n netlist, s what the circuit is, e the drawing to a file",
}

// where says when a binding holds.
type where int

const (
	anywhere where = iota
	atLook
	atRegister
	atTrace
	atAsk
	atName
	atHand
	inList
	inPage
	inPrompt
)

var whereWords = [...]string{"everywhere", "1 look", "2 register", "3 trace", "4 ask", "5 name", "6 hand over", "in a list", "on a page", "in the command line"}

// binding is what some keys do.
type binding struct {
	where where
	keys  []string // as Key.String writes them
	what  string   // for the key page
	id    string   // for the walk; what, where it is empty
	do    func(*Desk, Key)
}

// table finds bindings by where and key.
func table() map[where]map[string]*binding {
	t := map[where]map[string]*binding{}
	for i := range bindings {
		b := &bindings[i]
		if t[b.where] == nil {
			t[b.where] = map[string]*binding{}
		}
		for _, k := range b.keys {
			t[b.where][k] = b
		}
	}
	return t
}

// theTable is made once; what bindings do refers to it.
var theTable map[where]map[string]*binding

// Key does what a key means.
func (d *Desk) Key(k Key) {
	if d.done {
		return
	}
	for _, w := range d.wheres() {
		if b := theTable[w][k.String()]; b != nil {
			d.count(b)
			if w != inPrompt || k.Name == "Enter" {
				d.said = message{}
			}
			b.do(d, k)
			d.afterEvent()
			return
		}
		if w == inPrompt {
			if k.Rune != 0 && !k.Ctrl && !k.Alt {
				d.typed(string(k.Rune))
			}
			return
		}
		if w == inPage {
			letter := k.Rune != 0 && !k.Ctrl && !k.Alt
			switch {
			case letter && d.page.keys != nil:
				d.typeOnPage(string(k.Rune))
			case letter, functionKey(k): // what it is beside the page: : after a result, n for the next question
				d.page = nil
				d.Key(k)
			}
			return
		}
	}
	d.say("%s does nothing here: ? lists the keys", k)
}

// functionKey reports whether a key is one of F1 to F12.
func functionKey(k Key) bool { return len(k.Name) > 1 && k.Name[0] == 'F' && k.Name[1] <= '9' }

// wheres are where a key is looked for, in this order.
func (d *Desk) wheres() []where {
	switch {
	case d.line != nil:
		return []where{inPrompt}
	case d.page != nil:
		return []where{inPage}
	}
	at := []where{atLook, atRegister, atTrace, atAsk, atName, atHand}[d.station]
	if d.list != nil && d.list.focus {
		return []where{inList, at, anywhere}
	}
	return []where{at, anywhere}
}

func (d *Desk) count(b *binding) {
	id := b.id
	if id == "" {
		id = b.what
	}
	d.acted[id]++
}

// afterEvent keeps up what goes with any event.
func (d *Desk) afterEvent() {
	if d.list != nil && d.list.kind == "ends" {
		d.refresh()
	}
	d.stepWalk()
}

// enter goes to a station.
func (d *Desk) enter(s station) {
	if s == d.station {
		return
	}
	if s == registering && !d.try(d.onlyInDie("where a photograph lies")) {
		return
	}
	d.begin(nil)
	d.toPicture()
	if d.list != nil && d.list.kind == "pairs" {
		d.list = nil
	}
	d.station, d.eye = s, 0
	if s == registering {
		d.mode = 0
		d.enterPairs()
		if err := d.known(); err != nil {
			d.fail(err)
		}
	}
	d.fitPanes()
	if s != registering {
		d.say("%s: %s", stationWords[s], stationHints[s])
	}
}

// escape gives up what was begun last.
func (d *Desk) escape() {
	switch {
	case d.list != nil && d.list.focus:
		d.list.focus = false
	case len(d.points) > 0:
		d.points = nil
	case d.carry != nil:
		d.carry = nil
		d.say("left where it was")
	case d.tool != nil:
		d.tool = nil
	case d.pairs != nil && d.station == registering && (d.pairs.from != nil || d.pairs.to != nil):
		d.pairs.from, d.pairs.to = nil, nil
	case d.list != nil:
		d.list = nil
	case !d.nothing():
		d.choose(edit.Selection{})
	case d.ruler != nil:
		d.ruler = nil
	case d.net.pinned:
		d.net = lit{}
	case d.walk > 0:
		d.walk = 0
		d.say("the walk is over: F1 begins it anew")
	}
}

// stepBack takes back what was begun, or goes back to where one was.
func (d *Desk) stepBack() {
	if !d.unset() {
		d.goBack()
	}
}

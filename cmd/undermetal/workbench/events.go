package workbench

import (
	"time"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
)

// names are the keys that make no rune.
var names = map[tcell.Key]string{
	tcell.KeyEnter: "Enter", tcell.KeyEscape: "Esc", tcell.KeyTab: "Tab", tcell.KeyBackspace: "Backspace", tcell.KeyBackspace2: "Backspace",
	tcell.KeyDelete: "Delete", tcell.KeyInsert: "Insert", tcell.KeyLeft: "Left", tcell.KeyRight: "Right", tcell.KeyUp: "Up",
	tcell.KeyDown: "Down", tcell.KeyPgUp: "PgUp", tcell.KeyPgDn: "PgDn", tcell.KeyHome: "Home", tcell.KeyEnd: "End",
	tcell.KeyF1: "F1", tcell.KeyF2: "F2", tcell.KeyF3: "F3", tcell.KeyF4: "F4", tcell.KeyF5: "F5", tcell.KeyF6: "F6",
	tcell.KeyF7: "F7", tcell.KeyF8: "F8", tcell.KeyF9: "F9", tcell.KeyF10: "F10", tcell.KeyF11: "F11", tcell.KeyF12: "F12",
}

// keyOf returns a key as the desk knows it; ok is false where it knows none such.
func keyOf(ev *tcell.EventKey) (k desk.Key, ok bool) {
	m := ev.Modifiers()
	k = desk.Key{Ctrl: m&tcell.ModCtrl != 0, Alt: m&(tcell.ModAlt|tcell.ModMeta) != 0, Shift: m&tcell.ModShift != 0}
	switch code := ev.Key(); {
	case code == tcell.KeyRune:
		k.Rune, k.Shift = ev.Rune(), false
		return k, k.Rune >= ' '
	case code == tcell.KeyBacktab:
		k.Name, k.Shift = "Tab", true
		return k, true
	case names[code] != "":
		k.Name = names[code]
		return k, true
	case code >= tcell.KeyCtrlA && code <= tcell.KeyCtrlZ:
		k.Rune, k.Ctrl, k.Shift = 'a'+rune(code-tcell.KeyCtrlA), true, false
		return k, true
	case code == tcell.KeyCtrlSpace:
		k.Rune, k.Ctrl = ' ', true
		return k, true
	}
	return k, false
}

// twice is how soon a second press makes a double one.
const twice = 400 * time.Millisecond

// mouse remembers what a terminal does not say: it tells which buttons are held, not what became of them.
type mouse struct {
	held   int // desk.Left and so on; 0: none
	pressX int
	pressY int
	when   time.Time
}

// deed is what a mouse did, at a cell.
type deed struct {
	kind   desk.MouseKind
	button int
	steps  int // of a wheel
	twice  bool
}

// does says what an event means after those before it.
func (m *mouse) does(ev *tcell.EventMouse) deed {
	x, y := ev.Position()
	b := ev.Buttons()
	switch {
	case b&tcell.WheelUp != 0:
		return deed{kind: desk.Wheel, steps: 1}
	case b&tcell.WheelDown != 0:
		return deed{kind: desk.Wheel, steps: -1}
	}
	button := 0
	switch {
	case b&tcell.Button1 != 0:
		button = desk.Left
	case b&tcell.Button2 != 0: // tcell's second is the right one
		button = desk.Right
	case b&tcell.Button3 != 0:
		button = desk.Middle
	}
	switch was := m.held; {
	case button == 0 && was != 0:
		m.held = 0
		return deed{kind: desk.Release, button: was}
	case button == 0:
		return deed{kind: desk.Move}
	case was == 0:
		m.held = button
		d := deed{kind: desk.Press, button: button}
		d.twice = x == m.pressX && y == m.pressY && ev.When().Sub(m.when) < twice
		m.pressX, m.pressY, m.when = x, y, ev.When()
		return d
	}
	return deed{kind: desk.Drag, button: m.held}
}

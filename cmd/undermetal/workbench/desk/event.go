package desk

import "strings"

// Key is a key that was struck: a rune, or the name of a key that makes none.
type Key struct {
	Rune rune   // 0 where Name says it
	Name string // Enter, Esc, Tab, Backspace, Delete, Insert, Left, Right, Up, Down, PgUp, PgDn, Home, End, F1 to F12
	// Shift of a rune is in the rune itself, as in 'R'; of a named key it is said here.
	Ctrl, Alt, Shift bool
}

// String writes a key as the key page does: "r", "Ctrl+z", "Shift+Left", "Space".
func (k Key) String() string {
	var b strings.Builder
	if k.Ctrl {
		b.WriteString("Ctrl+")
	}
	if k.Alt {
		b.WriteString("Alt+")
	}
	switch {
	case k.Rune == ' ':
		b.WriteString("Space")
	case k.Rune != 0:
		b.WriteRune(k.Rune)
	default:
		if k.Shift {
			b.WriteString("Shift+")
		}
		b.WriteString(k.Name)
	}
	return b.String()
}

// MouseKind says what a mouse did.
type MouseKind int

// What a mouse does. A Drag is a move with a button held.
const (
	Move MouseKind = iota
	Press
	Drag
	Release
	Wheel
)

// The buttons of a mouse.
const (
	Left   = 1
	Middle = 2
	Right  = 3
)

// Mouse is what a mouse did, and where: in px of all panes together, (0, 0) the outer corner of the first px.
type Mouse struct {
	X, Y             float64
	Kind             MouseKind
	Button           int // Left, Middle, Right; 0 where none is held
	Steps            int // of a wheel: above 0 away from the user, which magnifies
	Ctrl, Alt, Shift bool
}

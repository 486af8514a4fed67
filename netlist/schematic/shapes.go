package schematic

import "undermetal/netlist"

// flipped reports whether the terminal that is drawn at the top belongs at the bottom: the first one is the lower pin.
func (y *Symbol) flipped() bool {
	return len(y.Pins) > 1 && len(y.Kind.TerminalNames()) > 0 && y.Pins[0].Terminal != y.Kind.TerminalNames()[0]
}

// outlines returns the lines of a symbol in its local system.
func outlines(y *Symbol) []line {
	up := 1.0 // towards the first terminal
	if y.flipped() {
		up = -1
	}
	switch y.Shape {
	case ResistorShape:
		return []line{poly(0, -2, 0, -1.2), shut(-.45, -1.2, .45, -1.2, .45, 1.2, -.45, 1.2), poly(0, 1.2, 0, 2)}
	case CapacitorShape:
		return []line{poly(0, -2, 0, -.3), poly(-1, -.3, 1, -.3), poly(-1, .3, 1, .3), poly(0, .3, 0, 2)}
	case InductorShape:
		l := []line{poly(0, -2, 0, -1.2), poly(0, 1.2, 0, 2)}
		for i := range 4 {
			var arc line
			for k := range 9 {
				p := round(0, -.9+.6*float64(i), .3).pts[(k+18)%24]
				arc.pts = append(arc.pts, p)
			}
			l = append(l, arc)
		}
		return l
	case DiodeShape, PhotodiodeShape: // the triangle points from the anode to the cathode
		l := []line{poly(0, -2, 0, 2), shut(-.8, -.7*up, .8, -.7*up, 0, .7*up), poly(-.8, .7*up, .8, .7*up)}
		if y.Shape == PhotodiodeShape {
			l = append(l, poly(-2.4, -1.3, -1.1, -.5), poly(-1.55, -.55, -1.1, -.5, -1.3, -.9), poly(-2.4, -.4, -1.1, .4), poly(-1.55, .35, -1.1, .4, -1.3, 0))
		}
		return l
	case VoltageShape:
		return []line{poly(0, -2, 0, 2), round(0, 0, 1)}
	case CurrentShape:
		return []line{poly(0, -2, 0, -1), round(0, 0, 1), poly(-1, 0, 1, 0), poly(0, 1, 0, 2)}
	case BipolarShape:
		return []line{poly(-2, 0, -1, 0), poly(-1, -1, -1, 1), poly(-1, -.4, 0, -1.2, 0, -2), poly(-1, .4, 0, 1.2, 0, 2)}
	}
	l := []line{poly(-2, 0, -1.25, 0), poly(-1.25, -1, -1.25, 1), // gate
		poly(-.8, -1.15, -.8, -.6), poly(-.8, -.28, -.8, .28), poly(-.8, .6, -.8, 1.15), // the channel of an enhancement type
		poly(-.8, -.87, 0, -.87, 0, -2), poly(-.8, .87, 0, .87, 0, 2)}
	if y.Bulk {
		return append(l, poly(-.8, 0, 1, 0))
	}
	return append(l, poly(-.8, 0, -.1, 0))
}

// solids returns what is filled: the arrow on the bulk, towards the channel of an n type and away from it of a p type.
func solids(y *Symbol) []line {
	switch {
	case y.Shape == MOSShape && y.Kind == netlist.NMOS:
		return []line{shut(-.75, 0, -.3, -.22, -.3, .22)}
	case y.Shape == MOSShape && y.Kind == netlist.PMOS:
		return []line{shut(-.1, 0, -.55, -.22, -.55, .22)}
	case y.Shape == BipolarShape:
		return []line{shut(-.15, 1.08, -.65, .95, -.4, .65)}
	}
	return nil
}

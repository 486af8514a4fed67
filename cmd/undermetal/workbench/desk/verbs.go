package desk

import (
	"errors"
	"math"
	"slices"
	"strconv"
	"strings"

	"undermetal/layout/geom"
)

// errUsage is a verb that was called the wrong way.
var errUsage = errors.New("usage")

// verb is a verb of the desk's own.
type verb struct {
	name, args, what string
	complete         func(d *Desk, before []string) []Candidate
	do               func(d *Desk, args []string) error
}

var verbs []verb

func verbNamed(name string) *verb {
	if i := slices.IndexFunc(verbs, func(v verb) bool { return v.name == name }); i >= 0 {
		return &verbs[i]
	}
	return nil
}

func init() { // they refer to the table
	verbs = []verb{
		{"go", "X,Y", "go to a place, in µm", nil, (*Desk).goTo},
		{"at", "X,Y[px]", "set the cursor to a place, in µm, or to a pixel of the photograph that it is in", nil, (*Desk).cursorTo},
		{"clip", "", "take the cursor's place to the system's clipboard", nil, none((*Desk).clipPlace)},
		{"here", "", "set a corner at the cursor, put down, select", nil, none(func(d *Desk) error { d.here(); return nil })},
		{"done", "", "end what is being drawn", nil, none(func(d *Desk) error { d.enterKey(); return nil })},
		{"zoom", "NM", "show so many nm a px", nil, one(func(d *Desk, v float64) error {
			if !(v > 0) {
				return errUsage
			}
			d.zoom(d.at().view.NmPerPx / v)
			return nil
		})},
		{"turn", "DEGREES", "turn the picture", nil, one(func(d *Desk, v float64) error { d.turn(v); return nil })},
		{"axis", "DEGREES", "by how much the die's own axes are turned against the frame's", nil, one(func(d *Desk, v float64) error {
			d.axis = math.Mod(v, 360)
			return nil
		})},
		{"all", "", "show all", nil, none(func(d *Desk) error { d.fitAll(); return nil })},
		{"step", "PX", "how far a step of the cursor is, in px of the photograph", nil, one(func(d *Desk, v float64) error {
			if !(v >= 1.0/64 && v <= 1024) {
				return errorf("a step of %g px: give one from 1/64 to 1024", v)
			}
			d.step = v
			return nil
		})},
		{"station", "look|register|trace|ask|name|hand", "go to a station", wordsOf("look", "register", "trace", "ask", "name", "hand"), (*Desk).stationVerb},
		{"base", "SHOT", "the first photograph", (*Desk).shotCandidates, (*Desk).baseVerb},
		{"over", "SHOT", "the second photograph", (*Desk).shotCandidates, (*Desk).overVerb},
		{"show", "alone|blend|blink|split", "how both are shown", wordsOf(modeWords[:]...), (*Desk).showVerb},
		{"part", "0…1", "how much of the second photograph", nil, one(func(d *Desk, v float64) error { d.part = max(0, min(1, v)); return nil })},
		{"contrast", "BLACK WHITE [GAMMA]", "what is shown as black and as white, from 0 to 1", nil, (*Desk).contrastVerb},
		{"channel", "all|red|green|blue", "which channel is shown", wordsOf("all", "red", "green", "blue"), (*Desk).channelVerb},
		{"layer", "LAYER", "draw on a layer", (*Desk).layerCandidates, (*Desk).layerVerb},
		{"hide", "LAYER…", "hide layers, or show them", (*Desk).layerCandidates, (*Desk).hideVerb},
		{"lock", "LAYER…", "lock layers, so that nothing on them is changed", (*Desk).layerCandidates, lockVerb(true)},
		{"unlock", "LAYER…", "open locked layers", (*Desk).layerCandidates, lockVerb(false)},
		{"snap", "on|off|[vertex] [edge] [angle] [grid UM]", "what points are drawn to", wordsOf("on", "off", "vertex", "edge", "angle", "grid"), func(d *Desk, a []string) error {
			if len(a) == 0 {
				return errUsage
			}
			return d.snap.set(a)
		}},
		{"width", "UM", "width of wires", nil, one(func(d *Desk, v float64) error { return setLength(&d.width0, v) })},
		{"size", "X[,Y]", "size of stamps, in µm", nil, (*Desk).sizeVerb},
		{"tool", "NAME", "take up a tool", (*Desk).toolCandidates, (*Desk).toolVerb},
		{"rectangle", "X,Y X,Y", "draw one", nil, drawVerb("rectangle")},
		{"polygon", "X,Y X,Y X,Y…", "draw one", nil, drawVerb("polygon")},
		{"wire", "X,Y X,Y…", "draw one", nil, drawVerb("wire")},
		{"stamp", "X,Y…", "stamp rectangles", nil, drawVerb("stamp")},
		{"stampfill", "X,Y X,Y PITCH", "stamp as many as a box holds, at a pitch x,y in µm", nil, (*Desk).stampFill},
		{"area", "X,Y X,Y X,Y…", "say what was looked at on the layer", nil, drawVerb("area")},
		{"split", "X,Y X,Y", "split what is selected along a line", nil, drawVerb("cut")},
		{"subtract", "X,Y X,Y X,Y…", "take away what a polygon covers", nil, drawVerb("subtract")},
		{"ruler", "X,Y X,Y", "measure", nil, drawVerb("ruler")},
		{"select", "here|more|all|none|layer LAYER|box X,Y X,Y", "select", (*Desk).selectCandidates, (*Desk).selectVerb},
		{"move", "X,Y", "move what is selected, by µm", nil, by((*Desk).moveSelected)},
		{"duplicate", "X,Y", "draw it once more, moved by µm", nil, by((*Desk).duplicate)},
		{"copy", "", "take a copy", nil, none((*Desk).copySelected)},
		{"cut", "", "cut out", nil, none((*Desk).cutOut)},
		{"paste", "[X,Y]", "put down what was copied", nil, (*Desk).pasteVerb},
		{"mirror", "DEGREES", "mirror what is selected at a line that rises so", nil, one((*Desk).mirrorSelected)},
		{"rotate", "DEGREES", "turn what is selected, counterclockwise", nil, one((*Desk).turnSelected)},
		{"merge", "", "merge shapes that touch", nil, none((*Desk).mergeSelected)},
		{"resolve", "", "make what is selected valid", nil, none((*Desk).resolveSelected)},
		{"delete", "", "delete what is selected", nil, none((*Desk).deleteSelected)},
		{"insert", "", "insert a corner into the edge under the cursor", nil, none((*Desk).insertCorner)},
		{"remove", "", "remove the corner under the cursor", nil, none((*Desk).removeCorner)},
		{"pick", "", "pick up a corner, an edge, or what is selected", nil, none(func(d *Desk) error { d.pickUp(); return nil })},
		{"light", "", "light the net under the cursor, or let it go", nil, none(func(d *Desk) error { d.pinNet(); return nil })},
		{"back", "", "go back to where you were", nil, none(func(d *Desk) error { d.goBack(); return nil })},
		{"keep", "", "keep how the photograph is shown", nil, none(func(d *Desk) error { d.keepDisplay(); return nil })},
		{"drop", "", "take away the nearest pair", nil, none(func(d *Desk) error { d.dropPair(); return nil })},
		{"question", "", "the question here in full", nil, none(func(d *Desk) error { d.questionInFull(); return nil })},
		{"label", "NAME", "name what lies under the cursor", (*Desk).nameCandidates, text((*Desk).nameHere)},
		{"unlabel", "", "remove the label under the cursor", nil, none((*Desk).unname)},
		{"note", "TEXT", "pin a note here", nil, text((*Desk).noteHere)},
		{"cell", "NAME", "make a cell of what is selected", nil, text((*Desk).makeCell)},
		{"place", "CELL", "place a cell here", (*Desk).cellCandidates, text((*Desk).placeCell)},
		{"array", "COLUMNS ROWS X,Y X,Y", "make an array of a placement, with the pitch of columns and of rows in µm", nil, (*Desk).arrayVerb},
		{"odd", "COLUMN,ROW NAME", "make one member of an array a cell of its own", nil, (*Desk).oddVerb},
		{"into", "[COLUMN,ROW]", "draw inside the placed cell under the cursor: all its placements follow", nil, (*Desk).intoVerb},
		{"out", "", "come back to what the cell is placed in", nil, none((*Desk).comeOut)},
		{"explode", "", "take a placement apart", nil, none((*Desk).explode)},
		{"find", "NAME", "find a net, device, label or cell", (*Desk).nameCandidates, text((*Desk).find)},
		{"list", "KIND", "open a list", (*Desk).listCandidates, text(func(d *Desk, s string) error { d.openList(s); return nil })},
		{"answer", "READING|open", "answer the question here", (*Desk).readingCandidates, text((*Desk).answerVerb)},
		{"pair", "X,Y", "the place of the frame for the cursor's place in the second photograph", nil, (*Desk).pairVerb},
		{"map", "KIND", "the kind of map that pairs are fitted with", wordsOf("similarity", "affine", "projective", "spline"), (*Desk).mapVerb},
		{"accept", "", "register the second photograph by its pairs", nil, none((*Desk).accept)},
		{"calibrate", "NM SIGMA", "how wide a pixel of the first photograph is, in nm, and how uncertain that is: its scale", nil, (*Desk).calibrateVerb},
		{"length", "UM [SIGMA]", "how long in µm is what the ruler lies along: gives the first photograph its scale", nil, (*Desk).lengthVerb},
		{"undo", "[N]", "take edits back", nil, steps(false)},
		{"redo", "[N]", "do them again", nil, steps(true)},
		{"stop", "", "end the verb that is running", nil, none(func(d *Desk) error { d.stopCommand(); return nil })},
		{"keys", "", "what the keys do", nil, none(func(d *Desk) error { d.showKeys(); return nil })},
		{"walk", "", "the walk of five minutes", nil, none(func(d *Desk) error { d.beginWalk(); return nil })},
		{"quit", "", "leave; every edit is kept already", nil, none(func(d *Desk) error { d.leave(); return nil })},
	}
}

// The ways to read arguments.
func none(f func(*Desk) error) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		if len(a) > 0 {
			return errUsage
		}
		return f(d)
	}
}

func one(f func(*Desk, float64) error) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		if len(a) != 1 {
			return errUsage
		}
		v, err := number(a[0])
		if err != nil {
			return err
		}
		return f(d, v)
	}
}

func text(f func(*Desk, string) error) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		if len(a) == 0 {
			return errUsage
		}
		return f(d, strings.Join(a, " "))
	}
}

func by(f func(*Desk, geom.Point) error) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		if len(a) != 1 {
			return errUsage
		}
		v, err := framePoint(a[0])
		if err != nil {
			return err
		}
		return f(d, v.Round())
	}
}

func steps(again bool) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		n := 1
		if len(a) == 1 {
			var err error
			if n, err = strconv.Atoi(a[0]); err != nil || n < 1 {
				return errUsage
			}
		} else if len(a) > 1 {
			return errUsage
		}
		for range n {
			if !d.undo(again) {
				break
			}
		}
		return nil
	}
}

func drawVerb(name string) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		pts, err := d.framePoints(a)
		if err != nil {
			return err
		}
		t := toolNamed(name)
		if len(pts) < t.least || t.most > 1 && len(pts) > t.most {
			return errUsage
		}
		return t.finish(d, pts)
	}
}

func setLength(to *int, um float64) error {
	v := geom.RoundHalfUp(um * 1000)
	if v < 1 || v > geom.Limit {
		return errorf("%g µm: give 0.001 µm or more, within the frame", um)
	}
	*to = v
	return nil
}

func wordsOf(words ...string) func(*Desk, []string) []Candidate {
	return func(*Desk, []string) (out []Candidate) {
		for _, w := range words {
			out = append(out, Candidate{Text: w})
		}
		return out
	}
}

func lockVerb(on bool) func(*Desk, []string) error {
	return func(d *Desk, a []string) error {
		if len(a) == 0 {
			return errUsage
		}
		for _, name := range a {
			i, err := d.layerNamed(name)
			if err != nil {
				return err
			}
			d.layers[i].Locked = on
		}
		d.refresh()
		return nil
	}
}

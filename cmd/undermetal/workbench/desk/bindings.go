package desk

import (
	"math"

	"undermetal/layout/shot"
)

// bindings is the one table of keys: dispatch and the key page come from it. It is filled once, by init, as what it holds refers to
// it.
var bindings []binding

func init() {
	bindings = []binding{
		{anywhere, []string{"Left", "Right", "Up", "Down"}, "move the cursor by a step", "cursor", arrow(1)},
		{anywhere, []string{"Shift+Left", "Shift+Right", "Shift+Up", "Shift+Down"}, "by ten steps", "cursor", arrow(10)},
		{anywhere, []string{"Alt+Left", "Alt+Right", "Alt+Up", "Alt+Down"}, "by a tenth of a step", "cursor", arrow(0.1)},
		{anywhere, []string{"[", "]"}, "halve or double the step", "step", func(d *Desk, k Key) { d.scaleStep(sign(k, ']')) }},
		{anywhere, []string{"Ctrl+Left", "Ctrl+Right", "Ctrl+Up", "Ctrl+Down"}, "move the picture by a quarter", "pan", panKey},
		{anywhere, []string{"PgUp", "PgDn"}, "move the picture up or down by three quarters", "pan", func(d *Desk, k Key) { d.pan(0, 0.75*named(k, "PgUp")) }},
		{anywhere, []string{"+", "-"}, "magnify or reduce about the cursor", "zoom", func(d *Desk, k Key) { d.zoom(math.Pow(2, 0.5*sign(k, '+'))) }},
		{anywhere, []string{"0", "Home"}, "show all", "all", func(d *Desk, _ Key) { d.fitAll() }},
		{anywhere, []string{"."}, "bring the cursor into the middle", "", func(d *Desk, _ Key) { e := d.at(); e.view = e.view.Centre(e.cursor) }},
		{anywhere, []string{"<", ">"}, "turn by 15°", "turn", func(d *Desk, k Key) { d.turn(-15 * sign(k, '>')) }},
		{anywhere, []string{"^"}, "upright, along the die's axes", "turn", func(d *Desk, _ Key) { d.turn(-d.at().view.Turn - d.axis) }},
		{anywhere, []string{"Space"}, "here: set a corner, put down, select", "here", func(d *Desk, _ Key) { d.here() }},
		{anywhere, []string{"Enter"}, "done: end what is being drawn", "done", func(d *Desk, _ Key) { d.enterKey() }},
		{anywhere, []string{"Esc"}, "give up what was begun last", "", func(d *Desk, _ Key) { d.escape() }},
		{anywhere, []string{"Backspace"}, "take the last corner back; else go back to where you were", "back", func(d *Desk, _ Key) { d.stepBack() }},
		{anywhere, []string{"Tab"}, "give the keys to the list, or to the picture; to the other photograph", "tab", func(d *Desk, _ Key) { d.tab() }},
		{anywhere, []string{"u", "Ctrl+z"}, "take back the last edit", "undo", func(d *Desk, _ Key) { d.undo(false) }},
		{anywhere, []string{"U", "Ctrl+y"}, "do it again", "redo", func(d *Desk, _ Key) { d.undo(true) }},
		{anywhere, []string{"1", "2", "3", "4", "5", "6"}, "look, register, trace, ask, name, hand over", "station", func(d *Desk, k Key) { d.enter(station(k.Rune - '1')) }},
		{anywhere, []string{"b", "B"}, "next or previous photograph", "photo", func(d *Desk, k Key) { d.nextBase(int(sign(k, 'b'))) }},
		{anywhere, []string{"o", "O"}, "next or previous second photograph", "photo", func(d *Desk, k Key) { d.nextOver(int(sign(k, 'o'))) }},
		{anywhere, []string{"v"}, "show both photographs: alone, blend, blink, split", "mode", func(d *Desk, _ Key) { d.nextMode() }},
		{anywhere, []string{",", ";"}, "less or more of the second photograph", "part", func(d *Desk, k Key) { d.morePart(0.05 * sign(k, ';')) }},
		{anywhere, []string{"(", ")"}, "draw on the layer before or after", "layer", func(d *Desk, k Key) { d.nextLayer(int(sign(k, ')'))) }},
		{anywhere, []string{"g"}, "snapping on or off", "snap", func(d *Desk, _ Key) { d.snap.on = !d.snap.on; d.say("snapping is %s", onOff(d.snap.on)) }},
		{anywhere, []string{"z"}, "light the net under the cursor until z again", "net", func(d *Desk, _ Key) { d.pinNet() }},
		{anywhere, []string{"E"}, "list where the lit net ends", "ends", func(d *Desk, _ Key) { d.toggleList("ends") }},
		{anywhere, []string{"/"}, "find a net, device, label or cell", "find", func(d *Desk, _ Key) { d.ask("find ") }},
		{anywhere, []string{":"}, "command line", "command", func(d *Desk, _ Key) { d.ask("") }},
		{anywhere, []string{"?"}, "this page; there type what you look for", "help", func(d *Desk, _ Key) { d.showKeys() }},
		{anywhere, []string{"}"}, "into the placed cell under the cursor: what is drawn there is drawn in all its placements", "into", does(func(d *Desk) error { return d.goInto(nil) })},
		{anywhere, []string{"{"}, "out of it, back to what it is placed in", "into", does((*Desk).comeOut)},
		{anywhere, []string{"F1"}, "the walk of five minutes; its next step", "", func(d *Desk, _ Key) { d.walkOn() }},
		{anywhere, []string{"F2"}, "layers", "layers", toggles("layers")},
		{anywhere, []string{"F3"}, "devices", "devices", toggles("devices")},
		{anywhere, []string{"F4"}, "nets", "nets", toggles("nets")},
		{anywhere, []string{"F5"}, "checks and warnings", "checks", toggles("checks")},
		{anywhere, []string{"F6"}, "questions", "questions", toggles("questions")},
		{anywhere, []string{"G"}, "what groups of devices may be", "groups", toggles("groups")},
		{anywhere, []string{"F7"}, "labels", "labels", toggles("labels")},
		{anywhere, []string{"F8"}, "notes", "notes", toggles("notes")},
		{anywhere, []string{"F9"}, "photographs", "photographs", toggles("photographs")},
		{anywhere, []string{"F10"}, "edits", "history", toggles("history")},
		{anywhere, []string{"F11"}, "cells and placements", "cells", toggles("cells")},
		{anywhere, []string{"F12"}, "what was looked at: traced areas", "areas", toggles("areas")},
		{anywhere, []string{"Ctrl+l"}, "draw the screen anew", "", func(*Desk, Key) {}}, // the terminal's side does it
		{anywhere, []string{"Ctrl+q", "Ctrl+c"}, "leave; every edit is kept already", "", func(d *Desk, _ Key) { d.leave() }},

		{atLook, []string{"r"}, "ruler", "ruler", takes("ruler")},
		{atLook, []string{"x"}, "take the way between two points for one of the die's axes", "axis", takes("axis")},
		{atLook, []string{"d", "D"}, "less or more is black", "contrast", func(d *Desk, k Key) { d.shownAs(func(s *shot.Display) { s.Low += 0.02 * sign(k, 'D') }) }},
		{atLook, []string{"w", "W"}, "less or more is white", "contrast", func(d *Desk, k Key) { d.shownAs(func(s *shot.Display) { s.High -= 0.02 * sign(k, 'W') }) }},
		{atLook, []string{"y", "Y"}, "gamma", "contrast", func(d *Desk, k Key) { d.shownAs(func(s *shot.Display) { s.Gamma = gamma(s.Gamma, sign(k, 'Y')) }) }},
		{atLook, []string{"c"}, "all channels, red, green, blue", "contrast", func(d *Desk, _ Key) { d.shownAs(func(s *shot.Display) { s.Channel = (s.Channel + 1) % 4 }) }},
		{atLook, []string{"a"}, "as it was stored", "", func(d *Desk, _ Key) { d.shownAs(func(s *shot.Display) { *s = d.photos[d.base].l.Display }) }},
		{atLook, []string{"k"}, "keep how it is shown", "", func(d *Desk, _ Key) { d.keepDisplay() }},
		{atLook, []string{"h"}, "hide or show the layer under the cursor", "hide", func(d *Desk, _ Key) { d.hideHere() }},

		{atRegister, []string{"v"}, "side by side, one at a time, one over the other", "", func(d *Desk, _ Key) { d.nextBeside() }},
		{atRegister, []string{"t"}, "another kind of map", "", func(d *Desk, _ Key) { d.nextKind() }},
		{atRegister, []string{"x", "Delete"}, "take away the nearest pair", "", func(d *Desk, _ Key) { d.dropPair() }},
		{atRegister, []string{"l"}, "list the pairs", "", toggles("pairs")},
		{atRegister, []string{"p"}, "type the place of the frame", "", func(d *Desk, _ Key) { d.ask("pair ") }},
		{atRegister, []string{"a"}, "accept the map", "accept", func(d *Desk, _ Key) { d.try(d.accept()) }},

		{atTrace, []string{"r"}, "rectangle along the die's axes", "draw", takes("rectangle")},
		{atTrace, []string{"p"}, "polygon", "draw", takes("polygon")},
		{atTrace, []string{"w"}, "wire", "draw", takes("wire")},
		{atTrace, []string{"W"}, "width of wires, in µm", "", func(d *Desk, _ Key) { d.ask("width ") }},
		{atTrace, []string{"c"}, "stamp, as for contacts", "draw", takes("stamp")},
		{atTrace, []string{"C"}, "size of stamps, in µm", "", func(d *Desk, _ Key) { d.ask("size ") }},
		{atTrace, []string{"s"}, "select what lies under the cursor", "select", func(d *Desk, _ Key) { d.begin(nil); d.click(false) }},
		{atTrace, []string{"S"}, "select it too, or let go of it", "select", func(d *Desk, _ Key) { d.begin(nil); d.click(true) }},
		{atTrace, []string{"a"}, "select what lies in a box", "select", takes("box")},
		{atTrace, []string{"m"}, "pick up a corner, an edge, or what is selected", "pick", func(d *Desk, _ Key) { d.pickUp() }},
		{atTrace, []string{"i"}, "insert a corner into the edge under the cursor", "", does((*Desk).insertCorner)},
		{atTrace, []string{"I"}, "remove the corner under the cursor", "", does((*Desk).removeCorner)},
		{atTrace, []string{"d", "Delete"}, "delete what is selected", "delete", does((*Desk).deleteSelected)},
		{atTrace, []string{"t"}, "take a copy", "", does((*Desk).copySelected)},
		{atTrace, []string{"x"}, "cut out", "", does((*Desk).cutOut)},
		{atTrace, []string{"y"}, "put down what was copied or cut out", "", func(d *Desk, _ Key) { d.carryClip() }},
		{atTrace, []string{"h"}, "mirror left and right", "", func(d *Desk, _ Key) { d.try(d.mirrorSelected(90)) }},
		{atTrace, []string{"H"}, "mirror up and down", "", func(d *Desk, _ Key) { d.try(d.mirrorSelected(0)) }},
		{atTrace, []string{"q", "Q"}, "turn by a quarter, counterclockwise or clockwise", "", func(d *Desk, k Key) { d.try(d.turnSelected(90 * sign(k, 'q'))) }},
		{atTrace, []string{"j"}, "join: merge shapes that touch", "", does((*Desk).mergeSelected)},
		{atTrace, []string{"k"}, "split along a line", "", takes("cut")},
		{atTrace, []string{"f"}, "take away what a polygon covers", "", takes("subtract")},
		{atTrace, []string{"e"}, "say what was looked at: an area of the layer", "", takes("area")},
		{atTrace, []string{"l"}, "label", "label", func(d *Desk, _ Key) { d.ask("label ") }},

		{atAsk, []string{"n", "N"}, "next or previous question", "question", func(d *Desk, k Key) { d.nextRow("questions", int(sign(k, 'n'))) }},
		{atAsk, []string{"s"}, "the question here in full", "question", func(d *Desk, _ Key) { d.questionInFull() }},
		{atAsk, []string{"a"}, "answer it by a word", "answer", func(d *Desk, _ Key) { d.ask("answer ") }},
		{atAsk, []string{"c", "C"}, "next or previous check", "check", func(d *Desk, k Key) { d.nextRow("checks", int(sign(k, 'c'))) }},
		{atAsk, []string{"d", "D"}, "next or previous device", "", func(d *Desk, k Key) { d.nextRow("devices", int(sign(k, 'd'))) }},

		{atName, []string{"l"}, "label what lies under the cursor", "label", func(d *Desk, _ Key) { d.ask("label ") }},
		{atName, []string{"x", "Delete"}, "remove the label under the cursor", "", does((*Desk).unname)},
		{atName, []string{"n"}, "pin a note here", "note", func(d *Desk, _ Key) { d.ask("note ") }},
		{atName, []string{"k"}, "make a cell of what is selected", "", func(d *Desk, _ Key) { d.ask("cell ") }},
		{atName, []string{"p"}, "place a cell here", "", func(d *Desk, _ Key) { d.ask("place ") }},
		{atName, []string{"m"}, "block map: regions named after a block diagram", "blocks", toggles("blocks")},
		{atName, []string{"M"}, "name a region", "", func(d *Desk, _ Key) { d.ask("blocks set ") }},
		{atName, []string{"s"}, "select what lies under the cursor", "select", func(d *Desk, _ Key) { d.click(false) }},
		{atName, []string{"d"}, "draw the circuit, in characters, with the names of all nets", "", func(d *Desk, _ Key) { d.obey("schematic --text --names") }},

		{atHand, []string{"n"}, "write the netlist", "", func(d *Desk, _ Key) { d.ask("extract --spice ") }},
		{atHand, []string{"s"}, "what the circuit is, in short", "", func(d *Desk, _ Key) { d.obey("extract") }},
		{atHand, []string{"d"}, "draw the circuit, in characters", "", func(d *Desk, _ Key) { d.obey("schematic --text") }},
		{atHand, []string{"D"}, "draw it as SVG", "", func(d *Desk, _ Key) { d.ask("schematic --out ") }},
		{atHand, []string{"e"}, "write the drawing", "", func(d *Desk, _ Key) { d.ask("trace export ") }},

		{inList, []string{"Up", "Down"}, "choose a row", "", func(d *Desk, k Key) { d.moveRow(-int(named(k, "Up"))) }},
		{inList, []string{"PgUp", "PgDn"}, "by a screen", "", func(d *Desk, k Key) { d.moveRow(-int(named(k, "PgUp")) * max(1, d.sideRows-1)) }},
		{inList, []string{"Home", "End"}, "the first or the last", "", func(d *Desk, k Key) { d.moveRow(-int(named(k, "Home")) * math.MaxInt32) }},
		{inList, []string{"Enter"}, "go there, or what the list says", "row", func(d *Desk, _ Key) { d.actRow() }},
		{inList, []string{"h", "k", "o", "x", "d"}, "what the list says below", "", func(d *Desk, k Key) { d.rowKey(k) }},

		{inPage, []string{"Up", "Down"}, "choose, or read on", "", func(d *Desk, k Key) { d.page.move(-int(named(k, "Up"))) }},
		{inPage, []string{"PgUp", "PgDn"}, "by a screen", "", func(d *Desk, k Key) { d.page.scroll(-int(named(k, "PgUp")) * max(1, d.pageRows-1)) }},
		{inPage, []string{"Home", "End"}, "the beginning or the end", "", func(d *Desk, k Key) { d.page.scroll(-int(named(k, "Home")) * len(d.page.Lines)) }},
		{inPage, []string{"Enter"}, "take what is chosen", "", func(d *Desk, _ Key) { d.pageEnter() }},
		{inPage, []string{"Esc"}, "close it", "", func(d *Desk, _ Key) { d.closePage() }},
		{inPage, []string{"Backspace", "?", "Space"}, "close it; on the page of keys: a letter less, all stations, a blank", "", func(d *Desk, k Key) { d.pageKey(k) }},
		{inPage, []string{"Ctrl+q", "Ctrl+c"}, "leave", "", func(d *Desk, _ Key) { d.leave() }},

		{inPrompt, []string{"Enter"}, "obey", "", func(d *Desk, _ Key) { d.enterLine() }},
		{inPrompt, []string{"Esc", "Ctrl+c"}, "close it", "", func(d *Desk, _ Key) { d.line = nil }},
		{inPrompt, []string{"Tab", "Shift+Tab"}, "take a word that fits, and the next one", "", func(d *Desk, k Key) { d.line.next(d, k.Shift) }},
		{inPrompt, []string{"Left", "Right"}, "move in the line", "", func(d *Desk, k Key) { d.line.move(d, -int(named(k, "Left"))) }},
		{inPrompt, []string{"Home", "End"}, "to its ends", "", func(d *Desk, k Key) { d.line.move(d, -int(named(k, "Home"))*1<<20) }},
		{inPrompt, []string{"Up", "Down"}, "lines that were obeyed before", "", func(d *Desk, k Key) { d.line.recall(d, -int(named(k, "Up"))) }},
		{inPrompt, []string{"Backspace", "Delete"}, "take away a letter", "", func(d *Desk, k Key) { d.line.erase(d, k.Name == "Delete") }},
		{inPrompt, []string{"Ctrl+u"}, "take away all", "", func(d *Desk, _ Key) { d.line.set(d, "") }},
	}
	theTable = table()
}

// sign is 1 for a rune and -1 for any other.
func sign(k Key, up rune) float64 {
	if k.Rune == up {
		return 1
	}
	return -1
}

// named is 1 for a named key and -1 for any other.
func named(k Key, up string) float64 {
	if k.Name == up {
		return 1
	}
	return -1
}

func arrow(times float64) func(*Desk, Key) {
	return func(d *Desk, k Key) {
		way := map[string][2]float64{"Left": {-1, 0}, "Right": {1, 0}, "Up": {0, 1}, "Down": {0, -1}}[k.Name]
		d.nudge(way[0], way[1], times)
	}
}

func panKey(d *Desk, k Key) {
	way := map[string][2]float64{"Left": {-1, 0}, "Right": {1, 0}, "Up": {0, 1}, "Down": {0, -1}}[k.Name]
	d.pan(way[0]*0.25, way[1]*0.25)
}

func toggles(kind string) func(*Desk, Key) { return func(d *Desk, _ Key) { d.toggleList(kind) } }

func takes(tool string) func(*Desk, Key) { return func(d *Desk, _ Key) { d.begin(toolNamed(tool)) } }

func does(f func(*Desk) error) func(*Desk, Key) { return func(d *Desk, _ Key) { d.try(f(d)) } }

func onOff(on bool) string {
	if on {
		return "on"
	}
	return "off"
}

func gamma(was, up float64) float64 {
	return max(0.1, min(10, math.Round(was*math.Pow(1.1, up)*100)/100))
}

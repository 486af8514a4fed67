package desk

import (
	"fmt"
	"strings"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/netlist"
)

// Head is the line above: the dossier, photographs, what the keys are for, how large things are shown. What goes on in the background is told
// by Busy.
func (d *Desk) Head() []Span {
	s := []Span{{harmless(d.name), Strong}, {"  ", Plain}, {fmt.Sprintf("%d %s", d.station+1, stationWords[d.station]), Marked}, {"  ", Plain}}
	if why := d.file.ReadOnly(); why != "" {
		s = append(s, Span{"read only  ", Caution})
	}
	if text := d.cellTitle(); text != "" {
		s = append(s, Span{"inside " + text + "  ", Caution})
	}
	shots := d.shotName(d.base)
	switch {
	case shots == "":
		shots = "no photograph"
	case d.beside():
		shots += " │ " + d.shotName(d.over)
	case d.mode == picture.Blend:
		shots += fmt.Sprintf(" + %.0f %% %s", 100*d.part, d.shotName(d.over))
	case d.mode == picture.Blink && d.second:
		shots = d.shotName(d.over) + " (blink)"
	case d.mode == picture.Blink:
		shots += " (blink)"
	case d.mode == picture.Split:
		shots += fmt.Sprintf(" │ %.0f %% %s", 100*d.part, d.shotName(d.over))
	}
	s = append(s, Span{harmless(shots), Plain}, Span{"  ", Plain}, Span{d.zoomText(), Quiet})
	if d.station == tracing || d.tool != nil && d.tool.layer {
		s = append(s, Span{"  on " + d.layerName(d.layer), Plain})
	}
	if d.tool != nil {
		text := d.tool.name
		switch d.tool.name {
		case "wire":
			text += " " + um(float64(d.wireWidth())) + " µm"
		case "stamp":
			text += " " + um(float64(d.stampSize().X)) + " × " + um(float64(d.stampSize().Y)) + " µm"
		}
		s = append(s, Span{"  " + text, Strong})
	}
	return s
}

// zoomText is how large things are shown: px of the photograph a px of the screen, and nm.
func (d *Desk) zoomText() string {
	v := d.at().view
	text := fmt.Sprintf("%.3g×", d.px()/v.NmPerPx)
	if v.Turn != 0 {
		text += fmt.Sprintf(" %.3g°", v.Turn)
	}
	if d.inFrame() {
		_, _, bar := picture.BarFor(v)
		text += " " + perPx(v.NmPerPx) + ", bar " + bar
	}
	return text
}

// perPx is how much of the die a px shows, to three digits.
func perPx(nm float64) string {
	if nm >= 999.5 { // which is written as 1e+03
		return fmt.Sprintf("%.3g µm/px", nm/1000)
	}
	return fmt.Sprintf("%.3g nm/px", nm)
}

// Foot is the line below: where the pointer is, in µm, what lies there, a message or a hint.
func (d *Desk) Foot() []Span {
	s := []Span{{d.placeText(), Strong}}
	for _, t := range d.under() {
		s = append(s, Span{"  ", Plain}, t)
	}
	if d.said.text != "" {
		return append(s, Span{"   ", Plain}, Span{d.said.text, d.said.tone})
	}
	if hint := d.nextHint(); hint != "" {
		s = append(s, Span{"   ", Plain}, Span{hint, Caution})
	}
	return append(s, Span{"   ", Plain}, Span{"? keys  : command  F1 walk", Quiet})
}

// Walk is the line above the foot while the walk goes on: its step, and how it is left.
func (d *Desk) Walk() []Span {
	if d.walk == 0 {
		return nil
	}
	return []Span{{d.walkText(), Caution}, {"   ", Plain}, {"F1 passes over it; Esc, with nothing begun, ends the walk", Quiet}}
}

// nextHint says what is missing before one can trace; empty where nothing is.
func (d *Desk) nextHint() string {
	switch {
	case d.file.ReadOnly() != "":
		return ""
	case len(d.photos) == 0 && (d.drawing == nil || d.drawing.Box().Empty()):
		return "nothing is here yet: :shot add FILE brings in a photograph, :trace import FILE a drawing"
	case d.base >= 0 && !d.inFrame() && d.eye == 0:
		return d.shotName(d.base) + " has no scale: r, Space at both ends of a known length, then :length UM SIGMA"
	}
	return ""
}

// placeText is the cursor's place: µm of the frame, or px of a photograph that has none.
func (d *Desk) placeText() string {
	e := d.at()
	if d.eye == 1 && d.second2() != nil {
		px := d.second2().FromFrame.Apply(e.cursor)
		return fmt.Sprintf("%.2f, %.2f px", px.X, px.Y)
	}
	if !d.inFrame() {
		px := d.photos[d.base].shown.FromFrame.Apply(e.cursor)
		return fmt.Sprintf("%.2f, %.2f px", px.X, px.Y)
	}
	at := e.cursor
	if d.tool != nil || d.carry != nil {
		got := d.snapped()
		text := place(vec(got.At)) + " µm"
		if got.Kind != "nothing" {
			text += " (" + string(got.Kind) + ")"
		}
		if n := len(d.points); n > 0 {
			by := vec(got.At.Sub(d.points[n-1]))
			text += fmt.Sprintf(" Δ %s", place(by))
		}
		return text
	}
	return place(at) + " µm"
}

// under is what lies under the cursor: layers from above, the net, the device with its size.
func (d *Desk) under() (out []Span) {
	if !d.inFrame() {
		return nil
	}
	p := d.inDie()
	lies := d.below(p)
	if lies.failed != nil {
		return nil
	}
	names := lies.names
	if len(names) > 0 {
		out = append(out, Span{strings.Join(names, "+"), Plain})
	}
	if l := d.labelAt(); l != nil {
		out = append(out, Span{"label " + harmless(l.Text), Plain})
	}
	if d.live == nil {
		return out
	}
	if k := lies.piece; k >= 0 {
		title := d.netTitle(d.live.pieces[k].net)
		out = append(out, Span{"net " + harmless(title), Good})
	}
	if i := lies.device; i >= 0 {
		out = append(out, Span{harmless(d.deviceTitle(i) + " " + d.sizeText(i)), Strong})
		var nets []string
		for k, name := range d.live.res.Circuit.Devices[i].Kind.TerminalNames() {
			if n := d.live.res.Circuit.Devices[i].Terminals[k]; n != netlist.NoNet {
				nets = append(nets, name+"="+d.netName(n))
			}
		}
		out = append(out, Span{harmless(strings.Join(nets, " ")), Quiet})
	}
	return out
}

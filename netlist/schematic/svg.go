package schematic

import (
	"bufio"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strings"

	"undermetal/netlist"
)

const px = 10 // per grid unit

// WriteSVG writes one sheet. Symbols follow IEC 60617; each is a group with the id of its device and its place on the die in
// data-device and data-at, and as a title. It needs nothing from outside.
func (d *Drawing) WriteSVG(w io.Writer, sheet int) error {
	s := d.Sheets[sheet]
	out := &svg{w: bufio.NewWriter(w)}
	left, top, high := s.Size.Min.X, s.Size.Min.Y, s.Size.Max.Y
	notes := d.notes(sheet)
	widest := s.Size.Max.X - left
	for _, n := range notes {
		widest = max(widest, textWidth(n)+2*margin)
	}
	width, height := widest*px, (high-top+2*len(notes)+1)*px
	out.f(`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="%d %d %d %d" font-family="DejaVu Sans Mono, Menlo, Consolas, monospace" font-size="9" fill="none" stroke="#000" stroke-width="1" stroke-linecap="round" stroke-linejoin="round">`,
		width, height, left*px, top*px, width, height)
	out.f(`<title>%s</title>`, escape(d.title(sheet)))
	out.f(`<style>text{fill:#000;stroke:none}.dot,.solid{fill:#000}.missing{stroke:#d55e00;stroke-dasharray:3 2.5}.missing text{fill:#d55e00}</style>`)
	out.f(`<rect x="%d" y="%d" width="%d" height="%d" fill="#fff" stroke="none"/>`, left*px, top*px, width, height)
	out.f(`<g class="wires">`)
	for _, wr := range s.Wires {
		var pts []string
		for _, p := range wr.Points {
			pts = append(pts, fmt.Sprintf("%d,%d", p.X*px, p.Y*px))
		}
		out.f(`<polyline points="%s"/>`, strings.Join(pts, " "))
	}
	for _, q := range s.Dots {
		out.f(`<circle class="dot" cx="%d" cy="%d" r="2.2"/>`, q.At.X*px, q.At.Y*px)
	}
	out.f(`</g>`)
	for i := range s.Symbols {
		out.symbol(&s.Symbols[i])
	}
	out.f(`<g class="names">`)
	for _, f := range s.Flags {
		out.flag(f)
	}
	for i, n := range notes {
		out.f(`<text x="%d" y="%d">%s</text>`, (left+margin)*px, (high+2*i+1)*px, escape(n))
	}
	out.f(`</g></svg>`)
	if out.err != nil {
		return out.err
	}
	return out.w.Flush()
}

func (d *Drawing) title(sheet int) string {
	if len(d.Sheets) == 1 {
		return d.Title
	}
	return fmt.Sprintf("%s, sheet %d of %d", d.Title, sheet+1, len(d.Sheets))
}

// notes returns the lines below a sheet.
func (d *Drawing) notes(sheet int) []string {
	out := []string{d.title(sheet)}
	n, p := false, false
	for i := range d.Sheets[sheet].Symbols {
		y := &d.Sheets[sheet].Symbols[i]
		if y.Shape == MOSShape && !y.Bulk {
			n, p = n || y.Kind == netlist.NMOS, p || y.Kind == netlist.PMOS
		}
	}
	for _, f := range d.Sheets[sheet].Flags {
		if f.Kind == GroundFlag && f.Text == "" {
			out = append(out, "ground: "+d.GroundName)
			break
		}
	}
	var bulks []string
	if n && d.BulkN != netlist.NoNet {
		bulks = append(bulks, "n at "+d.BulkNName)
	}
	if p && d.BulkP != netlist.NoNet {
		bulks = append(bulks, "p at "+d.BulkPName)
	}
	if len(bulks) > 0 {
		out = append(out, "bulks that are not drawn: "+strings.Join(bulks, ", "))
	}
	return append(out, d.Sheets[sheet].Notes...)
}

type svg struct {
	w   *bufio.Writer
	err error
}

func (o *svg) f(format string, args ...any) {
	if o.err == nil {
		_, o.err = fmt.Fprintf(o.w, format+"\n", args...)
	}
}

func escape(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a Builder takes all
	return b.String()
}

// symbol draws one symbol in its local system, turned.
func (o *svg) symbol(y *Symbol) {
	class := "symbol"
	if y.Missing {
		class = "symbol missing"
	}
	title := y.ID
	if y.Place != "" {
		title = strings.TrimSpace(title + " " + y.Place)
	}
	o.f(`<g class="%s" data-device="%s" data-at="%s"><title>%s</title>`, class, escape(y.ID), escape(y.Place), escape(title))
	if y.Shape == BoxShape {
		b := y.Body
		o.f(`<rect x="%d" y="%d" width="%d" height="%d"/>`, b.Min.X*px, b.Min.Y*px, (b.Max.X-b.Min.X)*px, (b.Max.Y-b.Min.Y)*px)
		for _, q := range y.Pins {
			x, anchor := q.At.X*px+4, "start"
			if q.Side == Right {
				x, anchor = q.At.X*px-4, "end"
			}
			o.f(`<text x="%d" y="%d" text-anchor="%s">%s</text>`, x, q.At.Y*px+3, anchor, escape(q.Terminal))
		}
	} else {
		o.f(`<path d="%s"/>`, y.path(outlines(y)))
		if solid := solids(y); len(solid) > 0 {
			o.f(`<path class="solid" d="%s"/>`, y.path(solid))
		}
	}
	for _, t := range y.Text {
		o.text(t)
	}
	o.f(`</g>`)
}

func (o *svg) text(t Text) {
	x, anchor := float64(t.At.X*px)-3, "start"
	switch t.Side {
	case Left:
		x, anchor = float64(t.At.X*px)+3, "end"
	case Up:
		x, anchor = float64(t.At.X*px), "middle"
	}
	o.f(`<text x="%g" y="%d" text-anchor="%s">%s</text>`, x, t.At.Y*px+3, anchor, escape(t.S))
}

func (o *svg) flag(f Flag) {
	x, y := f.At.X*px, f.At.Y*px
	name := escape(f.Text)
	switch f.Kind {
	case SupplyFlag:
		o.f(`<path d="M%d %dv-5M%d %dh12"/><text x="%d" y="%d" text-anchor="middle">%s</text>`, x, y, x-6, y-5, x, y-10, name)
		return
	case GroundFlag:
		o.f(`<path d="M%d %dv5M%d %dh14M%d %dh8M%d %dh2"/>`, x, y, x-7, y+5, x-4, y+8, x-1, y+11)
		if f.Text != "" {
			o.f(`<text x="%d" y="%d" text-anchor="middle">%s</text>`, x, y+20, name)
		}
		return
	}
	// A net that goes on elsewhere ends in an arrow head, open for a port, doubled for another sheet.
	d := steps[f.Side]
	tip := func(k int) string {
		ax, ay := x+d.X*k, y+d.Y*k
		return fmt.Sprintf("M%d %dL%d %dL%d %d", ax-4*d.X-3*d.Y, ay-4*d.Y-3*d.X, ax, ay, ax-4*d.X+3*d.Y, ay-4*d.Y+3*d.X)
	}
	switch f.Kind {
	case PortFlag:
		o.f(`<path d="M%d %dL%d %d%s"/>`, x, y, x+6*d.X, y+6*d.Y, tip(6))
	case SheetFlag:
		o.f(`<path d="M%d %dL%d %d%s%s"/>`, x, y, x+8*d.X, y+8*d.Y, tip(5), tip(8))
	default:
		o.f(`<path d="M%d %dl%d %d"/>`, x, y, 5*d.X, 5*d.Y)
	}
	switch f.Side {
	case Left:
		o.f(`<text x="%d" y="%d" text-anchor="end">%s</text>`, x-10, y+3, name)
	case Right:
		o.f(`<text x="%d" y="%d">%s</text>`, x+10, y+3, name)
	case Up:
		o.f(`<text x="%d" y="%d" text-anchor="middle">%s</text>`, x, y-12, name)
	case Down:
		o.f(`<text x="%d" y="%d" text-anchor="middle">%s</text>`, x, y+19, name)
	}
}

// line is a row of points in a symbol's local system; with bend it is an arc of half a turn between each two.
type line struct {
	pts    [][2]float64
	closed bool
	bend   bool
}

func poly(xy ...float64) line {
	var l line
	for i := 0; i+1 < len(xy); i += 2 {
		l.pts = append(l.pts, [2]float64{xy[i], xy[i+1]})
	}
	return l
}

func shut(xy ...float64) line {
	l := poly(xy...)
	l.closed = true
	return l
}

func round(x, y, r float64) line {
	var l line
	for i := range 24 {
		s, c := math.Sincos(float64(i) * math.Pi / 12)
		l.pts = append(l.pts, [2]float64{x + r*c, y + r*s})
	}
	l.closed = true
	return l
}

// path returns lines as SVG path data, turned and moved to where the symbol is.
func (y *Symbol) path(lines []line) string {
	var b strings.Builder
	for _, l := range lines {
		for i, p := range l.pts {
			x, z := p[0], p[1]
			switch y.Turn {
			case GateRight:
				x = -x
			case GateUp:
				x, z = -z, x
			case GateDown:
				x, z = -z, -x
			}
			c := "L"
			if i == 0 {
				c = "M"
			}
			fmt.Fprintf(&b, "%s%.4g %.4g", c, (float64(y.At.X)+x)*px, (float64(y.At.Y)+z)*px)
		}
		if l.closed {
			b.WriteString("Z")
		}
	}
	return b.String()
}

package kiln

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"

	"undermetal/layout"
	"undermetal/layout/geom"
	"undermetal/layout/region"
)

// Seed is that of the hand whose tracings lie beside this file, and of the photographs' noise. It was not chosen: it is the
// first from 1 on.
const Seed = 1

// markSigma is how well the hand finds the middle of a contact, in px: the standard deviation of each coordinate.
const markSigma = 0.5

// beyond is how far the hand draws a line on that leaves its unit, in nm, so that neighbours overlap.
const beyond = 500

// Hand traces photographs. Each edge that it draws lies off by a normal error of the photograph's SigmaPx, along its own
// normal and apart from all others. Contacts and vias are stamps of one size, whose middle is off so in x and in y.
//
// On diffusion and poly it draws the outline of what is one piece; on metal piece by piece, as it was drawn.
type Hand struct{ seed uint64 }

// NewHand returns the hand of a seed; the same seed draws the same.
func NewHand(seed uint64) Hand { return Hand{seed} }

// part is a cell as it lies on the die; of a unit that has neighbours, box says where it ends.
type part struct {
	cell string
	at   geom.Point
	box  geom.Rect
}

// group is what is traced in one go. labels says which labels of the die belong to it; nil: none do.
type group struct {
	name   string
	parts  []part
	labels func(at geom.Point) bool
}

func groups() []group {
	low := func(at geom.Point) bool { return at.Y < pumpTop*unit }
	left := geom.Point{X: -driverWidth * unit}
	clocks := geom.Point{X: left.X, Y: clockRow * unit}
	of := func(at geom.Point, w, h int) geom.Rect { return geom.Box(at.X, at.Y, at.X+w, at.Y+h) }
	load := geom.Point{Y: -loadHeight}
	return []group{
		{"pixel", []part{{"PIXEL", geom.Point{}, of(geom.Point{}, Pitch, Pitch)}}, nil},
		{"load", []part{{"LOAD", load, of(load, Pitch, loadHeight)}}, nil},
		{"driver", []part{{"ROWDRV", left, of(left, driverWidth*unit, Pitch)}}, nil},
		{"edge", []part{{cell: "IMAGER"}, {cell: "BIAS"}, {cell: "DIE"}}, func(at geom.Point) bool { return !low(at) }},
		{"pump", []part{{"ROWDRV", clocks, of(clocks, driverWidth*unit, Pitch)}, {cell: "PUMP"}}, low},
	}
}

// shapes returns what a part draws on a layer, on the die.
func (p *part) shapes(lib *layout.Library, l layout.Layer) (pgs []geom.Polygon) {
	move := geom.Move(p.at)
	out := func(v, low, high int) int {
		switch {
		case low == high: // no unit
		case v == low:
			return v - beyond
		case v == high:
			return v + beyond
		}
		return v
	}
	for _, s := range lib.Cell(p.cell).Shapes {
		if s.Layer != l {
			continue
		}
		pg := move.ApplyPolygon(s.Polygon)
		for _, r := range pg {
			for i, v := range r {
				r[i] = geom.Point{X: out(v.X, p.box.Min.X, p.box.Max.X), Y: out(v.Y, p.box.Min.Y, p.box.Max.Y)}
			}
		}
		pgs = append(pgs, pg)
	}
	return pgs
}

// traced are the layers of a photograph, with what the hand draws them in. What no photograph shows it draws where it takes
// it to be: pplus by the tone of the diffusion, photo by its size.
var traced = []struct {
	layer layout.Layer
	color string
	metal bool
}{
	{nwell, "#999999", false}, {pplus, "#e69f00", false}, {photoMark, "#f0e442", false}, {diffusion, "#009e73", false}, {poly, "#d55e00", false},
	{contact, "#000000", false}, {metal1, "#0072b2", true}, {via1, "#000000", true}, {metal2, "#cc79a7", true},
}

// svg is the tracing of a group over a photograph as a vector editor keeps it: the photograph itself below, a group a layer
// above, places in px of the photograph.
func (h Hand) svg(g *group, number int, s *Shot, lib *layout.Library) []byte {
	what := uint64(10 + number)
	if s.Metal {
		what += 100
	}
	rnd := rand.New(rand.NewPCG(h.seed, what))
	var b bytes.Buffer
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%d\" height=\"%[2]d\" viewBox=\"0 0 %[1]d %[2]d\">\n", s.Width, s.Height)
	fmt.Fprintf(&b, "<image href=\"%s.png\" x=\"0\" y=\"0\" width=\"%d\" height=\"%d\"/>\n", s.Name, s.Width, s.Height)
	for _, t := range traced {
		if t.metal != s.Metal {
			continue
		}
		var in bytes.Buffer
		h.layer(&in, rnd, g, t.layer, s, lib)
		if in.Len() > 0 {
			fmt.Fprintf(&b, "<g id=\"%s\" fill=\"%s\" opacity=\"0.6\">\n%s</g>\n", lib.Layers[t.layer], t.color, in.Bytes())
		}
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

func (h Hand) layer(b *bytes.Buffer, rnd *rand.Rand, g *group, l layout.Layer, s *Shot, lib *layout.Library) {
	var pgs []geom.Polygon
	for i := range g.parts {
		pgs = append(pgs, g.parts[i].shapes(lib, l)...)
	}
	if !s.Metal && l != contact {
		pgs = region.Polygons(region.Union(pgs...))
	}
	for _, pg := range pgs {
		b.WriteString("<path d=\"")
		if l == contact || l == via1 {
			h.stamp(b, rnd, pg, s)
		} else {
			for _, r := range pg {
				path(b, s.Outline(rnd, vecs(straight(r))))
			}
		}
		b.WriteString("\"/>\n")
	}
	if g.labels == nil {
		return
	}
	for _, t := range lib.Cell("DIE").Labels {
		if t.Layer == l && g.labels(t.At) {
			at := s.Px(geom.Vec{X: float64(t.At.X), Y: float64(t.At.Y)})
			fmt.Fprintf(b, "<text x=\"%.0f\" y=\"%.0f\" font-size=\"8\">%s</text>\n", at.X, at.Y, escaped(t.Text))
		}
	}
}

// straight returns a ring without corners on a straight line.
func straight(r geom.Ring) (out geom.Ring) {
	for i, p := range r {
		a, b := r[(i+len(r)-1)%len(r)], r[(i+1)%len(r)]
		if (p.X-a.X)*(b.Y-p.Y) != (p.Y-a.Y)*(b.X-p.X) {
			out = append(out, p)
		}
	}
	return out
}

func escaped(s string) string {
	s = string(bytes.ReplaceAll([]byte(s), []byte("<"), []byte("&lt;")))
	return string(bytes.ReplaceAll([]byte(s), []byte(">"), []byte("&gt;")))
}

func path(b *bytes.Buffer, px []geom.Vec) {
	for i, v := range px {
		fmt.Fprintf(b, "%c%.1f %.1f", "ML"[min(i, 1)], v.X, v.Y)
	}
	b.WriteByte('Z')
}

func (h Hand) stamp(b *bytes.Buffer, rnd *rand.Rand, pg geom.Polygon, s *Shot) {
	dx, dy := s.SigmaPx*rnd.NormFloat64(), s.SigmaPx*rnd.NormFloat64()
	var px []geom.Vec
	for _, v := range vecs(pg[0]) {
		at := s.Px(v)
		px = append(px, geom.Vec{X: at.X + dx, Y: at.Y + dy})
	}
	path(b, px)
}

// Points is the file of control points of a photograph.
//
// With metal: the via of a pixel's reset transistor, in the corners of the array and in its middle, which lie multiples of the
// pitch apart. Stripped: the contact beneath it, in six pixels, and three contacts of the pump, whose dents the first
// photograph shows: their places were read off that one. What a pitch is in µm was read off it, too: see Pitch.
func (h Hand) Points(s *Shot) []byte {
	rnd := rand.New(rand.NewPCG(h.seed, uint64(1+len(s.Name))))
	var b bytes.Buffer
	b.WriteString("px,py,x_um,y_um,sigma_px\n")
	k := float64(h.Pitch()) / Pitch
	line := func(truth geom.Vec, readNm float64) {
		px, sigma := s.Px(truth), markSigma
		x, y := truth.X, truth.Y
		if readNm > 0 { // read off the other photograph
			x, y = math.Round(x+readNm*rnd.NormFloat64()), math.Round(y+readNm*rnd.NormFloat64())
			sigma = math.Hypot(sigma, readNm/s.NmPerPx)
		}
		fmt.Fprintf(&b, "%.1f,%.1f,%g,%g,%.2g\n", px.X+markSigma*rnd.NormFloat64(), px.Y+markSigma*rnd.NormFloat64(), math.Round(k*x)/1000, math.Round(k*y)/1000, sigma)
	}
	if s.Metal {
		for _, n := range [][2]float64{{0, 0}, {Columns - 1, 0}, {0, Rows - 1}, {Columns - 1, Rows - 1}, {5, 10}} {
			line(geom.Vec{X: n[0]*Pitch + 10900, Y: n[1]*Pitch + 10600}, 0)
		}
		return b.Bytes()
	}
	for _, n := range [][2]float64{{0, 0}, {2, 0}, {4, 0}, {0, 1}, {2, 1}, {4, 1}} {
		line(geom.Vec{X: n[0]*Pitch + 3000, Y: n[1]*Pitch + 10600}, 0)
	}
	for _, at := range [][2]float64{{-20400, -15300}, {-18500, -51000}, {60400, -51600}} {
		line(geom.Vec{X: at[0], Y: at[1]}, markSigma*100)
	}
	return b.Bytes()
}

package desk

import (
	"math"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// scaleStep halves or doubles the cursor's step.
func (d *Desk) scaleStep(up float64) {
	d.step = max(1.0/64, min(1024, d.step*math.Pow(2, up)))
	d.say("a step is %g px", d.step)
}

// enterKey ends what is being drawn, puts down what is carried; else it shows the question here.
func (d *Desk) enterKey() {
	switch {
	case d.carry != nil:
		d.putDown()
	case d.tool != nil:
		d.finish()
	case d.station == registering:
		d.here()
	case d.station == asking:
		d.questionInFull()
	default:
		d.here()
	}
}

// tab gives the keys to the list or the picture, or goes to the other photograph.
func (d *Desk) tab() {
	switch {
	case d.station == registering && d.pairs != nil && (d.list == nil || !d.list.focus):
		d.switchEye()
	case d.list != nil:
		d.list.focus = !d.list.focus
	}
}

// hideHere hides the layer of what lies topmost under the cursor.
func (d *Desk) hideHere() {
	if k := d.pieceAt(d.inDie()); k >= 0 {
		d.hide(int(d.live.pieces[k].layer))
		d.say("%s is hidden: F2 lists the layers", d.layerName(int(d.live.pieces[k].layer)))
		return
	}
	shapes, err := d.near()(geom.Rect{Min: d.inDie(), Max: d.inDie()})
	if !d.try(err) {
		return
	}
	for _, s := range shapes {
		if s.Polygon.Locate(d.inDie()) != geom.Outside {
			d.hide(d.layerOf(s.Layer))
			d.say("%s is hidden: F2 lists the layers", s.Layer)
			return
		}
	}
	d.say("nothing lies here")
}

// questionInFull shows the question that is meant.
func (d *Desk) questionInFull() {
	k, err := d.questionHere()
	if d.try(err) {
		d.showQuestion(k)
	}
}

// rowKey is what letters do in some lists; in others they do what they do elsewhere.
func (d *Desk) rowKey(k Key) {
	r, ok := d.row()
	switch {
	case !ok:
	case d.list.kind == "layers" && k.Rune == 'h':
		d.hide(r.n)
		return
	case d.list.kind == "layers" && k.Rune == 'k':
		d.lock(r.n)
		return
	case d.list.kind == "layers" && k.Rune == 'o':
		d.onlyLayer(r.n)
		return
	case d.list.kind == "photographs" && k.Rune == 'o':
		d.takeSecond(r.n)
		d.refresh()
		return
	case d.list.kind == "pairs" && (k.Rune == 'x' || k.Rune == 'd') && d.pairs != nil && r.n < len(d.pairs.points):
		d.pairs.points = append(d.pairs.points[:r.n:r.n], d.pairs.points[r.n+1:]...)
		d.refit()
		d.refresh()
		d.sayFit()
		return
	case (d.list.kind == "labels" || d.list.kind == "notes" || d.list.kind == "areas" || d.list.kind == "blocks") && k.Rune == 'x':
		d.removeRow(d.list.kind, r)
		return
	}
	for _, w := range d.wheres()[1:] {
		if b := theTable[w][k.String()]; b != nil {
			d.count(b)
			b.do(d, k)
			return
		}
	}
}

// move chooses an answer, or scrolls where there is nothing to choose.
func (p *page) move(by int) {
	if len(p.Choose) > 0 {
		p.Chosen = max(0, min(len(p.Choose)-1, p.Chosen+by))
		return
	}
	p.scroll(by)
}

func (p *page) scroll(by int) { p.Top = max(0, min(len(p.Lines)-1, p.Top+by)) }

func (d *Desk) pageEnter() {
	if p := d.page; p.choose != nil && p.Chosen < len(p.Choose) {
		p.choose(d, p.Chosen)
		return
	}
	d.page = nil
}

// measure lays the ruler between two points.
func (d *Desk) measure(pts []geom.Point) error {
	a, b := vec(pts[0]), vec(pts[1])
	r := &picture.Ruler{A: a, B: b}
	if l := d.located(); l != nil {
		ruler := register.Ruler{Map: l.ToFrame, SigmaPx: 1} // a mark set by eye is good to about a pixel
		if l.Registration == nil && l.Scale.NmPerPx > 0 {
			ruler.SigmaScale = l.Scale.Sigma / l.Scale.NmPerPx
		}
		n, err := ruler.Length(l.FromFrame.Apply(a), l.FromFrame.Apply(b))
		if err != nil {
			return err
		}
		r.Text = n.String()
	} else {
		unit := " µm"
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		r.Text = um(length) + unit
		if !d.inFrame() {
			r.Text = um(length*1000) + " px"
		}
	}
	d.ruler = r
	d.good("%s", r.Text)
	return nil
}

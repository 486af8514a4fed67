package svg

import (
	"strings"

	"undermetal/layout"
	"undermetal/layout/geom"
)

// text makes labels of an element text: one, and one more for each tspan with a place of its own behind some text.
func (w *walker) text(c *context) error {
	t := &textWalk{walker: w, place: c}
	t.at.x, t.at.y = 0, 0
	if err := t.run(c); err != nil {
		return err
	}
	return t.finish()
}

// textWalk collects the characters of labels.
type textWalk struct {
	*walker
	at    struct{ x, y float64 }
	place *context // of the label
	text  strings.Builder
	keep  bool // white space counts
}

func (t *textWalk) run(c *context) error {
	if a := c.node.at; a != nil {
		if a.hasX || a.hasY {
			if err := t.finish(); err != nil {
				return err
			}
		}
		if strings.TrimSpace(t.text.String()) == "" { // the place of a word in the middle of a line does not count
			t.place = c
			if a.hasX {
				t.at.x = a.x
			}
			if a.hasY {
				t.at.y = a.y
			}
			t.at.x, t.at.y = t.at.x+a.dx, t.at.y+a.dy
		}
	}
	t.keep = c.node.preserve
	for _, n := range c.node.children {
		if n.name == "#text" {
			t.text.WriteString(n.text)
			continue
		}
		if n.name != "tspan" && n.name != "a" {
			continue
		}
		inner := &context{node: n, outer: c, matrix: n.matrix.then(c.matrix)}
		var here local
		if inner.style, here = t.styleOf(n, c.style); t.leftOut(n, here) {
			continue
		}
		if err := t.run(inner); err != nil {
			return err
		}
	}
	return nil
}

// finish makes a label of what has been collected.
func (t *textWalk) finish() error {
	text := t.text.String()
	t.text.Reset()
	if !t.keep || !t.whole { // editors ask for xml:space="preserve" everywhere, and the name of a net has no blanks around it
		text = strings.Join(strings.Fields(text), " ")
	}
	c := t.place
	if strings.TrimSpace(text) == "" {
		return nil
	}
	if c.style.hidden {
		t.notes.add("hidden elements, left out", c.node)
		return nil
	}
	p := c.style.fill
	if !c.style.filled() {
		if p = c.style.stroke; !c.style.stroked() {
			t.unseen(c)
			return nil
		}
	}
	layer, ok, err := t.layer(c, p)
	if !ok || err != nil {
		return err
	}
	at, err := t.flat.Point(c.matrix.apply(geom.Vec{X: t.at.x, Y: t.at.y}))
	if err != nil {
		return t.lost.add(t.doc.fail(c.node, moveNearer, "%v", err))
	}
	t.cell.Labels = append(t.cell.Labels, layout.Label{Layer: layer, At: at.Round(), Text: text})
	t.counts[layer].Labels++
	return nil
}

package main

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/edit"
	"undermetal/layout/geom"
)

// labelFlags are the flags of undermetal trace label.
type labelFlags struct {
	at, over, cell string
	rename, move   string
	remove, json   bool
}

func newTraceLabel() *cobra.Command {
	var f labelFlags
	c := &cobra.Command{
		Use:   "label DOSSIER [LAYER TEXT]",
		Short: "put a name on the net that lies at a point of a layer",
		Long: `label puts a name on the net that lies at a point of a layer: --at X,Y in µm of the frame, or with units, or, with --over,
in pixels of a shot. Where a label lies at that very point, it gets the new text.

--rename, --move and --remove are for a label that is there: the one on LAYER that says TEXT, of several the one nearest to
--at. With the dossier alone, label lists all of them. What begins with a minus is written as in --at=-5,3.`,
		Example: `  undermetal trace label kiln.dossier metal1 VDD --at 41.5,120
  undermetal trace label kiln.dossier metal1 GND --at 812,400 --over bare
  undermetal trace label kiln.dossier metal1 GND --rename VSS
  undermetal trace label kiln.dossier metal1 VDD --move=-5,3
  undermetal trace label kiln.dossier metal1 VDD --remove
  undermetal trace label kiln.dossier --json`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 1 || len(args) == 3 {
				return nil
			}
			return usagef("%s wants a dossier, a layer and a text, or a dossier alone to list its labels, got %s\n    %[1]s --help shows an example", c.CommandPath(), counted(len(args), "argument"))
		},
		RunE: func(c *cobra.Command, args []string) error { return doLabel(c, args, &f) },
	}
	c.Flags().StringVar(&f.at, "at", "", "the point, X,Y in µm, or in pixels with --over")
	c.Flags().StringVar(&f.over, "over", "", "the shot whose pixels --at and --move count")
	c.Flags().StringVar(&f.cell, "cell", "", "the cell that has the label, in whose coordinates the point is; default the die itself")
	c.Flags().StringVar(&f.rename, "rename", "", "give the label this text")
	c.Flags().StringVar(&f.move, "move", "", "move the label to this point")
	c.Flags().BoolVar(&f.remove, "remove", false, "remove the label")
	c.Flags().BoolVar(&f.json, "json", false, "list as JSON")
	return c
}

func doLabel(c *cobra.Command, args []string, f *labelFlags) error {
	changes := given(c, []string{"rename", "move", "remove"})
	switch {
	case len(args) == 1 && len(changes)+len(given(c, []string{"at", "over"})) > 0:
		return usagef("say which label: its layer and its text, as in: trace label %s metal1 VDD", word(args[0]))
	case len(args) == 1:
		return readDossier(c, args[0], func(d *dossier.Dossier) error { return listLabels(c.OutOrStdout(), d, f) })
	case f.json:
		return usagef("--json lists all labels: leave layer and text out")
	case len(changes) > 1:
		return usagef("give one of --rename, --move and --remove")
	case len(changes) == 0 && f.at == "":
		return usagef("--at X,Y says where the label lies, in µm of the frame, or in pixels of a shot with --over")
	case f.over != "" && f.cell != "":
		return usagef("--over and --cell: a cell has coordinates of its own, and does not lie over a photograph")
	}
	said, text := "TEXT", args[2]
	if len(changes) > 0 { // of a label that is there: an older dossier may hold any text
		said, text = "--rename", f.rename
	}
	if strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return usagef("%s %q: write it on one line, with characters that can be printed", said, text)
	}
	return editDossier(c, args[0], func(d *dossier.Dossier) error {
		l := &labelling{c: c, d: d, f: f, layer: args[1], text: args[2]}
		return l.run(changes)
	})
}

// labelling is a call of undermetal trace label under way.
type labelling struct {
	c           *cobra.Command
	d           *dossier.Dossier
	f           *labelFlags
	layer, text string
	cell        dossier.Cell
	shot        *dossier.Located
}

func (l *labelling) run(changes []string) (err error) {
	st, err := l.d.Stack()
	if err == nil {
		err = inStack(st, "label", l.layer)
	}
	if err == nil && l.f.over != "" {
		l.shot, err = overShot(l.d, l.f.over)
	}
	if err == nil {
		l.cell, err = findCell(l.d, l.f.cell)
	}
	if err != nil {
		return err
	}
	var at *geom.Point
	if l.f.at != "" {
		p, err := framePoint("at", l.f.at, l.shot)
		if err != nil {
			return err
		}
		at = &p
	}
	if len(changes) == 0 {
		return l.set(*at)
	}
	label, err := l.find(at)
	if err != nil {
		return err
	}
	return l.change(label, changes[0])
}

// findCell returns a cell by its name; the die where that is empty.
func findCell(d *dossier.Dossier, name string) (dossier.Cell, error) {
	cells, err := d.Cells()
	if err != nil {
		return dossier.Cell{}, err
	}
	var names []string
	for _, c := range cells {
		if c.Name == name || name == "" && c.ID == dossier.Frame {
			return c, nil
		}
		names = append(names, c.Name)
	}
	return dossier.Cell{}, fmt.Errorf("%s: there is no cell %q\n    it has %s", d.Path, name, someNames(names))
}

// framePoint reads a point of the frame, in µm, or in pixels of a shot where there is one.
func framePoint(flag, text string, l *dossier.Located) (geom.Point, error) {
	v, err := frameVec(text, l)
	if err != nil {
		var out outsideError
		if errors.As(err, &out) {
			return geom.Point{}, fmt.Errorf("--%s %s: %w", flag, text, err)
		}
		return geom.Point{}, usagef("--%s %s: %v\n    give a point in µm, as in --%[1]s=-5,3 or --%[1]s 41.5um,0.12mm, or in pixels with --over", flag, text, err)
	}
	p := v.Round()
	if !(math.Abs(v.X) <= geom.Limit && math.Abs(v.Y) <= geom.Limit) {
		return p, fmt.Errorf("--%s %s: lies outside the frame, which reaches to ±%.0f µm", flag, text, geom.Limit/1e3)
	}
	return p, nil
}

// outsideError is a place that lies outside of a photograph.
type outsideError struct{ error }

func frameVec(text string, l *dossier.Located) (geom.Vec, error) {
	if l == nil {
		x, y, px, err := parsePlace(text)
		if err == nil && px {
			err = errors.New("pixels want --over, which names the shot")
		}
		return geom.Vec{X: x * 1000, Y: y * 1000}, err
	}
	v, err := pixelPair(text)
	if err != nil {
		return geom.Vec{}, err
	}
	if err := withinShot(l, v); err != nil {
		return geom.Vec{}, outsideError{err}
	}
	return l.ToFrame.Apply(v), nil
}

func (l *labelling) set(at geom.Point) error {
	was := ""
	err := l.d.Edit(l.c.Context(), fmt.Sprintf("label %s on %s", l.text, l.layer), func(tx *dossier.Tx) error {
		labels, err := tx.Labels(l.cell.ID)
		if err != nil {
			return err
		}
		for _, old := range labels {
			if old.Layer == l.layer && old.At == at && old.Text != l.text {
				was = ", was " + old.Text
			}
		}
		_, err = edit.SetLabel(tx, l.cell.ID, l.layer, at, l.text)
		return err
	})
	if err != nil {
		return err
	}
	return errors.Join(l.say(l.text, at, was), l.sayBare(at))
}

// sayBare says where a label lies on nothing, so that it names no net.
func (l *labelling) sayBare(at geom.Point) error {
	drawn, err := l.drawnAt(at)
	if err != nil || drawn {
		return err
	}
	p := &printer{w: l.c.ErrOrStderr()}
	p.f("warning: nothing is drawn on %s at %s: the label is kept, and names no net as long as that is so\n", l.layer, microns(at))
	return p.err
}

// drawnAt reports whether something of the layer lies at a point, in the cell or in what it places.
func (l *labelling) drawnAt(at geom.Point) (drawn bool, err error) {
	err = l.d.Moment(func(m dossier.Moment) error {
		shapes, err := m.ShapesIn(l.cell.ID, geom.Rect{Min: at, Max: at})
		if err != nil {
			return err
		}
		for i := range shapes {
			if shapes[i].Layer == l.layer && shapes[i].Polygon.Locate(at) != geom.Outside {
				drawn = true
				return nil
			}
		}
		placements, err := m.Placements(l.cell.ID)
		if err != nil || len(placements) == 0 {
			return err
		}
		lib, err := m.Library()
		if err != nil {
			return err
		}
		flat, err := layout.Flatten(lib.Cell(l.cell.Name))
		if err != nil {
			return err
		}
		layer, _ := lib.LayerNamed(l.layer)
		flat.ShapesAt([]layout.Place{{Layer: layer, At: at}}, func(int, *layout.Shape, geom.Transform) { drawn = true })
		return nil
	})
	return drawn, err
}

// find returns the label that is meant.
func (l *labelling) find(at *geom.Point) (*dossier.Label, error) {
	labels, err := l.d.Labels(l.cell.ID)
	if err != nil {
		return nil, err
	}
	var found []*dossier.Label
	for i := range labels {
		if labels[i].Layer == l.layer && labels[i].Text == l.text {
			found = append(found, &labels[i])
		}
	}
	switch {
	case len(found) == 0:
		return nil, fmt.Errorf("%s: there is no label %q on %s in cell %q\n    undermetal trace label %s lists those that there are", l.d.Path, l.text, l.layer, l.cell.Name, word(l.d.Path))
	case len(found) > 1 && at == nil:
		return nil, usagef("%d labels on %s say %q: --at X,Y says which is meant, by the one nearest to it", len(found), l.layer, l.text)
	case at != nil:
		for _, v := range found {
			if off(v.At, *at) < off(found[0].At, *at) {
				found[0] = v
			}
		}
	}
	return found[0], nil
}

func off(a, b geom.Point) float64 { return math.Hypot(float64(a.X-b.X), float64(a.Y-b.Y)) }

func (l *labelling) change(label *dossier.Label, how string) error {
	text, at, said := label.Text, label.At, ""
	var step func(*dossier.Tx) error
	switch how {
	case "remove":
		said = ": removed"
		step = func(tx *dossier.Tx) error { return edit.RemoveLabel(tx, label.ID) }
	case "rename":
		text, said = l.f.rename, fmt.Sprintf(", was %s", l.text)
		step = func(tx *dossier.Tx) error { return edit.RenameLabel(tx, label.ID, text) }
	default:
		to, err := framePoint("move", l.f.move, l.shot)
		if err != nil {
			return err
		}
		at, said = to, fmt.Sprintf(", was at %s", microns(label.At))
		step = func(tx *dossier.Tx) error { return edit.MoveLabel(tx, label.ID, to) }
	}
	if err := l.d.Edit(l.c.Context(), fmt.Sprintf("%s label %s on %s", how, l.text, l.layer), step); err != nil {
		return err
	}
	if how != "move" {
		return l.say(text, at, said)
	}
	return errors.Join(l.say(text, at, said), l.sayBare(at))
}

// microns says a point in µm.
func microns(p geom.Point) string {
	return fmt.Sprintf("(%s, %s) µm", geom.AppendUm(nil, p.X), geom.AppendUm(nil, p.Y))
}

func (l *labelling) say(text string, at geom.Point, more string) error {
	p := &printer{w: l.c.OutOrStdout()}
	in := ""
	if l.cell.ID != dossier.Frame {
		in = " in cell " + l.cell.Name
	}
	p.f("%s on %s%s at %s%s\n", text, l.layer, in, microns(at), more)
	return p.err
}

package edit

import (
	"fmt"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// keepLabel writes a label, a new one where it has no id, if it stays within the frame wherever its cell is placed.
func keepLabel(tx *dossier.Tx, l *dossier.Label) error {
	if l.Text == "" {
		return fmt.Errorf("%s: a label without text at %s: give a name, or remove the label", l.Layer, place(l.At))
	}
	if err := fits(tx, l.Cell, geom.Rect{Min: l.At, Max: l.At}); err != nil {
		return fmt.Errorf("%s: label %q: %w", l.Layer, l.Text, err)
	}
	if l.ID == 0 {
		return tx.AddLabel(l)
	}
	return tx.SetLabel(l)
}

// SetLabel names the net at a point of a layer and returns the label's id. A label that is there already, at that very
// point, gets the new text.
func SetLabel(tx *dossier.Tx, cell int64, layer string, at geom.Point, text string) (int64, error) {
	if err := (On{Cell: cell, Layer: layer}).check(tx); err != nil {
		return 0, err
	}
	l := dossier.Label{Cell: cell, Layer: layer, At: at, Text: text}
	labels, err := tx.Labels(cell)
	if err != nil {
		return 0, err
	}
	for _, old := range labels {
		if old.Layer == layer && old.At == at {
			l.ID = old.ID
		}
	}
	err = keepLabel(tx, &l)
	return l.ID, err
}

// RenameLabel gives a label another text.
func RenameLabel(tx *dossier.Tx, label int64, text string) error {
	return changeLabel(tx, label, func(l *dossier.Label) { l.Text = text })
}

// MoveLabel moves a label to a point. Move moves labels along with other things.
func MoveLabel(tx *dossier.Tx, label int64, to geom.Point) error {
	return changeLabel(tx, label, func(l *dossier.Label) { l.At = to })
}

func changeLabel(tx *dossier.Tx, label int64, change func(*dossier.Label)) error {
	found, err := tx.LabelsWith(label)
	if err != nil {
		return err
	}
	change(&found[0])
	return keepLabel(tx, &found[0])
}

// RemoveLabel removes a label.
func RemoveLabel(tx *dossier.Tx, label int64) error {
	return Delete(tx, Selection{Labels: []int64{label}})
}

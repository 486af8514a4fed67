package dossier

import (
	"database/sql"
	"fmt"

	"undermetal/layout/geom"
)

// Label names the net at a point of a layer of a cell.
type Label struct {
	ID, Cell int64
	Layer    string
	At       geom.Point
	Text     string
}

func (l *Label) check() error {
	if l.Text == "" {
		return fmt.Errorf("a label without text")
	}
	return checkPoint(l.At)
}

func (l *Label) values() ([]any, error) {
	return []any{l.Cell, l.Layer, l.At.X, l.At.Y, l.Text}, l.check()
}

// AddLabel adds a label and sets its ID.
func (tx *Tx) AddLabel(l *Label) error {
	values, err := l.values()
	if err == nil {
		l.ID, err = tx.insert("label", values...)
	}
	return err
}

// SetLabel changes a label.
func (tx *Tx) SetLabel(l *Label) error {
	values, err := l.values()
	if err == nil {
		err = tx.update("label", l.ID, values...)
	}
	return err
}

// RemoveLabel removes a label.
func (tx *Tx) RemoveLabel(id int64) error { return tx.remove("label", id) }

// Labels returns the labels of a cell.
func (r reads) Labels(cell int64) ([]Label, error) {
	return query(r, "SELECT "+labelColumns+" FROM label WHERE cell = ? ORDER BY id", scanLabel, cell)
}

const labelColumns = "id, cell, layer, x, y, text"

func scanLabel(scan func(...any) error) (l Label, err error) {
	if err := scan(&l.ID, &l.Cell, &l.Layer, &l.At.X, &l.At.Y, &l.Text); err != nil {
		return l, err
	}
	return l, l.check()
}

// Verdict is the user's answer to a question, anchored at a point of a cell, for all its placements, or of the die. It
// outlives its cell.
type Verdict struct {
	ID, Cell int64  // Cell is 0 where it is gone
	Lost     string // the name that it had then
	Layer    string
	At       geom.Point
	Kind     string // of question
	Reading  string
	Note     string
}

func (v *Verdict) values() ([]any, error) {
	return []any{sql.NullInt64{Int64: v.Cell, Valid: v.Cell != 0}, v.Lost, v.Layer, v.At.X, v.At.Y, v.Kind, v.Reading, v.Note}, checkPoint(v.At)
}

// AddVerdict adds a verdict and sets its ID.
func (tx *Tx) AddVerdict(v *Verdict) error {
	values, err := v.values()
	if err == nil {
		v.ID, err = tx.insert("verdict", values...)
	}
	return err
}

// SetVerdict changes a verdict.
func (tx *Tx) SetVerdict(v *Verdict) error {
	values, err := v.values()
	if err == nil {
		err = tx.update("verdict", v.ID, values...)
	}
	return err
}

// RemoveVerdict removes a verdict.
func (tx *Tx) RemoveVerdict(id int64) error { return tx.remove("verdict", id) }

// Verdicts returns all verdicts.
func (r reads) Verdicts() ([]Verdict, error) {
	return query(r, "SELECT id, coalesce(cell, 0), lost, layer, x, y, kind, reading, note FROM verdict ORDER BY id", func(scan func(...any) error) (v Verdict, err error) {
		if err := scan(&v.ID, &v.Cell, &v.Lost, &v.Layer, &v.At.X, &v.At.Y, &v.Kind, &v.Reading, &v.Note); err != nil {
			return v, err
		}
		return v, checkPoint(v.At)
	})
}

// Note is a remark pinned to a place of a cell or of the die.
type Note struct {
	ID, Cell int64
	At       geom.Point
	Text     string
}

// AddNote adds a note and sets its ID.
func (tx *Tx) AddNote(n *Note) (err error) {
	if err = checkPoint(n.At); err == nil {
		n.ID, err = tx.insert("note", n.Cell, n.At.X, n.At.Y, n.Text)
	}
	return err
}

// SetNote changes a note.
func (tx *Tx) SetNote(n *Note) error {
	if err := checkPoint(n.At); err != nil {
		return err
	}
	return tx.update("note", n.ID, n.Cell, n.At.X, n.At.Y, n.Text)
}

// RemoveNote removes a note.
func (tx *Tx) RemoveNote(id int64) error { return tx.remove("note", id) }

// Notes returns all notes.
func (r reads) Notes() ([]Note, error) {
	return query(r, "SELECT id, cell, x, y, text FROM note ORDER BY id", func(scan func(...any) error) (n Note, err error) {
		if err := scan(&n.ID, &n.Cell, &n.At.X, &n.At.Y, &n.Text); err != nil {
			return n, err
		}
		return n, checkPoint(n.At)
	})
}

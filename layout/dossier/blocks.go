package dossier

import (
	"fmt"
	"slices"

	"undermetal/layout/geom"
)

// Block is a region of the die with the name of a block of its block diagram, or a block of the diagram of which nobody knows yet
// where it lies.
type Block struct {
	ID      int64
	Name    string
	Polygon geom.Polygon // where it lies: one outer ring and its holes, or several of these beside each other; none: nobody knows
	Reason  string       // what speaks for it, or against it

	Status   string // Seen, Supposed, Contradicted; empty is kept as Supposed
	Document string // the number of the data sheet or patent whose diagram has it; empty: no diagram has it
	Figure   string // the diagram there, as in "fig. 3"
	Sign     string // what it is called by there, as in "14"
}

// How sure it is that a block lies where the map says.
const (
	Seen         = "seen"         // what lies there was read, and is that
	Supposed     = "supposed"     // something speaks for it
	Contradicted = "contradicted" // what lies there was read, and is something else
)

// Statuses are all of them, the surest first.
func Statuses() []string { return []string{Seen, Supposed, Contradicted} }

// check returns an error that says what of a block cannot be kept.
func (b *Block) check() error {
	if err := checkName(b.Name); err != nil {
		return err
	}
	if !slices.Contains(Statuses(), b.Status) {
		return fmt.Errorf("block %q: a status of %q: give one of %v", b.Name, b.Status, Statuses())
	}
	if b.Document == "" && (b.Figure != "" || b.Sign != "") {
		return fmt.Errorf("block %q: a figure or a sign of no document: name that, too", b.Name)
	}
	if len(b.Polygon) == 0 {
		return nil
	}
	return checkPolygon(b.Polygon)
}

func (b *Block) values() ([]any, error) {
	if b.Status == "" {
		b.Status = Supposed
	}
	return []any{b.Name, packPolygon(b.Polygon), b.Reason, b.Status, b.Document, b.Figure, b.Sign}, b.check()
}

// AddBlock adds a block and sets its ID.
func (tx *Tx) AddBlock(b *Block) error {
	values, err := b.values()
	if err == nil {
		b.ID, err = tx.insert("block", values...)
	}
	return err
}

// SetBlock changes a block.
func (tx *Tx) SetBlock(b *Block) error {
	values, err := b.values()
	if err == nil {
		err = tx.update("block", b.ID, values...)
	}
	return err
}

// RemoveBlock removes a block.
func (tx *Tx) RemoveBlock(id int64) error { return tx.remove("block", id) }

// noRings is how a block without a region is packed.
var noRings = string(packPolygon(nil))

// Blocks returns all blocks.
func (r reads) Blocks() ([]Block, error) {
	return query(r, "SELECT id, name, polygon, reason, status, document, figure, sign FROM block ORDER BY id", func(scan func(...any) error) (b Block, err error) {
		var polygon []byte
		if err := scan(&b.ID, &b.Name, &polygon, &b.Reason, &b.Status, &b.Document, &b.Figure, &b.Sign); err != nil {
			return b, err
		}
		if string(polygon) != noRings {
			if b.Polygon, err = unpackPolygon(polygon); err != nil {
				return b, fmt.Errorf("block %q: %w", b.Name, err)
			}
		}
		return b, b.check()
	})
}

// Outline returns the outline of the die, of which the block map tells shares; nil where nobody has stated it.
func (r reads) Outline() (geom.Polygon, error) {
	all, err := query(r, "SELECT polygon FROM outline", func(scan func(...any) error) (geom.Polygon, error) {
		var polygon []byte
		if err := scan(&polygon); err != nil {
			return nil, err
		}
		return unpackPolygon(polygon)
	})
	if err != nil {
		return nil, fmt.Errorf("the outline of the die: %w", err)
	}
	if len(all) == 0 {
		return nil, nil
	}
	return all[0], nil
}

// SetOutline states the outline of the die; nil takes it away.
func (tx *Tx) SetOutline(pg geom.Polygon) error {
	old, err := tx.Outline()
	switch {
	case err != nil:
		return err
	case pg == nil && old == nil:
		return nil
	case pg == nil:
		return tx.remove("outline", 1)
	}
	if err := checkPolygon(pg); err != nil {
		return fmt.Errorf("the outline of the die: %w", err)
	}
	if old != nil {
		return tx.update("outline", 1, packPolygon(pg))
	}
	_, err = tx.insert("outline", packPolygon(pg))
	return err
}

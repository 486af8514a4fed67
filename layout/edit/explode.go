package edit

import (
	"fmt"
	"slices"

	"undermetal/layout"
	"undermetal/layout/dossier"
)

// MaxExploded is the most things that Explode makes of one placement.
const MaxExploded = 1 << 20

// Explode puts what a cell holds in the place of one of its placements, member by member, and returns it. The cell
// itself stays. Placements in the cell get the name of their instance, as in row[0,2]/pixel, and labels that name before
// their text, so that nets keep their names; as labels of the parent they make ports of it, though. Verdicts and notes of
// the cell come along. What lies in the cell's own placements may move by 1 nm where the exploded one is turned by other
// angles than quarters or magnified, or where an array's pitch is not whole: it was rounded once before, and is twice now.
func Explode(tx *dossier.Tx, placement int64) (made Selection, err error) {
	found, err := tx.PlacementsWith(placement)
	if err != nil {
		return made, err
	}
	p := found[0]
	content, err := contentOf(tx, p.Child)
	if err != nil {
		return made, err
	}
	if n := len(content.shapes) + len(content.labels) + len(content.placements); n > MaxExploded/p.Columns/p.Rows {
		return made, fmt.Errorf("%d × %d members of %d things each at %s, and %d are allowed in all: single out the members that differ instead",
			p.Columns, p.Rows, n, place(p.At), MaxExploded)
	}
	names, err := newNaming(tx, p.Parent)
	if err != nil {
		return made, err
	}
	var motions []motion
	for r := range p.Rows {
		for c := range p.Columns {
			t, m := content.clone(), member(p, c, r)
			path := names.member(p.ID, c, r)
			for i := range t.labels {
				t.labels[i].Text = layout.JoinPath(path, t.labels[i].Text)
			}
			for i := range t.placements {
				t.placements[i].Name = layout.JoinPath(path, content.names.of(t.placements[i].ID))
			}
			t.asNew(p.Parent)
			if err := m.move(&t.things); err != nil {
				return made, err
			}
			if err := t.write(tx); err != nil {
				return made, err
			}
			sel := t.ids()
			made.Shapes = append(made.Shapes, sel.Shapes...)
			made.Labels = append(made.Labels, sel.Labels...)
			made.Placements = append(made.Placements, sel.Placements...)
			motions = append(motions, m)
		}
	}
	if err := copyMarks(tx, p.Child, p.Parent, motions); err != nil {
		return made, err
	}
	return made, tx.RemovePlacement(p.ID)
}

// content is all that a cell holds.
type content struct {
	things
	names *naming
}

func contentOf(tx *dossier.Tx, cell int64) (c content, err error) {
	c.cell = cell
	if c.shapes, err = tx.Shapes(cell); err != nil {
		return c, err
	}
	if c.labels, err = tx.Labels(cell); err != nil {
		return c, err
	}
	if c.placements, err = tx.Placements(cell); err != nil {
		return c, err
	}
	c.names, err = newNaming(tx, cell)
	return c, err
}

// clone copies the lists. Polygons are not changed in place by what moves them.
func (c *content) clone() content {
	return content{things{c.cell, slices.Clone(c.shapes), slices.Clone(c.labels), slices.Clone(c.placements)}, c.names}
}

// naming knows how the instances of a cell are called in paths.
type naming struct {
	cell layout.Cell
	at   map[int64]int // by placement
}

func newNaming(tx *dossier.Tx, cell int64) (*naming, error) {
	placements, err := tx.Placements(cell)
	if err != nil {
		return nil, err
	}
	cells, err := tx.Cells()
	if err != nil {
		return nil, err
	}
	children := map[int64]*layout.Cell{}
	for _, c := range cells {
		children[c.ID] = &layout.Cell{Name: c.Name}
	}
	n := &naming{at: map[int64]int{}}
	for i, p := range placements {
		q := toLayout(p)
		q.Cell = children[p.Child]
		n.cell.Placements = append(n.cell.Placements, q)
		n.at[p.ID] = i
	}
	return n, nil
}

// member returns the name of a member of a placement.
func (n *naming) member(placement int64, column, row int) string {
	return n.cell.InstanceName(n.at[placement], column, row)
}

// of returns the name of a placement, without the member.
func (n *naming) of(placement int64) string {
	single := layout.Cell{Placements: slices.Clone(n.cell.Placements)}
	single.Placements[n.at[placement]].Columns, single.Placements[n.at[placement]].Rows = 1, 1
	return single.InstanceName(n.at[placement], 0, 0)
}

// free returns a name like this one that no placement has, or none for none.
func (n *naming) free(name string) string {
	if name == "" {
		return ""
	}
	taken := func(s string) bool {
		return slices.ContainsFunc(n.cell.Placements, func(p layout.Placement) bool { return p.Name == s })
	}
	for k := 2; ; k++ {
		if s := fmt.Sprintf("%s.%d", name, k); !taken(s) {
			n.cell.Placements = append(n.cell.Placements, layout.Placement{Name: s})
			return s
		}
	}
}

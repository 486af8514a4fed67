package gds

import (
	"slices"
	"strings"
)

// visit is how far the search for rings has come with a cell.
type visit uint8

const (
	unseen visit = iota
	open         // on the path from the cell where the search began
	done
)

// checkReferences makes sure that every cell that is placed exists and that none contains itself.
func (r *reader) checkReferences() error {
	var missing *cellEntry
	var name string
	for n, e := range r.cells {
		if !e.defined && (missing == nil || e.firstRef < missing.firstRef) {
			missing, name = e, n
		}
	}
	if missing != nil {
		r.cell = missing.firstRefIn
		return r.fail(missing.firstRef, "add that cell to the file, or write the file with its whole hierarchy",
			"reference to cell %q, which the file does not contain", name)
	}
	var path []*cellEntry
	for _, c := range r.lib.Cells {
		if err := r.findRing(r.cells[c.Name], &path); err != nil {
			return err
		}
	}
	return nil
}

// findRing returns an error if a ring of placements can be reached from e. path holds the cells that are open.
func (r *reader) findRing(e *cellEntry, path *[]*cellEntry) error {
	e.state = open
	*path = append(*path, e)
	for _, ref := range e.refs {
		switch ref.to.state {
		case unseen:
			if err := r.findRing(ref.to, path); err != nil {
				return err
			}
		case open:
			r.cell = e.cell.Name
			return r.fail(ref.at, "remove one of these placements", "cell %q contains itself: %s",
				ref.to.cell.Name, ringText((*path)[slices.Index(*path, ref.to):]))
		}
	}
	*path = (*path)[:len(*path)-1]
	e.state = done
	return nil
}

// ringText names the cells of a ring, the first one again at the end; a long ring is cut short in the middle.
func ringText(ring []*cellEntry) string {
	const shown = 8
	var names []string
	for i, e := range ring {
		if i < shown || i == len(ring)-1 {
			names = append(names, e.cell.Name)
		} else if i == shown {
			names = append(names, "…")
		}
	}
	return strings.Join(append(names, ring[0].cell.Name), " → ")
}

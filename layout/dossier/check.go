package dossier

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Check reads the whole file as it is at one moment and returns what is wrong with it, empty where nothing is: the schema,
// SQLite's own check of every page and index, references, the index of shapes, what is drawn and marked, the journal, every
// tile of every pyramid, and the originals that it keeps. progress hears how many tiles of all are done. An error is one
// of asking, not of the file; what a file of an older schema holds can only be asked once it is brought up to date.
func (d *Dossier) Check(ctx context.Context, progress func(done, all int)) (findings []string, err error) {
	err = d.moment(ctx, func(m Moment) error {
		c := checkup{reads: m.reads}
		c.file(d.version)
		if d.version == Version() {
			c.contents(progress)
		} else if len(c.found) == 0 {
			return fmt.Errorf("%s: its pages and references are sound, what it holds was not looked at: %w", d.Path, d.outdated())
		}
		findings = c.found
		return ctx.Err()
	})
	if err != nil {
		return nil, err
	}
	return findings, nil
}

// checkup collects what is wrong with a dossier, each thing once. That something cannot be read is a finding too.
type checkup struct {
	reads
	found []string
}

func (c *checkup) add(more []string, err error) {
	if err != nil {
		more = append(more, strings.TrimPrefix(explain(err).Error(), c.of.Path+": "))
	}
	c.found = append(c.found, without(more, c.found)...)
}

// file checks what every file of a schema version must be.
func (c *checkup) file(version int) {
	c.add(nil, compareSchema(c.ctx, c.q, version))
	c.add(c.findings("integrity_check"))
	for _, t := range steps[version-1].tables { // one by one: a damaged table ends it
		c.add(c.findings("foreign_key_check(" + t.name + ")"))
	}
	for _, t := range []string{"tile", "original", "change"} {
		c.add(c.findings("foreign_key_check(" + t + ")"))
	}
}

// contents checks what a file of the newest schema holds.
func (c *checkup) contents(progress func(done, all int)) {
	for _, check := range []func() ([]string, error){c.checkIndex, c.checkShapes, c.checkJournal, c.checkDrawing} {
		c.add(check())
	}
	c.add(c.checkTiles(progress))
}

// checkIndex lets SQLite check the index of shapes.
func (r reads) checkIndex() ([]string, error) {
	tree, err := one(r, missing("the index of shapes"), "SELECT rtreecheck('shape_box')", scanString)
	if err != nil || tree == "ok" {
		return nil, err
	}
	return []string{"index of shapes: " + tree}, nil
}

// findings runs a check of SQLite and returns its rows, as text, but "ok".
func (r reads) findings(pragma string) (found []string, err error) {
	rows, err := r.q.QueryContext(r.ctx, "PRAGMA "+pragma)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	for rows.Next() {
		values := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range values {
			into[i] = &values[i]
		}
		if err := rows.Scan(into...); err != nil {
			return nil, err
		}
		if text := fmt.Sprint(values...); text != "ok" {
			found = append(found, pragma+": "+text)
		}
	}
	return found, rows.Err()
}

// checkShapes compares shapes with their boxes and with the index.
func (r reads) checkShapes() (found []string, err error) {
	n, err := r.count("SELECT count(*) FROM shape s LEFT JOIN shape_box b ON b.id = s.id WHERE b.id IS NULL OR b.x0 <> s.x0 OR b.x1 <> s.x1 OR b.y0 <> s.y0 OR b.y1 <> s.y1")
	if err != nil {
		return nil, err
	}
	if n > 0 {
		found = append(found, fmt.Sprintf("%d shapes are not where the index says", n))
	}
	bad, err := query(r, "SELECT id, polygon, x0, y0, x1, y1 FROM shape", func(scan func(...any) error) (string, error) {
		var id int64
		var polygon []byte
		var x0, y0, x1, y1 int
		if err := scan(&id, &polygon, &x0, &y0, &x1, &y1); err != nil {
			return "", err
		}
		pg, err := unpackPolygon(polygon)
		if err != nil {
			return fmt.Sprintf("shape %d: %v", id, err), nil
		}
		if b := pg.Bounds(); b.Min.X != x0 || b.Min.Y != y0 || b.Max.X != x1 || b.Max.Y != y1 {
			return fmt.Sprintf("shape %d: its box is not that of its polygon", id), nil
		}
		return "", nil
	})
	for _, b := range bad {
		if b != "" {
			found = append(found, b)
		}
	}
	return found, err
}

// checkJournal reads all changes.
func (r reads) checkJournal() ([]string, error) {
	n, err := r.count("SELECT count(*) FROM recording WHERE edit IS NOT NULL")
	if err == nil && n > 0 {
		return []string{"an edit is under way in the file, which no crash leaves"}, nil
	}
	if err == nil {
		_, err = query(r, "SELECT tbl, row, before, after FROM change ORDER BY id", scanChange)
	}
	return nil, err
}

// checkDrawing reads what the other checks do not.
func (r reads) checkDrawing() (found []string, err error) {
	st, err := r.Stack()
	if err != nil {
		return nil, err
	}
	note := func(err error) {
		if err != nil {
			found = append(found, err.Error())
		}
	}
	if used, err := r.UsedLayers(); err != nil || len(without(used, st.LayerNames())) == 0 { // else it is not damaged, but no library
		_, err2 := (&drawing{reads: r}).assemble()
		note(errors.Join(err, err2))
	}
	shots, err := r.Shots()
	note(err)
	for _, s := range shots {
		g, err := r.Registration(s.ID)
		if err == nil {
			err = g.check()
		}
		if !errors.Is(err, ErrMissing) {
			note(err)
		}
		_, err = r.ControlPoints(s.ID)
		note(err)
	}
	_, err = r.Biases()
	note(err)
	_, err1 := r.Blocks()
	_, err2 := r.Verdicts()
	_, err3 := r.Notes()
	_, err4 := r.History()
	for _, err := range []error{err1, err2, err3, err4} {
		note(err)
	}
	return found, nil
}

// without returns the texts of all that are not among some.
func without(all, some []string) []string {
	return slices.DeleteFunc(slices.Clone(all), func(s string) bool { return slices.Contains(some, s) })
}

// checkTiles reads all tiles of all shots.
func (r reads) checkTiles(progress func(done, all int)) (found []string, err error) {
	shots, err := r.Shots()
	if err != nil {
		return nil, err
	}
	done, all := 0, 0
	for _, s := range shots {
		all += tilesOf(s.Header.Width, s.Header.Height)
	}
	for i := range shots {
		s := &shots[i]
		bad := 0
		r.Pyramid(s).Each(func(level, column, row int, err error) bool {
			done++
			progress(done, all)
			if err != nil {
				bad++
				if bad == 1 {
					found = append(found, fmt.Sprintf("shot %q: %v", s.Name, err))
				}
			}
			return r.ctx.Err() == nil
		})
		if !s.Linked {
			if err := r.WriteOriginal(s, io.Discard); err != nil {
				found = append(found, err.Error())
			}
		}
		if bad > 1 {
			found = append(found, fmt.Sprintf("shot %q: %d tiles more are at fault", s.Name, bad-1))
		}
		if err := r.ctx.Err(); err != nil {
			return nil, err
		}
	}
	return found, nil
}

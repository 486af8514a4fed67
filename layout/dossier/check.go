package dossier

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"

	"undermetal/layout/shot"
)

// Check reads the whole file and returns what is wrong with it, empty where nothing is: SQLite's own check of every page
// and index, references, the index of shapes, polygons, the journal, every tile of every pyramid, and the originals that it keeps. progress hears how
// many tiles of all are done.
func (d *Dossier) Check(ctx context.Context, progress func(done, all int)) (findings []string, err error) {
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		found, err := d.findings(ctx, pragma)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", d.Path, explain(err))
		}
		findings = append(findings, found...)
	}
	var tree string
	if err := d.pool.QueryRowContext(ctx, "SELECT rtreecheck('shape_box')").Scan(&tree); err != nil {
		return nil, explain(err)
	}
	if tree != "ok" {
		findings = append(findings, "index of shapes: "+tree)
	}
	for _, check := range []func() ([]string, error){d.checkShapes, d.checkJournal, d.checkDrawing} {
		found, err := check()
		if err != nil {
			findings = append(findings, err.Error())
		}
		findings = append(findings, found...)
	}
	found, err := d.checkTiles(ctx, progress)
	return append(findings, found...), err
}

// findings runs a check of SQLite and returns its rows, as text, but "ok".
func (d *Dossier) findings(ctx context.Context, pragma string) (found []string, err error) {
	rows, err := d.pool.QueryContext(ctx, "PRAGMA "+pragma)
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
func (d *Dossier) checkShapes() (found []string, err error) {
	n, err := d.count("SELECT count(*) FROM shape s LEFT JOIN shape_box b ON b.id = s.id WHERE b.id IS NULL OR b.x0 <> s.x0 OR b.x1 <> s.x1 OR b.y0 <> s.y0 OR b.y1 <> s.y1")
	if err != nil {
		return nil, err
	}
	if n > 0 {
		found = append(found, fmt.Sprintf("%d shapes are not where the index says", n))
	}
	bad, err := query(d.reads, "SELECT id, polygon, x0, y0, x1, y1 FROM shape", func(scan func(...any) error) (string, error) {
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
func (d *Dossier) checkJournal() ([]string, error) {
	n, err := d.count("SELECT count(*) FROM recording WHERE edit IS NOT NULL")
	if err == nil && n > 0 {
		return []string{"an edit is under way in the file, which no crash leaves"}, nil
	}
	if err == nil {
		_, err = query(d.reads, "SELECT tbl, row, before, after FROM change ORDER BY id", scanChange)
	}
	return nil, err
}

// checkDrawing reads what the other checks do not.
func (d *Dossier) checkDrawing() ([]string, error) {
	if _, err := d.Areas(); err != nil {
		return nil, err
	}
	if _, err := d.Blocks(); err != nil {
		return nil, err
	}
	_, err := d.Stack()
	return nil, err
}

// checkTiles reads all tiles of all shots.
func (d *Dossier) checkTiles(ctx context.Context, progress func(done, all int)) (found []string, err error) {
	shots, err := d.Shots()
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
		shot.NewPyramid(s.Header, func(level, column, row int) ([]byte, error) { return d.Tile(s, level, column, row) }).Each(func(level, column, row int, err error) bool {
			done++
			progress(done, all)
			if err != nil {
				bad++
				if bad == 1 {
					found = append(found, fmt.Sprintf("shot %q: %v", s.Name, err))
				}
			}
			return ctx.Err() == nil
		})
		if !s.Linked {
			if err := d.WriteOriginal(s, io.Discard); err != nil {
				found = append(found, err.Error())
			}
		}
		if bad > 1 {
			found = append(found, fmt.Sprintf("shot %q: %d tiles more are at fault", s.Name, bad-1))
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
	}
	return found, nil
}

// Compact gives back the room that nothing needs: what was removed, and, with forget, the journal and the pyramids of
// removed shots, which then cannot be had back. It returns the file's size before and after, in bytes. SQLite writes the
// file anew beside it, so as much room again is needed while it runs.
func (d *Dossier) Compact(ctx context.Context, forget bool) (before, after int64, err error) {
	if before, err = size(d.Path); err != nil {
		return 0, 0, err
	}
	err = d.write(ctx, func(tx *Tx) error {
		if forget {
			if _, err := tx.exec("DELETE FROM edit"); err != nil {
				return err
			}
		}
		keep, err := tx.wantedPictures()
		if err != nil {
			return err
		}
		all, err := query(tx.reads, "SELECT id FROM picture", func(scan func(...any) error) (id int64, err error) { return id, scan(&id) })
		if err != nil {
			return err
		}
		for _, id := range all {
			if !keep[id] {
				if _, err := tx.exec("DELETE FROM picture WHERE id = ?", id); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return 0, 0, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, statement := range []string{"VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		if _, err := d.writer.ExecContext(ctx, statement); err != nil {
			return 0, 0, d.failed(err)
		}
	}
	after, err = size(d.Path)
	return before, after, err
}

// wantedPictures returns the pyramids of shots that there are, or that undoing or redoing could bring back.
func (tx *Tx) wantedPictures() (map[int64]bool, error) {
	keep := map[int64]bool{}
	shots, err := tx.Shots()
	if err != nil {
		return nil, err
	}
	for _, s := range shots {
		keep[s.picture] = true
	}
	changes, err := query(tx.reads, "SELECT tbl, row, before, after FROM change WHERE tbl = 'shot'", scanChange)
	for _, c := range changes {
		for _, row := range [][]any{c.before, c.after} {
			if row == nil {
				continue
			}
			if id, ok := row[slices.Index(c.table.columns, "picture")].(int64); ok {
				keep[id] = true
			}
		}
	}
	return keep, err
}

func size(path string) (int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

package dossier

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"undermetal/layout/shot"
)

// Check reads the whole file and returns what is wrong with it, empty where nothing is: the schema, SQLite's own check of
// every page and index, references, the index of shapes, what is drawn and marked, the journal, every tile of every
// pyramid, and the originals that it keeps. progress hears how many tiles of all are done. An error is one of asking,
// not of the file.
func (d *Dossier) Check(ctx context.Context, progress func(done, all int)) (findings []string, err error) {
	found := func(more []string, err error) {
		if err != nil {
			more = append(more, strings.TrimPrefix(explain(err).Error(), d.Path+": "))
		}
		findings = append(findings, without(more, findings)...)
	}
	found(nil, compareSchema(ctx, d.pool, Version()))
	found(d.findings(ctx, "integrity_check"))
	for _, t := range journaled() { // one by one: a damaged table ends it
		found(d.findings(ctx, "foreign_key_check("+t.name+")"))
	}
	for _, t := range []string{"tile", "original", "change"} {
		found(d.findings(ctx, "foreign_key_check("+t+")"))
	}
	found(d.checkIndex(ctx))
	for _, check := range []func() ([]string, error){d.checkShapes, d.checkJournal, d.checkDrawing} {
		found(check())
	}
	found(d.checkTiles(ctx, progress))
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return findings, nil
}

// checkIndex lets SQLite check the index of shapes.
func (d *Dossier) checkIndex(ctx context.Context) ([]string, error) {
	var tree string
	err := d.pool.QueryRowContext(ctx, "SELECT rtreecheck('shape_box')").Scan(&tree)
	if err != nil || tree == "ok" {
		return nil, err
	}
	return []string{"index of shapes: " + tree}, nil
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
func (d *Dossier) checkDrawing() (found []string, err error) {
	st, err := d.Stack()
	if err != nil {
		return nil, err
	}
	note := func(err error) {
		if err != nil {
			found = append(found, err.Error())
		}
	}
	if used, err := d.UsedLayers(); err != nil || len(without(used, st.LayerNames())) == 0 { // else it is not damaged, but no library
		_, err2 := d.Library()
		note(errors.Join(err, err2))
	}
	_, err1 := d.Blocks()
	_, err2 := d.Verdicts()
	_, err3 := d.Notes()
	_, err4 := d.History()
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
// file anew beside it and then takes that over, so twice as much room again is needed while it runs.
func (d *Dossier) Compact(ctx context.Context, forget bool) (before, after int64, err error) {
	if before, err = size(d.file); err != nil {
		return 0, 0, err
	}
	if err := d.write(ctx, func(tx *Tx) error { return tx.dropUnwanted(forget) }); err != nil {
		return 0, 0, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	// Beside the dossier, where there is room for it, not in the folder for temporary files.
	for _, statement := range []string{"PRAGMA temp_store_directory = " + quoted(filepath.Dir(d.file)), "VACUUM", "PRAGMA wal_checkpoint(TRUNCATE)"} {
		if _, err := d.writer.ExecContext(ctx, statement); err != nil {
			what := "what nothing needs is gone, but the file is as large as it was"
			if forget {
				what = "the journal is gone, but the file is as large as it was"
			}
			return 0, 0, fmt.Errorf("%s: %s: the smaller one could not be written beside it, which takes twice %d MB for a while: %w", d.Path, what, before>>20+1, err)
		}
	}
	after, err = size(d.file)
	return before, after, err
}

// quoted is a text as SQL writes it.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// dropUnwanted removes the pictures that nothing can show again, and, with forget, the journal first.
func (tx *Tx) dropUnwanted(forget bool) error {
	if forget {
		if _, err := tx.exec("DELETE FROM edit"); err != nil {
			return err
		}
	}
	keep, err := tx.wantedPictures()
	if err != nil {
		return err
	}
	all, err := query(tx.reads, "SELECT id FROM picture WHERE complete = 1", func(scan func(...any) error) (id int64, err error) { return id, scan(&id) })
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
}

// wantedPictures returns the pyramids of shots that there are, or that undoing or redoing could bring back.
func (r reads) wantedPictures() (map[int64]bool, error) {
	keep := map[int64]bool{}
	shots, err := r.Shots()
	if err != nil {
		return nil, err
	}
	for _, s := range shots {
		keep[s.picture] = true
	}
	changes, err := query(r, "SELECT tbl, row, before, after FROM change WHERE tbl = 'shot'", scanChange)
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

// KeptForUndo returns how many pyramids no shot has that is there, and undoing or redoing could bring back.
func (r reads) KeptForUndo() (int, error) {
	wanted, err := r.wantedPictures()
	if err != nil {
		return 0, err
	}
	shots, err := r.Shots()
	return len(wanted) - len(shots), err
}

func size(path string) (int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

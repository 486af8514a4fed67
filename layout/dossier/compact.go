package dossier

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
)

// Compact gives back the room that nothing needs: what was removed, and, with forget, the journal and the pyramids of
// removed shots, which then cannot be had back. It returns the file's size before and after, in bytes. SQLite writes the
// file anew beside it and then takes that over, so twice as much room again is needed while it runs.
func (d *Dossier) Compact(ctx context.Context, forget bool) (before, after int64, err error) {
	if before, err = d.size(); err != nil {
		return 0, 0, err
	}
	if err := d.write(ctx, func(tx *Tx) error { return tx.dropUnwanted(forget) }); err != nil {
		return 0, 0, err
	}
	if err := d.shrink(ctx); err != nil {
		what := "what nothing needs is gone"
		if forget {
			what = "the journal is gone"
		}
		why := fmt.Sprintf("the smaller one could not be written beside it, which takes twice %d MB for a while", before>>20+1)
		if ctx.Err() != nil {
			why = "it was stopped, and compact goes on with it"
		} else if errors.Is(err, errReading) {
			why = "it takes its new size once nobody reads it any more"
		}
		return 0, 0, fmt.Errorf("%s: %s, but the file is not as small as it can be: %s: %w", d.Path, what, why, err)
	}
	after, err = d.size()
	return before, after, err
}

// errReading is the error where a file cannot become smaller as long as somebody reads what it was.
var errReading = errors.New("somebody is reading it")

// folderForTemporary is set for the whole process while SQLite uses it.
var folderForTemporary sync.Mutex

// shrink lets SQLite write the file anew. It does so in a temporary file, for which there is room beside the dossier
// rather than in the folder for temporary files.
func (d *Dossier) shrink(ctx context.Context) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.closed {
		return errClosed
	}
	folderForTemporary.Lock()
	defer folderForTemporary.Unlock()
	if _, err := d.writer.Exec("PRAGMA temp_store_directory = " + quoted(filepath.Dir(d.file))); err != nil {
		return err
	}
	_, err := d.writer.ExecContext(ctx, "VACUUM")
	_, err2 := d.writer.Exec("PRAGMA temp_store_directory = ''")
	if err := errors.Join(err, err2); err != nil {
		return err
	}
	var busy, frames, done int
	if err := d.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &done); err != nil {
		return err
	}
	if busy != 0 {
		return errReading
	}
	return nil
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

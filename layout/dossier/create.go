package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"undermetal/layout/stack"
)

// unfinishedSuffix is what the name of a dossier that is being made ends in. One that was left behind is removed by
// whoever makes a dossier of that name next.
const unfinishedSuffix = ".unfinished"

// Create makes a new dossier with a stack and opens it for editing. It never overwrites a file: where one is at path,
// the error is fs.ErrExist.
func Create(ctx context.Context, path string, st *stack.Stack) (*Dossier, error) {
	folder := filepath.Dir(path)
	if path == "" || path[len(path)-1] == filepath.Separator {
		return nil, fmt.Errorf("%q is no name for a file: give one, as in kiln.dossier", path)
	}
	if info, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) || err == nil && !info.IsDir() {
		return nil, fmt.Errorf("%s: there is no folder %s: make it first", path, folder)
	} else if err != nil {
		return nil, err
	}
	file, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	release, by, err := hold(file)
	if errors.Is(err, errHeld) {
		return nil, fmt.Errorf("%s: %w: it is held by %s", path, fs.ErrExist, by)
	}
	if err != nil {
		return nil, fmt.Errorf("%s: no file can be made in its folder (%w)", path, err)
	}
	d := &Dossier{Path: path, release: release}
	if err := makeFile(ctx, path, file, st); err != nil {
		release()
		return nil, err
	}
	if err = d.find(); err == nil {
		err = d.connect(ctx, toEdit)
	}
	if err != nil { // as after an interrupt: what nobody has seen yet goes, while it is still held
		os.Remove(file)
		d.Close()
		return nil, fmt.Errorf("%s: %w", path, explain(err))
	}
	return d, nil
}

// makeFile makes a new dossier beside and gives it its name when it is whole. The caller holds it.
func makeFile(ctx context.Context, path, file string, st *stack.Stack) error {
	beside := file + unfinishedSuffix
	remove := func() {
		for _, suffix := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(beside + suffix)
		}
	}
	remove()
	defer remove()
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("%s: %w: give another name, or remove it first", path, fs.ErrExist)
	}
	if err := initialise(ctx, beside, st); err != nil {
		return fmt.Errorf("%s: %w", path, explain(err))
	}
	if err := os.Link(beside, file); errors.Is(err, fs.ErrExist) { // unlike a renaming, it does not overwrite
		return fmt.Errorf("%s: %w", path, fs.ErrExist)
	} else if err != nil { // the file system has no links
		return os.Rename(beside, file)
	}
	return nil
}

// initialise writes an empty dossier to a new file.
func initialise(ctx context.Context, path string, st *stack.Stack) error {
	db, err := sql.Open(driverName, dsn(path, "mode=rwc&_synchronous=FULL"))
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d", applicationID)); err != nil {
		return err
	}
	if err := migrate(ctx, tx, 0); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO stack VALUES (1, ?)", string(st.TOML())); err != nil {
		return err
	}
	return tx.Commit()
}

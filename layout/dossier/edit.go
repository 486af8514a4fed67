package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
)

// ErrReadOnly is wrapped by the error of an edit where the dossier is only read.
var ErrReadOnly = errors.New("the dossier can only be read")

// ErrNothing is the error of Undo and Redo where there is nothing to undo or redo.
var ErrNothing = errors.New("nothing")

// Tx is an edit under way. It reads what it has written. It is for one goroutine, and only as long as the edit runs.
type Tx struct {
	reads
	tx       *sql.Tx
	prepared map[string]*sql.Stmt // a statement that fires triggers takes long to compile
	placed   bool                 // a cell may contain itself now
}

// Edit runs f as one edit: all of it is on the disk when Edit returns nil, and nothing of it where f or the disk fails.
// what says in the journal what was done, as in "add 3 shapes on poly". An edit that changes nothing leaves no entry;
// any other takes away what could have been redone. f must not call methods of the dossier that edit: they would wait
// for it to end.
func (d *Dossier) Edit(ctx context.Context, what string, f func(*Tx) error) error {
	return d.write(ctx, func(tx *Tx) error {
		res, err := tx.exec("INSERT INTO edit (what, at, undone) VALUES (?, ?, 0)", what, time.Now().UTC().Format(time.RFC3339))
		if err != nil {
			return err
		}
		id, err := res.LastInsertId()
		if err != nil {
			return err
		}
		if _, err := tx.exec("UPDATE recording SET edit = ?", id); err != nil {
			return err
		}
		if err := f(tx); err != nil {
			return err
		}
		if tx.placed {
			if err := tx.checkCycles(); err != nil {
				return err
			}
		}
		changes, err := tx.count("SELECT count(*) FROM change WHERE edit = ?", id)
		if err != nil {
			return err
		}
		if changes == 0 {
			_, err = tx.exec("DELETE FROM edit WHERE id = ?", id)
		} else {
			_, err = tx.exec("DELETE FROM edit WHERE undone = 1")
		}
		if err != nil {
			return err
		}
		_, err = tx.exec("UPDATE recording SET edit = NULL")
		return err
	})
}

// write runs f in a transaction.
func (d *Dossier) write(ctx context.Context, f func(*Tx) error) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.closed {
		return fmt.Errorf("%s: %w", d.Path, errClosed)
	}
	if d.why != "" {
		return fmt.Errorf("%s: %w: %s", d.Path, ErrReadOnly, d.why)
	}
	if err := d.moved(); err != nil {
		return fmt.Errorf("%w: nothing was changed", err)
	}
	tx, err := d.writer.BeginTx(ctx, nil)
	if err != nil {
		return d.failed(err)
	}
	defer tx.Rollback() // does nothing after a commit
	t := &Tx{reads: reads{ctx: ctx, q: tx, of: d, within: true}, tx: tx, prepared: map[string]*sql.Stmt{}}
	err = f(t)
	for _, s := range t.prepared {
		s.Close() // whose error is that of what it ran last
	}
	if err == nil {
		err = tx.Commit()
	}
	return d.failed(err)
}

// exec runs a statement. Texts must be fit to come back: UTF-8 without zero bytes, at which SQLite's literals end.
func (tx *Tx) exec(statement string, args ...any) (sql.Result, error) {
	for _, a := range args {
		if s, ok := a.(string); ok && (strings.ContainsRune(s, 0) || strings.ToValidUTF8(s, "") != s) {
			return nil, fmt.Errorf("%q cannot be kept: a text is UTF-8 without zero bytes", s)
		}
	}
	s := tx.prepared[statement]
	if s == nil {
		var err error
		if s, err = tx.tx.PrepareContext(tx.ctx, statement); err != nil {
			return nil, err
		}
		tx.prepared[statement] = s
	}
	return s.ExecContext(tx.ctx, args...)
}

// insert adds a row and returns its id. Columns and values go without the id.
func (tx *Tx) insert(name string, values ...any) (int64, error) {
	t := tableNamed(name)
	res, err := tx.exec(fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", name, strings.Join(t.columns[1:], ", "), places(len(values))), values...)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

// update sets a row anew.
func (tx *Tx) update(name string, id int64, values ...any) error {
	t := tableNamed(name)
	res, err := tx.exec(fmt.Sprintf("UPDATE %s SET %s = ? WHERE id = ?", name, strings.Join(t.columns[1:], " = ?, ")), append(values, id)...)
	return changedOne(res, err, name, id)
}

// remove deletes a row.
func (tx *Tx) remove(name string, id int64) error {
	res, err := tx.exec(fmt.Sprintf("DELETE FROM %s WHERE id = ?", name), id)
	return changedOne(res, err, name, id)
}

func changedOne(res sql.Result, err error, name string, id int64) error {
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n != 1 {
		return errors.Join(fmt.Errorf("there is no %s %d", strings.ReplaceAll(name, "_", " "), id), err)
	}
	return nil
}

func tableNamed(name string) table {
	for _, t := range journaled() {
		if t.name == name {
			return t
		}
	}
	panic("dossier: no journaled table " + name)
}

// places returns n question marks.
func places(n int) string { return strings.TrimSuffix(strings.Repeat("?, ", n), ", ") }

// Undo takes back the last edit that stands and returns what it was. It is itself on the disk when it returns.
func (d *Dossier) Undo(ctx context.Context) (string, error) {
	return d.step(ctx, "SELECT id, what FROM edit WHERE undone = 0 ORDER BY id DESC LIMIT 1", true)
}

// Redo does once more the edit that was undone last and returns what it was.
func (d *Dossier) Redo(ctx context.Context) (string, error) {
	return d.step(ctx, "SELECT id, what FROM edit WHERE undone = 1 ORDER BY id LIMIT 1", false)
}

func (d *Dossier) step(ctx context.Context, find string, undo bool) (what string, err error) {
	err = d.write(ctx, func(tx *Tx) error {
		var id int64
		if err := tx.tx.QueryRowContext(ctx, find).Scan(&id, &what); errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("there is %w to %s", ErrNothing, map[bool]string{true: "undo", false: "redo"}[undo])
		} else if err != nil {
			return err
		}
		changes, err := tx.changes(id, undo)
		if err != nil {
			return err
		}
		for _, c := range changes {
			if err := tx.apply(c, undo); err != nil {
				return fmt.Errorf("edit %d (%s): %w", id, what, err)
			}
		}
		if _, err := tx.Stack(); err != nil { // the journal may be damaged
			return fmt.Errorf("edit %d (%s): %w", id, what, err)
		}
		_, err = tx.exec("UPDATE edit SET undone = ? WHERE id = ?", undo, id)
		return err
	})
	return what, err
}

// Entry is an edit in the journal.
type Entry struct {
	What   string
	At     time.Time
	Undone bool // it can be redone
}

// History returns the journal, the oldest edit first.
func (r reads) History() ([]Entry, error) {
	return query(r, "SELECT what, at, undone FROM edit ORDER BY id", func(scan func(...any) error) (e Entry, err error) {
		var at string
		if err := scan(&e.What, &at, &e.Undone); err != nil {
			return e, err
		}
		if e.At, err = time.Parse(time.RFC3339, at); err != nil {
			err = fmt.Errorf("the journal is damaged: an edit at the time %q", at)
		}
		return e, err
	})
}

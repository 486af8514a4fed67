package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"github.com/mattn/go-sqlite3"

	"undermetal/layout/stack"
)

// driverName is SQLite with what a file from elsewhere must not do switched off: its views and triggers run no
// functions with side effects, and its pages are checked as they are read.
const driverName = "undermetal-dossier"

func init() {
	sql.Register(driverName, &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
		_, err := c.Exec("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON", nil)
		return err
	}})
}

// queryer is a pool, or a transaction.
type queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// Dossier is an open dossier. Its methods may be called by several goroutines at once; edits wait for each other.
type Dossier struct {
	reads
	Path string

	pool    *sql.DB // for reading
	writer  *sql.DB // one connection; nil where the dossier is only read
	release func()
	why     string     // it is only read; empty where it can be edited
	mu      sync.Mutex // one edit at a time
}

// ReadOnly says why the dossier cannot be edited; empty where it can.
func (d *Dossier) ReadOnly() string { return d.why }

// dsn names a file to SQLite, whatever signs its path has.
func dsn(path string, options string) (string, error) {
	abs, err := filepath.Abs(path)
	return (&url.URL{Scheme: "file", Path: abs}).String() + "?" + options, err
}

const writing = "mode=rw&_journal_mode=WAL&_busy_timeout=5000&_foreign_keys=on&_synchronous=FULL&_txlock=immediate"

// readOptions returns the options for reading. Where SQLite can make its files beside the dossier, the connection may
// write, so that it takes them away again, but runs no statement that writes. Where it cannot and nobody is writing, it
// is told that nobody will.
func readOptions(path string) string {
	const common = "&_busy_timeout=5000&_foreign_keys=on"
	if mayWrite(path) == nil && mayWrite(filepath.Dir(path)) == nil {
		return "mode=rw&_query_only=on" + common
	}
	if _, err := os.Stat(path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		return "mode=ro&immutable=1" + common
	}
	return "mode=ro" + common
}

// unfinishedSuffix is what the name of a dossier that is being made ends in. One that was left behind is removed by
// whoever makes a dossier of that name next.
const unfinishedSuffix = ".unfinished"

// Create makes a new dossier with a stack and opens it for editing. It never overwrites a file: where one is at path,
// the error is fs.ErrExist.
func Create(ctx context.Context, path string, st *stack.Stack) (*Dossier, error) {
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return nil, err
	}
	release, by, err := hold(path)
	if errors.Is(err, errHeld) {
		return nil, fmt.Errorf("%s: %w: it is held by %s", path, fs.ErrExist, by)
	}
	if err != nil {
		return nil, err
	}
	if err := makeFile(ctx, path, st); err != nil {
		release()
		return nil, err
	}
	return (&Dossier{Path: path, release: release}).opened(ctx, steps)
}

// makeFile makes a new dossier beside and gives it its name when it is whole. The caller holds it.
func makeFile(ctx context.Context, path string, st *stack.Stack) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s: %w: give another name, or remove it first", path, fs.ErrExist)
	}
	beside := path + unfinishedSuffix
	remove := func() {
		for _, suffix := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(beside + suffix)
		}
	}
	remove()
	defer remove()
	if err := initialise(ctx, beside, st); err != nil {
		return fmt.Errorf("%s: %w", path, explain(err))
	}
	if err := os.Link(beside, path); errors.Is(err, fs.ErrExist) { // unlike a renaming, it does not overwrite
		return fmt.Errorf("%s: %w", path, fs.ErrExist)
	} else if err != nil { // the file system has no links
		return os.Rename(beside, path)
	}
	return nil
}

// initialise writes an empty dossier to a new file.
func initialise(ctx context.Context, path string, st *stack.Stack) error {
	name, err := dsn(path, "mode=rwc&_synchronous=FULL&_foreign_keys=on")
	if err != nil {
		return err
	}
	db, err := sql.Open(driverName, name)
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
	if err := migrate(ctx, tx, 0, steps); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO stack VALUES (1, ?)", string(st.TOML())); err != nil {
		return err
	}
	return tx.Commit()
}

// Open opens a dossier for editing, or, where that is not possible, for reading: ReadOnly says why. An older schema is
// brought up to date; a file that is none, is damaged, or comes from a newer program is refused.
func Open(ctx context.Context, path string) (*Dossier, error) { return open(ctx, path, steps, true) }

// OpenToRead opens a dossier for reading, whoever holds it, and changes nothing.
func OpenToRead(ctx context.Context, path string) (*Dossier, error) {
	return open(ctx, path, steps, false)
}

func open(ctx context.Context, path string, steps []string, edit bool) (*Dossier, error) {
	if info, err := os.Stat(path); err != nil {
		return nil, err
	} else if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: not a file", path)
	}
	d := &Dossier{Path: path, why: "it was opened to be read"}
	if edit {
		d.take()
	}
	return d.opened(ctx, steps)
}

// opened opens the connections; the one for edits where the dossier is held.
func (d *Dossier) opened(ctx context.Context, steps []string) (*Dossier, error) {
	if err := d.connect(ctx, steps); err != nil {
		d.Close()
		return nil, fmt.Errorf("%s: %w", d.Path, explain(err))
	}
	return d, nil
}

func (d *Dossier) connect(ctx context.Context, steps []string) error {
	options := readOptions(d.Path)
	if d.release != nil {
		if err := d.openWriter(ctx, steps, options); err != nil {
			return err
		}
	}
	name, err := dsn(d.Path, options)
	if err != nil {
		return err
	}
	if d.pool, err = sql.Open(driverName, name); err != nil {
		return err
	}
	d.pool.SetMaxOpenConns(max(2, runtime.GOMAXPROCS(0)))
	d.reads = reads{d.pool}
	return verify(ctx, d.pool, steps)
}

// take takes hold of the dossier, if it can be edited.
func (d *Dossier) take() {
	release, by, err := hold(d.Path)
	switch {
	case errors.Is(err, errHeld):
		d.why = "it is held by " + by.String()
		return
	case errors.Is(err, errors.ErrUnsupported):
		d.why = "editing is not supported on this system"
		return
	case err != nil:
		d.why = fmt.Sprintf("its folder cannot be written to (%v)", err)
		return
	}
	if err := mayWrite(d.Path); err != nil {
		release()
		d.why = fmt.Sprintf("the file cannot be written to (%v)", err)
		return
	}
	d.release, d.why = release, ""
	return
}

// openWriter opens the connection for edits, brings the schema up to date and clears away pictures that nobody finished.
func (d *Dossier) openWriter(ctx context.Context, steps []string, options string) error {
	name, err := dsn(d.Path, writing)
	if err != nil {
		return err
	}
	version, err := readMarks(ctx, d.Path, options, len(steps)) // before anything is written to it
	if err != nil {
		return err
	}
	if d.writer, err = sql.Open(driverName, name); err != nil {
		return err
	}
	d.writer.SetMaxOpenConns(1)
	if err := compareSchema(ctx, d.writer, steps[:version]); err != nil {
		return err
	}
	tx, err := d.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if version < len(steps) {
		if err := migrate(ctx, tx, version, steps); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, "DELETE FROM picture WHERE complete = 0"); err != nil {
		return err
	}
	return tx.Commit()
}

// readMarks reads the marks of a file, without changing it.
func readMarks(ctx context.Context, path, options string, newest int) (version int, err error) {
	name, err := dsn(path, options)
	if err != nil {
		return 0, err
	}
	db, err := sql.Open(driverName, name)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	return marks(ctx, db, newest)
}

// marks returns the schema version of a file that is a dossier.
func marks(ctx context.Context, q queryer, newest int) (version int, err error) {
	var id int
	if err := q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, err
	}
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return 0, err
	}
	switch {
	case id != applicationID:
		return 0, errors.New("an SQLite file, but no dossier: undermetal new makes one")
	case version < 1:
		return 0, fmt.Errorf("a dossier of schema %d, which there never was: the file is damaged", version)
	case version > newest:
		return 0, fmt.Errorf("a dossier of schema %d, made by a newer undermetal; this one knows %d: take the newer one", version, newest)
	}
	return version, nil
}

// verify checks a file before it is trusted: its marks, its schema, and the pages of all tables but the tiles, whose
// check takes as long as reading them; Check does that too.
func verify(ctx context.Context, q queryer, steps []string) error {
	version, err := marks(ctx, q, len(steps))
	if err != nil {
		return err
	}
	if version < len(steps) {
		return fmt.Errorf("a dossier of schema %d, to be brought to %d: open it once where it can be edited", version, len(steps))
	}
	if err := compareSchema(ctx, q, steps); err != nil {
		return err
	}
	for _, t := range append([]table{{name: "edit"}, {name: "change"}, {name: "picture"}}, journaled...) {
		var finding string
		if err := q.QueryRowContext(ctx, "PRAGMA quick_check("+t.name+")").Scan(&finding); err != nil {
			return err
		}
		if finding != "ok" {
			return fmt.Errorf("damaged: %s: undermetal check says more; take the last copy that is whole", finding)
		}
	}
	return nil
}

// Close ends all work with the dossier and leaves one file. A second call does nothing.
func (d *Dossier) Close() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var errs []error
	if d.pool != nil {
		errs = append(errs, d.pool.Close())
	}
	if d.writer != nil {
		errs = append(errs, d.writer.Close()) // the last one: SQLite puts its other files away
	}
	if d.release != nil {
		d.release()
		d.release, d.why = nil, "it is closed"
	}
	return errors.Join(errs...)
}

// explain says in other words what SQLite says in its own.
func explain(err error) error {
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return err
	}
	switch e.Code {
	case sqlite3.ErrNotADB:
		return errors.New("no dossier: not an SQLite file")
	case sqlite3.ErrCorrupt:
		return fmt.Errorf("damaged (%w): take the last copy that is whole", err)
	case sqlite3.ErrFull:
		return fmt.Errorf("no room left on the disk: nothing was changed (%w)", err)
	case sqlite3.ErrIoErr:
		return fmt.Errorf("the disk does not read or write, or is full: nothing was changed (%w)", err)
	case sqlite3.ErrBusy:
		return fmt.Errorf("another program keeps the file locked: try again (%w)", err)
	case sqlite3.ErrReadonly, sqlite3.ErrCantOpen:
		return fmt.Errorf("it cannot be written to, or its folder cannot: copy it to where it can (%w)", err)
	}
	return err
}

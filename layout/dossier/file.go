package dossier

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"github.com/mattn/go-sqlite3"
)

// driverName is SQLite with what a file from elsewhere must not do switched off: its views and triggers run no
// functions with side effects, and its pages are checked as they are read.
const driverName = "undermetal-dossier"

var sqlite = &sqlite3.SQLiteDriver{ConnectHook: func(c *sqlite3.SQLiteConn) error {
	_, err := c.Exec("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON", nil)
	return err
}}

func init() { sql.Register(driverName, sqlite) }

// connector opens connections to the file as long as it is where it was opened: another one in its place is not it.
type connector struct {
	d   *Dossier
	dsn string
}

func (c connector) Driver() driver.Driver { return sqlite }

func (c connector) Connect(context.Context) (driver.Conn, error) {
	if err := c.d.moved(); err != nil {
		return nil, err
	}
	return sqlite.Open(c.dsn)
}

// errClosed is the error of asking a dossier that is closed, or waits for those who read to end so that it can be.
var errClosed = errors.New("the dossier is closed")

// Dossier is an open dossier. Its methods may be called by several goroutines at once; edits wait for each other.
type Dossier struct {
	reads        // they end with the context that it was opened with
	Path  string // as the caller gave it

	file    string       // the file itself, where Path is a link to it
	opened  os.FileInfo  // of the file
	pool    *sql.DB      // for reading
	writer  *sql.DB      // one connection; nil where the dossier is only read
	release func()       // of the hold; nil where it is only read
	why     string       // it is only read; empty where it can be edited
	version int          // of the file's schema
	mu      sync.Mutex   // one edit at a time
	reading sync.RWMutex // held by whoever reads, for Close to wait for, and by Close for good
	closed  bool
}

// ReadOnly says why the dossier cannot be edited; empty where it can.
func (d *Dossier) ReadOnly() string { return d.why }

// Open opens a dossier for editing, or, where that is not possible, for reading: ReadOnly says why. An older schema is
// brought up to date; a file that is none, is damaged, or comes from a newer program is refused. What the dossier is
// asked ends with ctx.
func Open(ctx context.Context, path string) (*Dossier, error) { return open(ctx, path, toEdit) }

// OpenToRead opens a dossier for reading, whoever holds it, and changes nothing.
func OpenToRead(ctx context.Context, path string) (*Dossier, error) { return open(ctx, path, toRead) }

// OpenToCheck is OpenToRead for a file that may be damaged: only Check is to be asked, which says what is wrong.
func OpenToCheck(ctx context.Context, path string) (*Dossier, error) {
	return open(ctx, path, toCheck)
}

// purpose is what a dossier is opened for.
type purpose int

const (
	toRead purpose = iota
	toEdit
	toCheck
)

func open(ctx context.Context, path string, why purpose) (*Dossier, error) {
	d := &Dossier{Path: path, why: "it was opened to be read"}
	if err := d.find(); err != nil {
		return nil, err
	}
	if why == toEdit {
		d.take()
	}
	return d.connected(ctx, why)
}

// find finds the file itself. SQLite keeps what is newest in files beside the name by which the file was opened: with
// two names there would be two of these, each without the other's edits.
func (d *Dossier) find() (err error) {
	if d.file, err = filepath.EvalSymlinks(d.Path); err != nil {
		return err
	}
	if d.file, err = filepath.Abs(d.file); err != nil { // whatever folder the process goes to
		return err
	}
	if d.opened, err = os.Stat(d.file); err != nil {
		return err
	}
	if !d.opened.Mode().IsRegular() {
		return fmt.Errorf("%s: not a file", d.Path)
	}
	if n := names(d.opened); n > 2 || n == 2 && !d.unfinished() {
		return fmt.Errorf("%s: the file has %d names (hard links), and what is edited by one of them is not seen by the others: copy it, and use the copy", d.Path, n)
	}
	return nil
}

// unfinished reports whether the second name of a file is the one that it had while it was made.
func (d *Dossier) unfinished() bool {
	other, err := os.Lstat(d.file + unfinishedSuffix)
	return err == nil && os.SameFile(other, d.opened)
}

// connected opens the connections; the one for edits where the dossier is held.
func (d *Dossier) connected(ctx context.Context, why purpose) (*Dossier, error) {
	if err := d.connect(ctx, why); err != nil {
		d.Close()
		return nil, fmt.Errorf("%s: %w", d.Path, explain(err))
	}
	return d, nil
}

// connect trusts the file with nothing before it has been looked at: marks and schema first, then what is in it.
func (d *Dossier) connect(ctx context.Context, why purpose) (err error) {
	d.pool = sql.OpenDB(connector{d, dsn(d.file, readOptions(d.file))})
	d.pool.SetMaxIdleConns(runtime.GOMAXPROCS(0)) // to keep; there may be more, so that nobody waits who has one
	d.reads = reads{ctx: ctx, q: d.pool, of: d}
	if d.version, err = marks(ctx, d.pool); err != nil || why == toCheck {
		return err
	}
	if err := compareSchema(ctx, d.pool, d.version); err != nil {
		return err
	}
	if d.version < Version() && d.release == nil {
		return d.outdated()
	}
	if err := quickCheck(ctx, d.pool, steps[d.version-1].tables); err != nil {
		return fmt.Errorf("%w; undermetal check says more", explain(err))
	}
	if d.release == nil {
		return nil
	}
	d.writer = sql.OpenDB(connector{d, dsn(d.file, writing)})
	d.writer.SetMaxOpenConns(1)
	if d.version < Version() {
		if err := d.migrate(ctx); err != nil {
			return err
		}
	}
	// What a build left that broke off; and an edit under way, which no crash leaves but somebody may have written.
	_, err = d.writer.ExecContext(ctx, "DELETE FROM picture WHERE complete = 0; UPDATE recording SET edit = NULL WHERE edit IS NOT NULL")
	return err
}

// dsn names a file to SQLite, whatever signs its absolute path has.
func dsn(path, options string) string {
	return (&url.URL{Scheme: "file", Path: path}).String() + "?" + options
}

const writing = "mode=rw&_journal_mode=WAL&_busy_timeout=2000&_foreign_keys=on&_synchronous=FULL&_txlock=immediate"

// readOptions returns the options for reading. Where SQLite can make its files beside the dossier, the connection may
// write, so that it takes them away again, but runs no statement that writes. Where it cannot and nobody is writing, it
// is told that nobody will.
func readOptions(path string) string {
	const common = "&_busy_timeout=2000&_foreign_keys=on"
	if mayWrite(path) == nil && mayWrite(filepath.Dir(path)) == nil {
		return "mode=rw&_query_only=on" + common
	}
	if _, err := os.Stat(path + "-wal"); errors.Is(err, fs.ErrNotExist) {
		return "mode=ro&immutable=1" + common
	}
	return "mode=ro" + common
}

// outdated is the error of reading a dossier of an older schema.
func (d *Dossier) outdated() error {
	return fmt.Errorf("a dossier of schema %d, to be brought to %d: undermetal compact does that, where it can be written to", d.version, Version())
}

// migrate brings the schema up to date, all steps or none.
func (d *Dossier) migrate(ctx context.Context) error {
	if _, err := d.writer.ExecContext(ctx, "PRAGMA foreign_keys = OFF"); err != nil { // not possible within a transaction
		return err
	}
	tx, err := d.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback()
	if err := migrate(ctx, tx, d.version); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	d.version = Version()
	_, err = d.writer.ExecContext(ctx, "PRAGMA foreign_keys = ON")
	return err
}

// take takes hold of the dossier, if it can be edited.
func (d *Dossier) take() {
	release, by, err := hold(d.file)
	switch {
	case errors.Is(err, errHeld):
		d.why = "it is held by " + by.String()
		return
	case errors.Is(err, errors.ErrUnsupported):
		d.why = "editing is not supported on this system"
		return
	case errors.Is(err, fs.ErrPermission) || mayWrite(filepath.Dir(d.file)) != nil:
		d.why = fmt.Sprintf("its folder cannot be written to (%v)", err)
		return
	case err != nil:
		d.why = fmt.Sprintf("it cannot be held (%v)", err)
		return
	}
	if err := mayWrite(d.file); err != nil {
		release()
		d.why = fmt.Sprintf("the file cannot be written to (%v)", err)
		return
	}
	d.release, d.why = release, ""
	if d.unfinished() { // whoever made it was killed before the end
		os.Remove(d.file + unfinishedSuffix)
	}
}

// moved returns an error where the file is not any more where it was opened. SQLite would go on beside the old name.
func (d *Dossier) moved() error {
	now, err := os.Stat(d.file)
	if err == nil && os.SameFile(now, d.opened) {
		return nil
	}
	return fmt.Errorf("%s: it was moved or removed while it was open; open it where it is now", d.Path)
}

// size returns how long the file is, in bytes.
func (d *Dossier) size() (int64, error) {
	if err := d.moved(); err != nil {
		return 0, err
	}
	info, err := os.Stat(d.file)
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}

// Close ends all work with the dossier and leaves one file. It waits for whatever reads to end; what is asked meanwhile,
// and later, is refused. A second call does nothing.
func (d *Dossier) Close() error {
	d.mu.Lock()
	again := d.closed
	d.closed = true
	d.mu.Unlock() // whoever reads may be about to edit, and hears that it is closed
	if again {
		return nil
	}
	d.reading.Lock()
	var errs []error
	if d.writer != nil && d.release != nil {
		errs = append(errs, d.leave())
	}
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

// leave takes all edits over into a file that was moved: SQLite would leave them beside its old name, where another
// dossier may lie by now.
func (d *Dossier) leave() error {
	moved := d.moved()
	if moved == nil {
		return nil
	}
	var busy, frames, done int
	err := d.writer.QueryRow("PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &done)
	if err != nil || busy != 0 {
		return fmt.Errorf("%w: its last edits are in %s-wal, which must get the new name too, with -wal, before anything opens it", moved, d.file)
	}
	if _, err := os.Lstat(d.file); errors.Is(err, fs.ErrNotExist) {
		os.Remove(d.file + "-wal") // empty
		os.Remove(d.file + "-shm")
	}
	return nil
}

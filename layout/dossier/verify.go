package dossier

import (
	"context"
	"errors"
	"fmt"

	"github.com/mattn/go-sqlite3"
)

// marks returns the schema version of a file that is a dossier.
func marks(ctx context.Context, q queryer) (version int, err error) {
	var id int
	if err := q.QueryRowContext(ctx, "PRAGMA application_id").Scan(&id); err != nil {
		return 0, err
	}
	if err := q.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
		return 0, err
	}
	switch {
	case id != applicationID:
		return 0, errors.New("empty, or an SQLite file, but no dossier: undermetal new makes one")
	case version < 1:
		return 0, fmt.Errorf("a dossier of schema %d, which there never was: the file is damaged", version)
	case version > Version():
		return 0, fmt.Errorf("a dossier of schema %d, made by a newer undermetal; this one knows %d: take the newer one", version, Version())
	}
	return version, nil
}

// quickCheck looks at the pages of all tables but the tiles, whose check takes as long as reading them; Check does that.
func quickCheck(ctx context.Context, q queryer, tables []table) error {
	for _, t := range append([]table{{name: "edit"}, {name: "change"}, {name: "picture"}}, tables...) {
		var finding string
		if err := q.QueryRowContext(ctx, "PRAGMA quick_check("+t.name+")").Scan(&finding); err != nil {
			return err
		}
		if finding != "ok" {
			return fmt.Errorf("damaged: %s: take the last copy that is whole", finding)
		}
	}
	return nil
}

// ErrNoRoom is wrapped by the error of an edit for which the disk has no room.
var ErrNoRoom = errors.New("no room left on the disk")

// explained is an error of SQLite in other words.
type explained struct{ error }

func (e explained) Unwrap() error { return e.error }

// explain says in other words what SQLite says in its own.
func explain(err error) error {
	var done explained
	var e sqlite3.Error
	if errors.As(err, &done) || !errors.As(err, &e) {
		return err
	}
	format := ""
	switch e.Code {
	case sqlite3.ErrNotADB:
		format = "no dossier: not an SQLite file (%w)"
	case sqlite3.ErrCorrupt:
		format = "damaged (%w): take the last copy that is whole"
	case sqlite3.ErrFull:
		return explained{fmt.Errorf("%w: nothing was changed (%w)", ErrNoRoom, err)}
	case sqlite3.ErrIoErr:
		format = "the disk does not read or write, or is full: nothing was changed (%w)"
	case sqlite3.ErrBusy:
		format = "another program keeps the file locked: try again (%w)"
	case sqlite3.ErrReadonly, sqlite3.ErrCantOpen:
		format = "it cannot be written to, or its folder cannot: copy it to where it can (%w)"
	case sqlite3.ErrConstraint:
		format = map[sqlite3.ErrNoExtended]string{
			sqlite3.ErrConstraintForeignKey: "it refers to a cell or a shot that is not there (%w)",
			sqlite3.ErrConstraintUnique:     "the name is taken already: give another (%w)",
		}[e.ExtendedCode]
	}
	if format == "" {
		return err
	}
	return explained{fmt.Errorf(format, err)}
}

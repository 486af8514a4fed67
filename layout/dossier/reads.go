package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"undermetal/layout/stack"
)

// queryer is a pool, or a transaction.
type queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// reads are the questions that a Dossier, a moment of it, and an edit under way answer. Each ends with ctx.
type reads struct {
	ctx  context.Context
	q    queryer
	path string // of the dossier, for errors
}

// Moment runs f on the dossier as it is at one moment, whatever is edited meanwhile. f asks the Moment, not the dossier,
// which might wait for a connection that this one has, and does not close it.
func (d *Dossier) Moment(f func(Moment) error) error {
	d.reading.RLock()
	defer d.reading.RUnlock()
	tx, err := d.pool.BeginTx(d.ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return d.failed(err)
	}
	defer tx.Rollback()
	return f(Moment{reads{d.ctx, tx, d.Path}})
}

// Moment answers from one state of a dossier.
type Moment struct{ reads }

// query reads all rows of a question.
func query[T any](r reads, text string, row func(scan func(...any) error) (T, error), args ...any) ([]T, error) {
	rows, err := r.q.QueryContext(r.ctx, text, args...)
	if err != nil {
		return nil, r.failed(err)
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		v, err := row(rows.Scan)
		if err != nil {
			return nil, r.failed(err)
		}
		all = append(all, v)
	}
	return all, r.failed(rows.Err())
}

// failed says which file it was, where SQLite says what.
func (r reads) failed(err error) error {
	if clearer := explain(err); clearer != err {
		return fmt.Errorf("%s: %w", r.path, clearer)
	}
	return err
}

// one reads the single row of a question; missing is the error where there is none.
func one[T any](r reads, missing error, text string, row func(scan func(...any) error) (T, error), args ...any) (T, error) {
	all, err := query(r, text, row, args...)
	if err == nil && len(all) == 0 {
		err = missing
	}
	if err != nil {
		var none T
		return none, err
	}
	return all[0], nil
}

// ErrMissing is wrapped by errors that say that there is no such thing.
var ErrMissing = errors.New("there is no such thing in the dossier")

func missing(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrMissing, fmt.Sprintf(format, args...))
}

func scanString(scan func(...any) error) (s string, err error) { return s, scan(&s) }

// StackText returns the stack as TOML.
func (r reads) StackText() (string, error) {
	return one(r, missing("the stack"), "SELECT toml FROM stack", scanString)
}

// Stack returns the stack.
func (r reads) Stack() (*stack.Stack, error) {
	text, err := r.StackText()
	if err != nil {
		return nil, err
	}
	return stack.Parse("stack of the dossier", []byte(text))
}

// SetStack replaces the stack. Text is TOML without mistakes; layers that were drawn on stay, whether it has them or not.
func (tx *Tx) SetStack(text string) error {
	if _, err := stack.Parse("stack", []byte(text)); err != nil {
		return err
	}
	if old, err := tx.StackText(); err != nil || old == text {
		return err
	}
	return tx.update("stack", 1, text)
}

// count returns the single number that a question asks for.
func (r reads) count(text string, args ...any) (int, error) {
	return one(r, sql.ErrNoRows, text, func(scan func(...any) error) (n int, err error) { return n, scan(&n) }, args...)
}

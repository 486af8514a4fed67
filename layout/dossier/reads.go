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
	ctx    context.Context
	q      queryer
	of     *Dossier
	within bool // a moment or an edit, for which Close waits anyway
}

// Moment runs f on the dossier as it is at one moment, whatever is edited meanwhile. f asks the Moment: the dossier
// itself may be a step further. It does not close the dossier, which would wait for it.
func (d *Dossier) Moment(f func(Moment) error) error { return d.moment(d.ctx, f) }

func (d *Dossier) moment(ctx context.Context, f func(Moment) error) error {
	leave, err := d.enter()
	if err != nil {
		return err
	}
	defer leave()
	tx, err := d.pool.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return d.failed(err)
	}
	defer tx.Rollback()
	return f(Moment{reads{ctx: ctx, q: tx, of: d, within: true}})
}

// enter keeps the dossier from being closed until leave is called.
func (r reads) enter() (leave func(), err error) {
	switch gate := &r.of.reading; {
	case r.within:
		return func() {}, nil
	case gate.TryRLock(): // which fails only where Close has it, or waits for it
		return gate.RUnlock, nil
	}
	return nil, fmt.Errorf("%s: %w", r.of.Path, errClosed)
}

// Moment answers from one state of a dossier.
type Moment struct{ reads }

// query reads all rows of a question.
func query[T any](r reads, text string, row func(scan func(...any) error) (T, error), args ...any) ([]T, error) {
	leave, err := r.enter()
	if err != nil {
		return nil, err
	}
	defer leave()
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

// failed says which file it was, where SQLite says what; of a file that was moved it says all sorts of things.
func (r reads) failed(err error) error {
	clearer := explain(err)
	if clearer == err {
		return err
	}
	if moved := r.of.moved(); moved != nil {
		return explained{fmt.Errorf("%w (%w)", moved, err)}
	}
	return fmt.Errorf("%s: %w", r.of.Path, clearer)
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

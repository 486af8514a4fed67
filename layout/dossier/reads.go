package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"undermetal/layout/stack"
)

// reads are the questions that both a Dossier and an edit under way answer.
type reads struct{ q queryer }

// query reads all rows of a question.
func query[T any](r reads, text string, row func(scan func(...any) error) (T, error), args ...any) ([]T, error) {
	rows, err := r.q.QueryContext(context.Background(), text, args...)
	if err != nil {
		return nil, explain(err)
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		v, err := row(rows.Scan)
		if err != nil {
			return nil, explain(err)
		}
		all = append(all, v)
	}
	return all, explain(rows.Err())
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

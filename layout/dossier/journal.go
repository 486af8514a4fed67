package dossier

import (
	"database/sql"
	"encoding/hex"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// change is what an edit did to one row: nil before it, the row is new; nil after it, the row is gone.
type change struct {
	table         table
	row           int64
	before, after []any
}

// changes reads the changes of an edit, the last one first where they are to be undone.
func (tx *Tx) changes(edit int64, backwards bool) ([]change, error) {
	all, err := query(tx.reads, "SELECT tbl, row, before, after FROM change WHERE edit = ? ORDER BY id", scanChange, edit)
	if backwards {
		slices.Reverse(all)
	}
	return all, err
}

func scanChange(scan func(...any) error) (c change, err error) {
	var name string
	var before, after sql.NullString
	if err := scan(&name, &c.row, &before, &after); err != nil {
		return c, err
	}
	i := slices.IndexFunc(journaled(), func(t table) bool { return t.name == name })
	if i < 0 {
		return c, fmt.Errorf("the journal speaks of a table %q: it is damaged", name)
	}
	c.table = journaled()[i]
	if c.before, err = c.values(before); err == nil {
		c.after, err = c.values(after)
	}
	return c, err
}

// values reads the values of a row.
func (c *change) values(text sql.NullString) ([]any, error) {
	if !text.Valid {
		return nil, nil
	}
	v, err := literals(text.String)
	if err == nil && len(v) != len(c.table.columns) {
		err = fmt.Errorf("%d values for the %d columns of %s", len(v), len(c.table.columns), c.table.name)
	}
	if err == nil && v[0] != any(c.row) {
		err = fmt.Errorf("the key of row %d of %s is %v", c.row, c.table.name, v[0])
	}
	if err != nil {
		return nil, fmt.Errorf("the journal is damaged: %w", err)
	}
	return v, nil
}

// apply puts a row into the state before the change, or after it.
func (tx *Tx) apply(c change, undo bool) error {
	from, to := c.before, c.after
	if undo {
		from, to = to, from
	}
	t := c.table
	var err error
	switch {
	case to == nil:
		err = tx.remove(t.name, c.row)
	case from == nil:
		_, err = tx.exec(fmt.Sprintf("INSERT INTO %s (%s) VALUES (%s)", t.name, strings.Join(t.columns, ", "), places(len(to))), to...)
	default:
		err = tx.update(t.name, c.row, to[1:]...)
	}
	return err
}

// literals reads SQL literals with commas between them, as SQLite's quote writes them: NULL, numbers, 'text' with a
// quote doubled, X'hex'.
func literals(s string) ([]any, error) {
	var all []any
	for {
		v, rest, err := literal(s)
		if err != nil {
			return nil, err
		}
		all = append(all, v)
		if rest == "" {
			return all, nil
		}
		if rest[0] != ',' {
			return nil, fmt.Errorf("%.20q where a comma should be", rest)
		}
		s = rest[1:]
	}
}

func literal(s string) (v any, rest string, err error) {
	switch {
	case strings.HasPrefix(s, "'"):
		return textLiteral(s[1:])
	case strings.HasPrefix(s, "X'"):
		end := strings.IndexByte(s[2:], '\'')
		if end < 0 {
			return nil, "", fmt.Errorf("bytes without an end: %.20q", s)
		}
		b, err := hex.DecodeString(s[2 : 2+end])
		return b, s[2+end+1:], err
	}
	end := strings.IndexByte(s, ',')
	if end < 0 {
		end = len(s)
	}
	word, rest := s[:end], s[end:]
	if word == "NULL" {
		return nil, rest, nil
	}
	if strings.ContainsAny(word, ".eE") {
		f, err := strconv.ParseFloat(word, 64)
		return f, rest, err
	}
	i, err := strconv.ParseInt(word, 10, 64)
	return i, rest, err
}

// textLiteral reads what follows the opening quote.
func textLiteral(s string) (v any, rest string, err error) {
	var b strings.Builder
	for {
		end := strings.IndexByte(s, '\'')
		if end < 0 {
			return nil, "", fmt.Errorf("a text without an end: %.20q", s)
		}
		b.WriteString(s[:end])
		s = s[end+1:]
		if !strings.HasPrefix(s, "'") {
			return b.String(), s, nil
		}
		b.WriteByte('\'')
		s = s[1:]
	}
}

package geojson

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// token returns the next token.
func (r *reader) token() (json.Token, error) {
	t, err := r.in.Token()
	if err == nil {
		return t, nil
	}
	e := &Error{File: r.name, Offset: r.in.InputOffset(), Feature: r.number}
	var syntax *json.SyntaxError
	var number *json.UnmarshalTypeError
	switch {
	case err == io.EOF && e.Offset == 0:
		e.Text, e.Remedy = "the file is empty", getCopy
	case err == io.EOF || errors.Is(err, io.ErrUnexpectedEOF):
		e.Text, e.Remedy = "the file is cut off", getCopy
	case errors.As(err, &syntax):
		e.Text, e.Remedy = "this is no JSON: "+syntax.Error(), correct
	case errors.As(err, &number):
		e.Text, e.Remedy = number.Value+" is beyond what a number can be", correct
	default:
		e.Text, e.Remedy, e.Err = "reading failed: "+err.Error(), "try again, or "+getCopy, err
	}
	return nil, e
}

// what names a token for errors.
func what(t json.Token) string {
	switch t := t.(type) {
	case nil:
		return "null"
	case json.Delim:
		return map[json.Delim]string{'{': "an object", '[': "a list", '}': "the end of an object", ']': "the end of a list"}[t]
	case string:
		return fmt.Sprintf("%.40q", t)
	}
	return fmt.Sprint(t)
}

// members calls f for each member of an object whose opening bracket has been read; f reads the value.
func (r *reader) members(f func(key string) error) error {
	for {
		t, err := r.token()
		if err != nil {
			return err
		}
		key, ok := t.(string)
		if !ok { // the decoder lets nothing else through than a closing bracket
			return nil
		}
		if err := f(key); err != nil {
			return err
		}
	}
}

// skip passes over one value, however deep it is.
func (r *reader) skip() error {
	for depth := 0; ; {
		t, err := r.token()
		if err != nil {
			return err
		}
		switch t {
		case json.Delim('{'), json.Delim('['):
			depth++
		case json.Delim('}'), json.Delim(']'):
			depth--
		}
		if depth == 0 {
			return nil
		}
	}
}

// text reads a string; ok is false where there is something else, which is passed over.
func (r *reader) text() (s string, ok bool, err error) {
	t, err := r.value()
	s, ok = t.(string)
	return s, ok, err
}

// value reads a string, number, true, false or null; of an object or list it returns only the opening bracket and passes
// over the rest.
func (r *reader) value() (json.Token, error) {
	t, err := r.token()
	if err != nil {
		return nil, err
	}
	if d, ok := t.(json.Delim); ok && (d == '{' || d == '[') {
		for depth := 1; depth > 0; {
			t, err := r.token()
			if err != nil {
				return nil, err
			}
			switch t {
			case json.Delim('{'), json.Delim('['):
				depth++
			case json.Delim('}'), json.Delim(']'):
				depth--
			}
		}
	}
	return t, nil
}

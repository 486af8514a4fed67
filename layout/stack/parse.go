package stack

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
)

// maxSize is how long a stack file may be, in bytes; real ones have a few thousand.
const maxSize = 1 << 20

// Parse reads a stack file. name stands in messages. The error joins the mistakes found (errors.Join), each a *Problem,
// in the order of the file; only a text that is no TOML at all gives a single one.
func Parse(name string, data []byte) (*Stack, error) {
	none := func(text string) error {
		return joinProblems([]*Problem{{File: name, Text: "this is no stack file: " + text,
			Remedy: "a stack file is a TOML text with a [[layer]] for each layer of the process"}})
	}
	if len(data) > maxSize {
		return nil, none("it is longer than 1 MB")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !utf8.Valid(data) || bytes.IndexByte(data, 0) >= 0 {
		return nil, none("it is no UTF-8 text")
	}
	var root map[string]any
	if err := toml.Unmarshal(data, &root); err != nil {
		return nil, joinProblems([]*Problem{syntaxProblem(name, err)})
	}
	c := &checker{file: name, at: findPositions(data), out: &Stack{}}
	c.run(root)
	if len(c.problems) > 0 {
		return nil, joinProblems(c.problems)
	}
	return c.out, nil
}

// syntaxProblem renders what the decoder says about a text that is no TOML.
func syntaxProblem(name string, err error) *Problem {
	p := &Problem{File: name, Text: "not TOML: " + strings.TrimPrefix(err.Error(), "toml: "),
		Remedy: `texts stand in quotes, lists in [ ], each key once in its table: role = "gate", gds = ["30/0"], sheet_ohm = 7.5`}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		p.Line, p.Column = d.Position()
		p.Key = strings.Join(d.Key(), ".")
	}
	return p
}

// missing is the remedy for a path at which there is nothing: the stack file of that folder, or the built-in stack, that is
// called nearly so.
func missing(path string) string {
	const builtin = "built in: " + BuiltinPattern
	dir, base := filepath.Split(path)
	entries, _ := os.ReadDir(cmp.Or(dir, ".")) // a folder that is not there holds none
	var names []string
	for _, e := range entries {
		if strings.EqualFold(filepath.Ext(e.Name()), ".toml") {
			names = append(names, e.Name())
		}
	}
	if near := didYouMean(base, names); near != "" {
		return fmt.Sprintf("did you mean %q? %s", dir+near, builtin)
	}
	return instead(path, Builtins(), builtin)
}

// Load returns the built-in stack of that name, or else reads the stack file at that path (./NAME for a file that is
// called like a built-in one). Mistakes in the file come as from Parse, a file that is not there as a *Problem that
// lists the built-in stacks.
func Load(pathOrBuiltin string) (*Stack, error) {
	if s, ok := Builtin(pathOrBuiltin); ok {
		return s, nil
	}
	f, err := os.Open(pathOrBuiltin)
	if errors.Is(err, os.ErrNotExist) {
		return nil, &Problem{File: pathOrBuiltin, Text: "there is no such stack file, and no built-in stack of that name",
			Remedy: missing(pathOrBuiltin)}
	}
	if err != nil {
		return nil, fmt.Errorf("stack file: %w", err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.IsDir() {
		return nil, &Problem{File: pathOrBuiltin, Text: "is a folder, not a stack file", Remedy: "give the file in it"}
	}
	data, err := io.ReadAll(io.LimitReader(f, maxSize+1))
	if err != nil {
		return nil, fmt.Errorf("stack file: %w", err)
	}
	return Parse(pathOrBuiltin, data)
}

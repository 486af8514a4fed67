package stack

import (
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// position is a line and column, both from 1.
type position struct{ line, column int }

// positions maps a key path such as "layer[2].joins[1]" to where its value stands; the path of a table alone to its
// header.
type positions map[string]position

// findPositions reads the text once more for the places of its keys: the decoder does not give them.
func findPositions(data []byte) positions {
	at := positions{}
	p := unstable.Parser{}
	p.Reset(data)
	table := ""
	count := map[string]int{}
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			table = keyPath(e)
			at[table] = keyPosition(&p, e)
		case unstable.ArrayTable:
			name := keyPath(e)
			table = fmt.Sprintf("%s[%d]", name, count[name])
			count[name]++
			at[table] = keyPosition(&p, e)
		case unstable.KeyValue:
			path := keyPath(e)
			if table != "" {
				path = table + "." + path
			}
			at[path] = keyPosition(&p, e)
			valuePositions(&p, e.Value(), path, at)
		}
	}
	return at
}

func keyPath(e *unstable.Node) string {
	var parts []string
	for it := e.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
	}
	return strings.Join(parts, ".")
}

func keyPosition(p *unstable.Parser, e *unstable.Node) position {
	it := e.Key()
	if !it.Next() {
		return position{1, 1}
	}
	s := p.Shape(it.Node().Raw).Start
	return position{s.Line, s.Column}
}

// valuePositions notes where a string, or each member of an array, begins.
func valuePositions(p *unstable.Parser, v *unstable.Node, path string, at positions) {
	if v.Kind != unstable.Array {
		if v.Raw.Length > 0 {
			s := p.Shape(v.Raw).Start
			at[path] = position{s.Line, s.Column}
		}
		return
	}
	i := 0
	for it := v.Children(); it.Next(); {
		if it.Node().Kind == unstable.Comment {
			continue
		}
		valuePositions(p, it.Node(), fmt.Sprintf("%s[%d]", path, i), at)
		i++
	}
}

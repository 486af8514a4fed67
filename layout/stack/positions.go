package stack

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// place is where a key and its value begin, as byte offsets. The place of a table is that of its header.
type place struct{ key, value int }

// positions maps a key path such as "layer[2].joins[1]" to its place.
type positions struct {
	data   []byte
	places map[string]place
}

// maxPath bounds the paths that are kept. No path of the dialect comes near it; without it, a long table name before
// many keys would take memory by the square of the file's size.
const maxPath = 200

// of returns line and column, from 1, of the value (or, with key, of the key) at a path; where that is not in the file,
// those of the table around it, and 0, 0 for the file as a whole.
func (at positions) of(path string, key bool) (line, column int) {
	for path != "" {
		if p, ok := at.places[path]; ok {
			offset := p.value
			if key {
				offset = p.key
			}
			before := at.data[:offset]
			return bytes.Count(before, []byte{'\n'}) + 1, offset - bytes.LastIndexByte(before, '\n')
		}
		path = path[:max(strings.LastIndexAny(path, ".["), 0)]
	}
	return 0, 0
}

// findPositions reads a text that has been decoded without error once more for the places of its keys.
func findPositions(data []byte) positions {
	at := positions{data, map[string]place{}}
	var p unstable.Parser
	p.Reset(data)
	table, counts := "", map[string]int{}
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = at.header(e, counts)
		case unstable.KeyValue:
			at.keyValue(table, e)
		}
	}
	return at
}

// header notes the place of a table and returns its path. counts has the number of members of each array of tables so
// far: a header that leads through such an array means its last member.
func (at positions) header(e *unstable.Node, counts map[string]int) string {
	path := ""
	for it := e.Key(); len(path) <= maxPath && it.Next(); {
		path = joinPath(path, string(it.Node().Data))
		if it.IsLast() && e.Kind == unstable.ArrayTable {
			counts[path]++
		}
		at.note(path, int(it.Node().Raw.Offset))
		if n := counts[path]; n > 0 {
			path = fmt.Sprintf("%s[%d]", path, n-1)
			at.note(path, int(it.Node().Raw.Offset))
		}
	}
	return path
}

// keyValue notes the places of a key, which may be dotted, and of its value.
func (at positions) keyValue(table string, e *unstable.Node) {
	path := table
	for it := e.Key(); len(path) <= maxPath && it.Next(); {
		path = joinPath(path, string(it.Node().Data))
		at.note(path, int(it.Node().Raw.Offset))
	}
	at.value(path, e.Value())
}

// value notes where a value begins, and each member of it.
func (at positions) value(path string, v *unstable.Node) {
	if len(path) > maxPath {
		return
	}
	if v.Raw.Length > 0 { // arrays have none: they keep the place of the key
		offset := int(v.Raw.Offset)
		at.note(path, offset)
		at.places[path] = place{at.places[path].key, offset}
	}
	i := 0
	for it := v.Children(); it.Next(); {
		switch v.Kind {
		case unstable.Array:
			at.value(fmt.Sprintf("%s[%d]", path, i), it.Node())
			i++
		case unstable.InlineTable:
			at.keyValue(path, it.Node())
		}
	}
}

// note keeps the place where a path is first met.
func (at positions) note(path string, offset int) {
	if _, ok := at.places[path]; !ok && len(path) <= maxPath {
		at.places[path] = place{offset, offset}
	}
}

func joinPath(table, key string) string {
	if table == "" {
		return key
	}
	return table + "." + key
}

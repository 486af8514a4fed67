package plot

import (
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"
)

// CSV writes every point of a figure as one table, in the axes' units without prefixes, all digits, the names with units in the
// first row. Series with the same places share the column of these. Shorter columns end in empty cells, and what is no number
// is one.
func CSV(w io.Writer, f *Figure) error {
	if err := f.check(); err != nil {
		return err
	}
	var names []string
	var values [][]float64
	var last []float64
	for _, p := range f.Panels {
		for _, s := range p.Series {
			if last == nil || !slices.Equal(s.X, last) {
				names, values = append(names, cell(named(text(p.X.Label), text(p.X.Unit)))), append(values, s.X)
				last = s.X
			}
			names, values = append(names, cell(named(text(s.Name), text(p.Y.Unit)))), append(values, s.Y)
		}
	}
	rows := 0
	for _, v := range values {
		rows = max(rows, len(v))
	}
	out := csv.NewWriter(w)
	_ = out.Write(names) // Flush and Error below tell of all writes
	row := make([]string, len(values))
	for i := range rows {
		for j, v := range values {
			row[j] = ""
			if i < len(v) && v[i] == v[i] {
				row[j] = strconv.FormatFloat(v[i], 'g', -1, 64)
			}
		}
		_ = out.Write(row)
	}
	out.Flush()
	return out.Error()
}

// cell returns a name that no table program takes for a formula.
func cell(name string) string {
	if name != "" && strings.ContainsRune("=+-@", rune(name[0])) {
		return "'" + name
	}
	return name
}

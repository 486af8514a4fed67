package main

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
)

// maxPoints is how many control points a photograph takes: as many as a spline does.
const maxPoints = 2000

// read reads the control points that the flags give.
func (f *registerFlags) read() (points []register.Point, err error) {
	switch {
	case f.file != "" && len(f.points) > 0:
		return nil, usagef("give --point or --points, not both")
	case f.file != "":
		return readPoints(f.file)
	case len(f.points) == 0:
		return nil, usagef("--point PX,PY=X,Y gives a control point, --points FILE a file of them\n    undermetal shot register --help shows an example of each")
	}
	for _, text := range f.points {
		p, err := parsePoint(text)
		if err != nil {
			return nil, usagef("--point %s: %v\n    give pixels and a place of the frame in µm, as in 212,3004=41.5,120", text, err)
		}
		points = append(points, p)
	}
	return points, nil
}

// parsePoint reads PX,PY=X,Y.
func parsePoint(text string) (p register.Point, err error) {
	from, to, ok := strings.Cut(text, "=")
	if !ok {
		return p, errors.New("there is no = between the two places")
	}
	px, err := numbers(from, 2)
	if err != nil {
		return p, err
	}
	x, y, isPx, err := parsePlace(to)
	if err == nil && isPx {
		err = errors.New("the second place is one of the frame, in µm, not in pixels")
	}
	return register.Point{From: geom.Vec{X: px[0], Y: px[1]}, To: geom.Vec{X: x * 1000, Y: y * 1000}}, err
}

// pairList is a kind of file of pairs of places: what each pair is, its columns in their usual order, of which all but the
// first four may be missing, and an example.
type pairList struct {
	what    string
	columns []string
	example string
}

var (
	listOfPoints = pairList{"control point", []string{"px", "py", "x_um", "y_um", "sigma_px"}, "212,3004,41.5,120"}
	listOfMarks  = pairList{"mark", []string{"ax", "ay", "bx", "by"}, "212,3004,1870,2960"}
)

// readPoints reads a file of control points.
func readPoints(name string) (points []register.Point, err error) {
	err = listOfPoints.read(name, func(in io.Reader) error { points, err = parsePoints(in); return err })
	return points, err
}

// read opens a file for parse, whose errors begin with the line.
func (l *pairList) read(name string, parse func(io.Reader) error) error {
	info, err := os.Stat(name)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("not a file")
	}
	if err != nil {
		return inputError(name, err)
	}
	file, err := os.Open(name)
	if err != nil {
		return inputError(name, err)
	}
	defer file.Close()
	const most = 1 << 20 // bytes, of which 2000 points take a tenth
	if info.Size() > most {
		return fmt.Errorf("%s: %d bytes are no list of %ss: at most %d are taken", name, info.Size(), l.what, maxPoints)
	}
	if err := parse(io.LimitReader(file, most)); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// parsePoints reads CSV; errors begin with the line.
func parsePoints(in io.Reader) (points []register.Point, err error) {
	rows, err := listOfPoints.parse(in)
	for _, v := range rows {
		points = append(points, register.Point{From: geom.Vec{X: v[0], Y: v[1]}, To: geom.Vec{X: v[2] * 1000, Y: v[3] * 1000}, Sigma: v[4]})
	}
	return points, err
}

// parse reads CSV and returns the figures of each line in the order of the columns; errors begin with the line.
func (l *pairList) parse(in io.Reader) (rows [][5]float64, err error) {
	from := bufio.NewReader(in)
	if mark, err := from.Peek(3); err == nil && string(mark) == "\ufeff" {
		from.Discard(3)
	}
	r := csv.NewReader(from)
	r.FieldsPerRecord, r.TrimLeadingSpace, r.Comment, r.ReuseRecord = -1, true, '#', true
	columns := []int(nil) // of the file: which of l.columns each is
	for first := true; ; first = false {
		fields, err := r.Read()
		if err == io.EOF {
			break
		}
		var bad *csv.ParseError
		if errors.As(err, &bad) {
			return nil, fmt.Errorf("line %d: a quotation mark that has no partner: numbers want none", bad.StartLine)
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		if first {
			named, err := l.header(fields)
			if err != nil {
				return nil, fmt.Errorf("line %d: %w", line, err)
			}
			if named != nil {
				columns = named
				continue
			}
		}
		if columns == nil {
			columns = []int{0, 1, 2, 3, 4}[:max(4, min(len(fields), len(l.columns)))]
		}
		v, err := l.row(fields, columns)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		if rows = append(rows, v); len(rows) > maxPoints {
			return nil, fmt.Errorf("line %d: more than %d %ss: thin them out", line, maxPoints, l.what)
		}
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("holds no %s: give lines of %s, as in %s", l.what, strings.Join(l.columns[:4], ","), l.example)
	}
	return rows, nil
}

// header returns which column is which where the first line has names; nil where it has numbers.
func (l *pairList) header(fields []string) (columns []int, err error) {
	if slices.ContainsFunc(fields, func(s string) bool { return s != "" && strings.ContainsRune("0123456789-+.", rune(s[0])) }) {
		return nil, nil
	}
	for _, name := range fields {
		i := slices.Index(l.columns, strings.ToLower(strings.TrimSpace(name)))
		if i < 0 || slices.Contains(columns, i) {
			return nil, fmt.Errorf("column %q: there are %s, each once", name, strings.Join(l.columns, ", "))
		}
		columns = append(columns, i)
	}
	for i, name := range l.columns[:4] {
		if !slices.Contains(columns, i) {
			more := ""
			if len(l.columns) > 4 {
				more = ", and " + l.columns[4] + " where marks are not equally good"
			}
			return nil, fmt.Errorf("there is no column %s: a %s has %s%s", name, l.what, strings.Join(l.columns[:4], ", "), more)
		}
	}
	return columns, nil
}

// row reads a line.
func (l *pairList) row(fields []string, columns []int) (v [5]float64, err error) {
	if len(fields) != len(columns) {
		hint := ""
		if len(fields) == 1 && strings.ContainsAny(fields[0], ";\t") {
			hint = "; separate them by commas, and write decimal points"
		}
		return v, fmt.Errorf("%s, not %d%s", counted(len(fields), "field"), len(columns), hint)
	}
	for i, text := range fields {
		name, unit := l.columns[columns[i]], ""
		if strings.HasSuffix(name, "_um") {
			unit = "µm"
		}
		if v[columns[i]], err = parseQuantity(text, unit); err != nil {
			return v, fmt.Errorf("%s %q: %w", name, strings.TrimSpace(text), err)
		}
	}
	return v, nil
}

// keptPoints are control points as the dossier keeps them, or an error where one lies beside the photograph or outside the frame.
func keptPoints(s *dossier.Shot, points []register.Point) (kept []dossier.ControlPoint, err error) {
	for i, p := range points {
		k := dossier.ControlPoint{PX: p.From.X, PY: p.From.Y, X: p.To.X, Y: p.To.Y, SigmaPx: p.Sigma}
		if err := s.CheckPoint(k); err != nil {
			return nil, fmt.Errorf("point %d: %w\n    undermetal shot show --ticks shows where its pixels are; places are in µm, or have their unit behind them", i+1, err)
		}
		kept = append(kept, k)
	}
	return kept, nil
}

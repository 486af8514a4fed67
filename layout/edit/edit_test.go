package edit

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
)

// create makes a dossier in memory where there is such a folder: edits wait for the disk. When the test ends, it is checked.
func create(t testing.TB) *dossier.Dossier {
	t.Helper()
	dir, err := os.MkdirTemp("/dev/shm", "edit")
	if err != nil {
		dir = t.TempDir()
	}
	st, ok := stack.Builtin("cmos-1p2m-well")
	if !ok {
		t.Fatal("no such stack")
	}
	d, err := dossier.Create(context.Background(), filepath.Join(dir, "a.dossier"), st)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		findings, err := d.Check(context.Background(), func(int, int) {})
		if err != nil || len(findings) > 0 {
			t.Errorf("check: %v, %q", err, findings)
		}
		d.Close()
		os.RemoveAll(dir)
	})
	return d
}

// do runs an edit.
func do(t testing.TB, d *dossier.Dossier, f func(tx *dossier.Tx) error) {
	t.Helper()
	if err := d.Edit(context.Background(), "test", f); err != nil {
		t.Fatal(err)
	}
}

// fails runs an edit that must fail with a text, and change nothing.
func fails(t testing.TB, d *dossier.Dossier, want string, f func(tx *dossier.Tx) error) {
	t.Helper()
	before := dump(t, d)
	err := d.Edit(context.Background(), "test", f)
	if err == nil || err.Error() != want {
		t.Errorf("error %q, want %q", fmt.Sprint(err), want)
	}
	if dump(t, d) != before {
		t.Errorf("%q: something was changed", want)
	}
}

var drawn = []string{"stack", "shot", "control_point", "registration", "cell", "shape", "traced_area", "placement", "label", "verdict", "note", "block"}

// dump writes down every row of every table that edits change, and the index of shapes.
func dump(t testing.TB, d *dossier.Dossier) string {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+d.Path+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	return dumpDB(t, db)
}

func dumpDB(t testing.TB, db *sql.DB) string {
	t.Helper()
	var b strings.Builder
	for _, table := range append(drawn, "shape_box") {
		rows, err := db.Query("SELECT * FROM " + table + " ORDER BY id")
		if err != nil {
			t.Fatal(err)
		}
		columns, _ := rows.Columns()
		for rows.Next() {
			values := make([]any, len(columns))
			into := make([]any, len(columns))
			for i := range values {
				into[i] = &values[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%s %v\n", table, values)
		}
		if err := rows.Err(); err != nil {
			t.Fatal(err)
		}
		rows.Close()
	}
	return b.String()
}

// show writes the shapes of a cell, one a line: id, layer, polygon.
func show(t testing.TB, r interface {
	Shapes(int64) ([]dossier.Shape, error)
}, cell int64) string {
	t.Helper()
	shapes, err := r.Shapes(cell)
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, s := range shapes {
		lines = append(lines, fmt.Sprintf("%d %s %v", s.ID, s.Layer, s.Polygon))
	}
	return strings.Join(lines, "\n")
}

func want(t testing.TB, what, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("%s:\n%s\nwant:\n%s", what, got, want)
	}
}

func at(x, y int) geom.Point { return geom.Point{X: x, Y: y} }

func ring(xy ...int) geom.Polygon {
	var r geom.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, at(xy[i], xy[i+1]))
	}
	return geom.Polygon{r}
}

func box(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }

// on is a layer of the die.
func on(layer string) On { return On{Cell: dossier.Frame, Layer: layer} }

// add draws a polygon, whatever it is.
func add(t testing.TB, d *dossier.Dossier, layer string, pg geom.Polygon) (id int64) {
	t.Helper()
	do(t, d, func(tx *dossier.Tx) error {
		s := on(layer).shape()
		s.Polygon = pg
		err := tx.AddShape(&s)
		id = s.ID
		return err
	})
	return id
}

// addShot adds a photograph of 8 × 8 black pixels.
func addShot(t testing.TB, d *dossier.Dossier, name string) int64 {
	t.Helper()
	ctx := context.Background()
	picture, err := d.NewPicture(ctx)
	if err != nil {
		t.Fatal(err)
	}
	h := shot.Header{Width: 8, Height: 8, Channels: 1, Depth: 8, Orientation: shot.TopLeft, Pages: 1}
	if err := shot.Build(ctx, &black{h}, func(tiles []shot.Tile) error { return d.AddTiles(ctx, picture, tiles) }, func(int) {}); err != nil {
		t.Fatal(err)
	}
	s := &dossier.Shot{Name: name, Header: h, Linked: true, Display: shot.Plain}
	do(t, d, func(tx *dossier.Tx) error { return tx.AddShot(s, picture) })
	return s.ID
}

type black struct{ header shot.Header }

func (b *black) Header() *shot.Header     { return &b.header }
func (b *black) Close() error             { return nil }
func (b *black) ReadRow(dst []byte) error { clear(dst); return nil }

// flat writes all that is seen of the die: layer and polygon of each shape, sorted. Rings begin anywhere and turn either way.
func flat(t testing.TB, d *dossier.Dossier) string {
	t.Helper()
	lib, err := d.Library()
	if err != nil {
		t.Fatal(err)
	}
	f, err := layout.Flatten(lib.Cells[0])
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	f.Shapes(func(s *layout.Shape, tr geom.Transform) bool {
		line := lib.Layers[s.Layer]
		for _, r := range tr.ApplyPolygon(s.Polygon) {
			line += fmt.Sprint(" ", canonical(r))
		}
		lines = append(lines, line)
		return true
	})
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// canonical begins a ring with its first point from the left, and makes it counterclockwise.
func canonical(r geom.Ring) geom.Ring {
	r = slices.Clone(r)
	if r.Sense() < 0 {
		slices.Reverse(r)
	}
	first := 0
	for i, p := range r {
		if q := r[first]; p.X < q.X || p.X == q.X && p.Y < q.Y {
			first = i
		}
	}
	return append(slices.Clone(r[first:]), r[:first]...)
}

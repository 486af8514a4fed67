package dossier

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout/geom"
	"undermetal/layout/shot"
)

// TestUndoRestores: random edits of every kind, undone and redone at random, give back every earlier state to the last
// bit, ids and index included. The model is a plain list of dumps.
func TestUndoRestores(t *testing.T) {
	if os.Getenv("UNDERMETAL_FULL") == "" {
		flag.Set("rapid.checks", "40")
		defer flag.Set("rapid.checks", "100")
	}
	dir := memory(t)
	rapid.Check(t, func(rt *rapid.T) {
		d, err := Create(context.Background(), filepath.Join(dir, fmt.Sprint(rapid.Uint64().Draw(rt, "name"), ".dossier")), builtin(t))
		if err != nil {
			rt.Fatal(err)
		}
		defer func() {
			if findings, err := d.Check(context.Background(), func(int, int) {}); err != nil || len(findings) > 0 {
				rt.Fatal(err, findings)
			}
			d.Close()
			os.Remove(d.Path)
		}()
		states, at := []string{dump(t, d.reads)}, 0
		for range rapid.IntRange(1, 12).Draw(rt, "steps") {
			switch rapid.IntRange(0, 3).Draw(rt, "step") {
			case 0:
				_, err := d.Undo(context.Background())
				if (at == 0) != errors.Is(err, ErrNothing) || at > 0 && err != nil {
					rt.Fatal(err)
				}
				at = max(at-1, 0)
			case 1:
				_, err := d.Redo(context.Background())
				last := at == len(states)-1
				if last != errors.Is(err, ErrNothing) || !last && err != nil {
					rt.Fatal(err)
				}
				at = min(at+1, len(states)-1)
			default:
				if err := d.Edit(context.Background(), "random", func(tx *Tx) error { return randomEdit(rt, d, tx) }); err != nil {
					rt.Fatal(err)
				}
				// What ends as it began may have an entry all the same.
				if n, err := d.count("SELECT count(*) FROM edit WHERE undone = 0"); err != nil {
					rt.Fatal(err)
				} else if n > at {
					at = n
					states = append(states[:at], dump(t, d.reads))
				}
			}
			if dump(t, d.reads) != states[at] {
				rt.Fatal("another state")
			}
		}
	})
}

// memory is a folder in memory where there is one: this test waits for the disk at every step.
func memory(t *testing.T) string {
	dir, err := os.MkdirTemp("/dev/shm", "dossier")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// randomEdit does some things, each of which may touch what an earlier one made.
func randomEdit(rt *rapid.T, d *Dossier, tx *Tx) error {
	for range rapid.IntRange(0, 5).Draw(rt, "things") {
		if err := randomThing(rt, d, tx); err != nil {
			return err
		}
	}
	return nil
}

func randomThing(rt *rapid.T, d *Dossier, tx *Tx) error {
	text := rapid.String().Filter(func(s string) bool { return !strings.ContainsRune(s, 0) }).Draw(rt, "text")
	coordinate := rapid.IntRange(-1<<20, 1<<20)
	p := geom.Point{X: coordinate.Draw(rt, "x"), Y: coordinate.Draw(rt, "y")}
	real := rapid.Float64Range(-1e300, 1e300).Draw(rt, "real")
	polygon := square(p.X, p.Y, 1+rapid.IntRange(0, 1000).Draw(rt, "side"))
	cells, err := tx.Cells()
	if err != nil {
		return err
	}
	cell := cells[rapid.IntRange(0, len(cells)-1).Draw(rt, "cell")]
	shapes, err := tx.Shapes(cell.ID)
	if err != nil {
		return err
	}
	shots, err := tx.Shots()
	if err != nil {
		return err
	}
	var over int64
	if len(shots) > 0 {
		over = shots[0].ID
	}
	switch rapid.IntRange(0, 16).Draw(rt, "thing") {
	case 0, 1:
		return tx.AddShape(&Shape{Cell: cell.ID, Layer: text, Polygon: polygon, Method: "hand", Shot: over, SigmaNm: real})
	case 2:
		if len(shapes) > 0 {
			s := shapes[len(shapes)-1]
			s.Polygon, s.SigmaNm, s.Shot = polygon, real, over
			return tx.SetShape(&s)
		}
	case 3:
		if len(shapes) > 0 {
			return tx.RemoveShape(shapes[0].ID)
		}
	case 4:
		return tx.AddCell(&Cell{Name: fmt.Sprint("cell ", len(cells), " ", text, cells[len(cells)-1].ID)})
	case 5:
		if cell.ID != Frame {
			return tx.RemoveCell(cell.ID)
		}
	case 6:
		if cell.ID != Frame {
			return tx.AddPlacement(&Placement{Parent: Frame, Child: cell.ID, Name: text, Magnification: 1, Degrees: real, At: p, Columns: 2, Rows: 1, ColumnExtent: geom.Vec{X: real}})
		}
	case 7:
		return tx.AddLabel(&Label{Cell: cell.ID, Layer: "poly", At: p, Text: "x" + text})
	case 8:
		return tx.AddVerdict(&Verdict{Cell: cell.ID, Layer: text, At: p, Kind: text, Reading: text})
	case 9:
		return errors.Join(tx.AddNote(&Note{Cell: cell.ID, At: p, Text: text}), tx.AddArea(&Area{Layer: text, Polygon: polygon}))
	case 10:
		blocks, err := tx.Blocks()
		if err != nil || len(blocks) > 0 {
			return errors.Join(err, tx.RemoveBlock(blocks[0].ID))
		}
		return tx.AddBlock(&Block{Name: "b" + text, Polygon: polygon, Reason: text})
	case 11:
		return tx.addEmptyShot(fmt.Sprint("shot ", len(shots), real))
	case 12:
		if over != 0 {
			return tx.RemoveShot(over)
		}
	case 13:
		if over != 0 {
			return errors.Join(tx.SetControlPoints(over, []ControlPoint{{PX: math.Abs(math.Remainder(real, 2)), Y: math.Remainder(real, geom.Limit)}}), tx.SetRegistration(&Registration{Shot: over, Kind: "affine", Parameters: []float64{2, 0, float64(p.X), 0, -3, float64(p.Y)}, RmsPx: math.Abs(math.Remainder(real, 5))}))
		}
	case 14:
		if over != 0 {
			shots[0].Facts.Note, shots[0].Scale.How = text, text
			return tx.SetShot(&shots[0])
		}
	case 15:
		if n, err := tx.count("SELECT count(*) FROM control_point WHERE abs(y) > 5e8"); err != nil || n > 0 {
			return err // which would leave the frame
		}
		return tx.Rescale(1 + 1/float64(3+len(shapes)))
	case 16:
		if over != 0 {
			return tx.SetBias(&Bias{Shot: over, Layer: []string{"poly", "x" + text}[len(shapes)%2], OutNm: math.Remainder(real, 50), SigmaNm: float64(rapid.IntRange(0, 2).Draw(rt, "sigma"))})
		}
	}
	return nil
}

// addEmptyShot adds a shot of one pixel with its tile.
func (tx *Tx) addEmptyShot(name string) error {
	res, err := tx.exec("INSERT INTO picture (complete) VALUES (0)")
	if err != nil {
		return err
	}
	picture, _ := res.LastInsertId()
	h := shot.Header{Width: 1, Height: 1, Channels: 1, Depth: 8, Orientation: shot.TopLeft, Pages: 1}
	var tile []byte
	if err := shot.Build(tx.ctx, &flat{header: h}, func(t []shot.Tile) error { tile = t[0].Data; return nil }, func(int) {}); err != nil {
		return err
	}
	if _, err := tx.exec("INSERT INTO tile (id, picture, data) VALUES (?, ?, ?)", tileID(picture, 0, 0, 0), picture, tile); err != nil {
		return err
	}
	return tx.AddShot(&Shot{Name: name, Header: h, Linked: true, Display: shot.Plain}, picture)
}

// TestLiterals: what SQLite's quote writes is read back as what it was.
func TestLiterals(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	rapid.Check(t, func(rt *rapid.T) {
		i, f := rapid.Int64().Draw(rt, "i"), rapid.Float64().Draw(rt, "f")
		s := rapid.String().Filter(func(s string) bool { return !strings.ContainsRune(s, 0) }).Draw(rt, "s")
		b := rapid.SliceOf(rapid.Byte()).Draw(rt, "b")
		text, err := one(d.reads, nil, "SELECT quote(?)||','||quote(?)||','||quote(?)||','||quote(?)||','||quote(NULL)", scanString, i, f, s, b)
		if err != nil {
			rt.Fatal(err)
		}
		got, err := literals(text)
		if err != nil || len(got) != 5 || got[0] != any(i) || got[1] != any(f) || got[2] != any(s) || got[4] != nil {
			rt.Fatal(got, err, text)
		}
		if raw, ok := got[3].([]byte); len(b) > 0 && (!ok || !bytes.Equal(raw, b)) {
			rt.Fatal(got[3], b)
		}
	})
	for _, bad := range []string{"", "'x", "X'0", "X'0g'", "1 2", "1,", "'a'b", "nothing", "1.2.3"} {
		if v, err := literals(bad); err == nil {
			t.Errorf("%q: %v", bad, v)
		}
	}
}

func FuzzPolygon(f *testing.F) {
	f.Add(packPolygon(square(1, 2, 3)))
	f.Add(packPolygon(geom.Polygon{square(0, 0, 1<<30)[0], square(5, 5, 7)[0]}))
	f.Fuzz(func(t *testing.T, b []byte) {
		pg, err := unpackPolygon(b)
		if err != nil {
			return
		}
		again, err := unpackPolygon(packPolygon(pg))
		if err != nil || !reflect.DeepEqual(again, pg) {
			t.Errorf("%v, %v, %v", pg, again, err)
		}
	})
}

func FuzzLiterals(f *testing.F) {
	f.Add("1,2.5,'it''s',X'00ff',NULL")
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := literals(s); err == nil && len(v) == 0 {
			t.Error("no values and no error")
		}
	})
}

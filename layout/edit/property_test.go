package edit

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"math/rand/v2"
	"os"
	"testing"

	"pgregory.net/rapid"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// journey is a dossier that random edits are done to, and undone, and all the states that it has been in.
type journey struct {
	t      testing.TB
	d      *dossier.Dossier
	db     *sql.DB
	clip   Clip
	states []string
	at     int
	done   map[string]int // how often each operation was part of an edit that stood
	failed map[string]int
}

func begin(t testing.TB) *journey {
	j := &journey{t: t, d: create(t), done: map[string]int{}, failed: map[string]int{}}
	var err error
	if j.db, err = sql.Open("sqlite3", "file:"+j.d.Path+"?mode=ro"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.db.Close() })
	j.states = []string{j.dump()}
	note := func() {
		j.states = append(j.states, j.dump())
		j.at++
	}
	addShot(t, j.d, "top")
	note()
	addShot(t, j.d, "bottom")
	note()
	do(t, j.d, start)
	note()
	return j
}

// start draws something of everything.
func start(tx *dossier.Tx) error {
	cell, err1 := newCell(tx, "pixel")
	inner, err2 := newCell(tx, "contact")
	errs := []error{err1, err2}
	for _, c := range []int64{dossier.Frame, cell, inner} {
		for k, layer := range []string{"poly", "metal1"} {
			for i := range 3 {
				_, err := Rectangle(tx, On{Cell: c, Layer: layer}, at(8*i-10*k, 4*i), at(8*i+12, 4*i+9+k))
				errs = append(errs, err)
			}
		}
		_, err3 := SetLabel(tx, c, "poly", at(1, 1), "A")
		_, err4 := AddArea(tx, "poly", box(-50, -50, 50, 50))
		errs = append(errs, err3, err4)
	}
	errs = append(errs, Place(tx, &dossier.Placement{Parent: cell, Child: inner, Columns: 2, ColumnExtent: geom.Vec{X: 2.5}}))
	for i := range 2 {
		errs = append(errs, Place(tx, &dossier.Placement{Parent: dossier.Frame, Child: cell, Name: "p", At: at(9*i, 50), Columns: 3, Rows: 2, ColumnExtent: geom.Vec{X: 50, Y: 1}, RowExtent: geom.Vec{Y: 20.5}, Degrees: float64(90 * i)}))
	}
	errs = append(errs, tx.AddVerdict(&dossier.Verdict{Cell: cell, Layer: "poly", Kind: "k"}), tx.AddNote(&dossier.Note{Cell: cell, Text: "n"}))
	return errors.Join(errs...)
}

func (j *journey) dump() string { return dumpDB(j.t, j.db) }

// fatal is an error of the journey, told to rapid where that drives it.
type fatal func(format string, args ...any)

// step undoes, redoes, or does an edit of one operation or two. Whatever it was, the drawing is the state that it must be. A
// cell made of something, or of a member of an array, shows what was there before, and so does what is left of one that was
// taken apart; where something is placed at an angle, corners that come to lie on half a nanometre may be rounded otherwise.
func (j *journey) step(c chance, fail fatal) {
	ctx := context.Background()
	what := ""
	switch c(8) {
	case 0:
		what = "undo"
		_, err := j.d.Undo(ctx)
		if (j.at == 0) != errors.Is(err, dossier.ErrNothing) || j.at > 0 && err != nil {
			fail("undo of edit %d: %v", j.at, err)
		}
		j.at = max(j.at-1, 0)
	case 1:
		what = "redo"
		_, err := j.d.Redo(ctx)
		last := j.at == len(j.states)-1
		if last != errors.Is(err, dossier.ErrNothing) || !last && err != nil {
			fail("redo: %v", err)
		}
		j.at = min(j.at+1, len(j.states)-1)
	default:
		var names []string
		before, exact, wholes := flat(j.t, j.d), j.upright(), j.whole()
		err := j.d.Edit(ctx, "random", func(tx *dossier.Tx) error {
			for range max(c.between(-2, 2), 1) {
				s, err := newScene(c, tx, &j.clip)
				if err != nil {
					fail("%v", err)
				}
				op := operations[c(len(operations))]
				names = append(names, op.name)
				if len(s.shots) == 0 {
					return errors.New("without shots nothing is tried")
				}
				if err := op.run(s); err != nil {
					j.failed[op.name]++
					return err
				}
			}
			return nil
		})
		for _, n := range names {
			what += n + " "
			if err == nil {
				j.done[n]++
			}
		}
		if len(names) == 1 && exact && (names[0] == "MakeCell" || names[0] == "SingleOut" || names[0] == "Explode" && wholes) && flat(j.t, j.d) != before {
			fail("after %s: what is seen of the die is another:\n%s\nnot\n%s", what, flat(j.t, j.d), before)
		}
		if err != nil {
			what += "(" + err.Error() + ")"
		} else if n := j.entries(fail); n > j.at { // what changes nothing has no entry
			j.at = n
			j.states = append(j.states[:j.at], j.dump())
		}
	}
	if got := j.dump(); got != j.states[j.at] {
		fail("after %s: state %d is\n%s\nnot\n%s", what, j.at, got, j.states[j.at])
	}
	j.valid(what, fail)
}

// upright reports whether all of the die is placed upright.
func (j *journey) upright() bool {
	lib, err := j.d.Library()
	if err != nil {
		j.t.Fatal(err)
	}
	f, err := layout.Flatten(lib.Cells[0])
	return err == nil && f.Upright()
}

// whole reports whether all arrays have whole pitches.
func (j *journey) whole() bool {
	cells, err := j.d.Cells()
	if err != nil {
		j.t.Fatal(err)
	}
	for _, c := range cells {
		placements, err := j.d.Placements(c.ID)
		if err != nil {
			j.t.Fatal(err)
		}
		for _, p := range placements {
			if !whole(p) {
				return false
			}
		}
	}
	return true
}

// entries counts the edits that stand.
func (j *journey) entries(fail fatal) (n int) {
	history, err := j.d.History()
	if err != nil {
		fail("%v", err)
	}
	for _, e := range history {
		if !e.Undone {
			n++
		}
	}
	return n
}

// valid looks at the whole drawing: every polygon is valid, every layer one of the stack, no cell contains itself, and
// nothing that any cell shows lies outside the frame.
func (j *journey) valid(what string, fail fatal) {
	lib, err := j.d.Library() // layers, cycles
	if err != nil {
		fail("after %s: %v", what, err)
	}
	for _, cell := range lib.Cells {
		for _, s := range cell.Shapes {
			if f, bad := s.Polygon.Fault(); bad {
				fail("after %s: %v: %v", what, s.Polygon, f)
			}
		}
		f, err := layout.Flatten(cell)
		if err != nil {
			fail("after %s: %v", what, err)
		}
		f.Labels(func(l *layout.Label, at geom.Point, _ string) {
			if !at.InFrame() {
				fail("after %s: label %v at %v", what, l, at)
			}
		})
	}
	for _, a := range lib.Traced {
		if f, bad := a.Polygon.Fault(); bad {
			fail("after %s: area %v: %v", what, a.Polygon, f)
		}
	}
}

// TestRandomEdits: random edits with undo and redo give back every earlier state exactly, and never an invalid drawing.
func TestRandomEdits(t *testing.T) {
	steps := 25
	if os.Getenv("UNDERMETAL_FULL") == "" {
		flag.Set("rapid.checks", "12")
		defer flag.Set("rapid.checks", "100")
	} else {
		steps = 200
	}
	rapid.Check(t, func(rt *rapid.T) {
		t.Run("journey", func(t *testing.T) { // so that what it needs is cleared away
			j := begin(t)
			c := func(n int) int { return rapid.IntRange(0, n-1).Draw(rt, "n") }
			for range rapid.IntRange(1, steps).Draw(rt, "steps") {
				j.step(c, rt.Fatalf)
			}
		})
	})
}

// TestEveryOperation: the same from a fixed seed, with which every operation is done.
func TestEveryOperation(t *testing.T) {
	steps := 600
	if os.Getenv("UNDERMETAL_FULL") != "" {
		steps = 20000
	}
	random := rand.New(rand.NewPCG(2026, 11))
	var j *journey
	done, failed := map[string]int{}, map[string]int{}
	for i := range steps {
		if i%100 == 0 { // what has grown takes long to look at
			j = begin(t)
			j.done, j.failed = done, failed
		}
		j.step(random.IntN, t.Fatalf)
	}
	for _, op := range operations {
		t.Logf("%-14s done %4d times, failed %4d times", op.name, done[op.name], failed[op.name])
		if done[op.name] == 0 {
			t.Errorf("%s was never done", op.name)
		}
	}
}

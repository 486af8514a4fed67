package dossier

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"undermetal/layout/geom"
)

// TestLinks: by whatever name it is opened, a dossier has one holder; where a file has several names of its own, what
// SQLite keeps beside one is not beside the others, and it is not opened at all.
func TestLinks(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.dossier")
	link := filepath.Join(t.TempDir(), "link.dossier")
	d := create(t, path)
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	again := reopen(t, link)
	if !strings.Contains(again.ReadOnly(), "it is held by") {
		t.Errorf("held twice: %q", again.ReadOnly())
	}
	if _, held := HeldBy(link); !held {
		t.Error("not held by the name of a link")
	}
	edit(t, d, "seen by both", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	if notes, err := again.Notes(); err != nil || len(notes) != 1 {
		t.Error(notes, err)
	}
	again.Close()
	d.Close()
	reopen(t, link).Close()

	hard := filepath.Join(dir, "hard.dossier")
	if err := os.Link(path, hard); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{path, hard} {
		for _, how := range []func(context.Context, string) (*Dossier, error){Open, OpenToRead} {
			if _, err := how(t.Context(), name); err == nil || !strings.Contains(err.Error(), "has 2 names (hard links)") {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	os.Remove(hard)
}

// TestMoved: a dossier that gets another name while it is open is not edited any more; what was edited before goes with
// it, and not into another one that lies in its place by then.
func TestMoved(t *testing.T) {
	for _, replaced := range []bool{false, true} {
		dir := t.TempDir()
		path, other := filepath.Join(dir, "a.dossier"), filepath.Join(dir, "b.dossier")
		note := func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) }
		d, err := Create(t.Context(), path, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		third := filepath.Join(t.TempDir(), "c.dossier")
		c, err := Create(t.Context(), third, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		edit(t, c, "two", func(tx *Tx) error { return errors.Join(note(tx), note(tx)) })
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
		edit(t, d, "before", note)
		if err := os.Rename(path, other); err != nil {
			t.Fatal(err)
		}
		if replaced {
			if err := os.Rename(third, path); err != nil {
				t.Fatal(err)
			}
		}
		if err := d.Edit(t.Context(), "after", note); err == nil || !strings.Contains(err.Error(), "it was moved or removed while it was open: nothing was changed") {
			t.Error(err)
		}
		for range 2 { // one connection for each: one more than there is
			err := d.Moment(func(Moment) error {
				return d.Moment(func(m Moment) error { _, err := m.Notes(); return err })
			})
			if err == nil || !strings.Contains(err.Error(), "it was moved or removed") {
				t.Errorf("a connection to what lies in its place: %v", err)
			}
		}
		if err := d.Close(); err != nil {
			t.Error(err)
		}
		for file, want := range map[string]int{other: 1, path: 2} {
			if file == path && !replaced {
				if files, _ := filepath.Glob(path + "*"); len(files) > 0 {
					t.Errorf("left behind: %q", files)
				}
				continue
			}
			again := reopen(t, file)
			if notes, err := again.Notes(); err != nil || len(notes) != want {
				t.Errorf("%s: %d notes, %v, want %d", file, len(notes), err, want)
			}
			if findings, err := again.Check(t.Context(), func(int, int) {}); err != nil || len(findings) > 0 {
				t.Error(findings, err)
			}
			again.Close()
		}
	}
}

// TestCloseWaits: Close leaves one file with all edits, also where somebody is reading when it is called.
func TestCloseWaits(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	reading, done := make(chan bool), make(chan error)
	go func() {
		done <- d.Moment(func(m Moment) error {
			if _, err := m.Notes(); err != nil { // from here on it keeps what it sees
				return err
			}
			close(reading)
			time.Sleep(50 * time.Millisecond)
			notes, err := m.Notes()
			if err == nil && len(notes) != 1 {
				err = errors.New("no note")
			}
			return err
		})
	}()
	<-reading
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	if files, _ := filepath.Glob(path + "?*"); len(files) > 0 {
		t.Errorf("left behind: %q", files)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// TestHalfMade: a Create that was killed after the file had its name, and before it lost the one from while it was
// made, leaves a dossier that can be read and edited, and then has one name.
func TestHalfMade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	create(t, path).Close()
	if err := os.Link(path, path+unfinishedSuffix); err != nil {
		t.Fatal(err)
	}
	for _, how := range []func(context.Context, string) (*Dossier, error){OpenToRead, Open} {
		d, err := how(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		d.Close()
	}
	if _, err := os.Lstat(path + unfinishedSuffix); err == nil {
		t.Error("it has two names still")
	}
}

// TestInterruptedCreate: a Create whose context ends leaves nothing.
func TestInterruptedCreate(t *testing.T) {
	dir := t.TempDir()
	for n := 1; ; n++ {
		ctx := &countdown{t.Context(), int64(n)}
		d, err := Create(ctx, filepath.Join(dir, "a.dossier"), builtin(t))
		if err == nil {
			d.Close()
			break
		}
		if files, _ := os.ReadDir(dir); len(files) > 0 {
			t.Fatalf("ended at the %d-th look (%v), it leaves %v", n, err, files)
		}
	}
}

// countdown is a context that ends after it was looked at so many times.
type countdown struct {
	context.Context
	left int64
}

func (c *countdown) Err() error {
	if atomic.AddInt64(&c.left, -1) < 0 {
		return context.Canceled
	}
	return nil
}

func (c *countdown) Done() <-chan struct{} {
	done := make(chan struct{})
	if c.Err() != nil {
		close(done)
	}
	return done
}

// TestChangedFolder: a dossier that was opened by a name from here is the same one once the process has gone elsewhere.
func TestChangedFolder(t *testing.T) {
	here, there := t.TempDir(), t.TempDir()
	other := create(t, filepath.Join(there, "a.dossier"))
	t.Chdir(here)
	d, err := Create(t.Context(), "a.dossier", builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(there)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	if err := d.Close(); err != nil {
		t.Error(err)
	}
	if _, held := HeldBy(other.Path); !held {
		t.Error("the hold of another was let go")
	}
	if files, _ := os.ReadDir(here); len(files) != 1 {
		t.Errorf("left behind: %v", files)
	}
}

// TestAskingHolders: many who ask at once whether a dossier is held do not take each other for its holder.
func TestAskingHolders(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	create(t, path).Close()
	if err := os.WriteFile(path+holderSuffix, []byte("left by a dead process"), 0o666); err != nil {
		t.Fatal(err)
	}
	var wrong atomic.Int64
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for range 300 {
				if _, held := HeldBy(path); held {
					wrong.Add(1)
				}
			}
		})
	}
	all.Wait()
	if n := wrong.Load(); n > 0 {
		t.Errorf("%d times of 2400 held by somebody who asks", n)
	}
	os.Remove(path + holderSuffix)
}

// TestMoment: what is read together is of one moment, while cells come and go with what places them.
func TestMoment(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	var stop atomic.Bool
	done := make(chan error)
	go func() {
		var err error
		for err == nil && !stop.Load() {
			err = d.Edit(context.Background(), "place", func(tx *Tx) error {
				c := &Cell{Name: "A"}
				if err := tx.AddCell(c); err != nil {
					return err
				}
				return tx.AddPlacement(&Placement{Parent: Frame, Child: c.ID, Magnification: 1, Columns: 1, Rows: 1})
			})
			if err == nil {
				_, err = d.Undo(context.Background())
			}
		}
		done <- err
	}()
	for range 300 {
		lib, err := d.Library()
		if err != nil {
			t.Error(err)
			break
		}
		if len(lib.Cells) != 1+len(lib.Cells[0].Placements) {
			t.Errorf("%d cells, %d placements", len(lib.Cells), len(lib.Cells[0].Placements))
			break
		}
	}
	stop.Store(true)
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// TestHolderIsNoLink: what lies where the holder's file belongs and leads elsewhere is not written through.
func TestHolderIsNoLink(t *testing.T) {
	dir := t.TempDir()
	path, victim := filepath.Join(dir, "a.dossier"), filepath.Join(t.TempDir(), "victim")
	create(t, path).Close()
	if err := errors.Join(os.WriteFile(victim, []byte("precious"), 0o666), os.Symlink(victim, path+holderSuffix)); err != nil {
		t.Fatal(err)
	}
	d := reopen(t, path)
	if !strings.Contains(d.ReadOnly(), "is a link") {
		t.Error(d.ReadOnly())
	}
	d.Close()
	if text, err := os.ReadFile(victim); err != nil || string(text) != "precious" {
		t.Errorf("%q, %v", text, err)
	}
	os.Remove(path + holderSuffix)
}

// TestEditUnderWay: a file in which somebody has written that an edit is under way is edited and undone as any other.
func TestEditUnderWay(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
	if _, err := d.writer.Exec("UPDATE recording SET edit = 1"); err != nil {
		t.Fatal(err)
	}
	d.Close()
	d = reopen(t, path)
	for _, step := range []func(context.Context) (string, error){d.Undo, d.Redo, d.Undo} {
		if _, err := step(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := d.count("SELECT count(*) FROM change"); err != nil || n != 1 {
		t.Errorf("%d changes, %v", n, err)
	}
	d.Close()
}

// TestHostileRows: what a file holds is checked as it is read: no row is believed because it is there. check says what is
// wrong, and the drawing is refused rather than wrong.
func TestHostileRows(t *testing.T) {
	for statement, want := range map[string]string{
		"DELETE FROM cell":                "the die itself is missing",
		"UPDATE placement SET child = 99": "foreign_key_check",
		"INSERT INTO placement SELECT 7, 2, 1, '', 0, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0": "contain itself",
		"UPDATE placement SET rows = -3":                                            "1 × -3 members",
		"UPDATE placement SET magnification = 9e999":                                "numbers must be finite",
		"UPDATE label SET x = 9223372036854775807":                                  "outside the frame",
		"UPDATE label SET cell = 77":                                                "foreign_key_check",
		"UPDATE verdict SET y = -9223372036854775807":                               "outside the frame",
		"UPDATE note SET x = 2000000000":                                            "outside the frame",
		"UPDATE edit SET at = 'notime'":                                             `an edit at the time "notime"`,
		"UPDATE shape SET x0 = 3":                                                   "its box is not that of its polygon",
		"UPDATE shape SET polygon = x'0101'":                                        "a polygon that is damaged",
		"UPDATE traced_area SET polygon = x'00'":                                    "without rings",
		"UPDATE stack SET toml = 'x'":                                               "stack",
		"UPDATE recording SET edit = 1":                                             "an edit is under way",
		"UPDATE change SET after = after || ',1'":                                   "values for the",
		"DROP TRIGGER note_journal_insert":                                          "trigger note_journal_insert is missing",
	} {
		path := filepath.Join(t.TempDir(), "a.dossier")
		d, err := Create(t.Context(), path, builtin(t))
		if err != nil {
			t.Fatal(err)
		}
		edit(t, d, "draw", func(tx *Tx) error {
			return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddShape(&Shape{Cell: 2, Layer: "poly", Polygon: square(1, 2, 5)}),
				tx.AddPlacement(&Placement{Parent: Frame, Child: 2, Magnification: 1, Columns: 1, Rows: 1}), tx.AddLabel(&Label{Cell: Frame, Layer: "poly", Text: "x"}),
				tx.AddVerdict(&Verdict{Cell: Frame}), tx.AddNote(&Note{Cell: Frame}), tx.AddArea(&Area{Layer: "poly", Polygon: square(0, 0, 9)}))
		})
		d.Close()
		db, err := sql.Open("sqlite3", path)
		if err == nil {
			_, err = db.Exec(statement)
		}
		if err != nil {
			t.Fatal(statement, err)
		}
		db.Close()
		d, err = OpenToCheck(t.Context(), path)
		if err != nil {
			t.Errorf("%s: %v", statement, err)
			continue
		}
		findings, err := d.Check(t.Context(), func(int, int) {})
		if err != nil || !strings.Contains(strings.Join(findings, "\n"), want) {
			t.Errorf("%s: %q, %v, want %q", statement, findings, err, want)
		}
		d.Close()
		if d, err := Open(t.Context(), path); err == nil { // must not panic
			if lib, err := d.Library(); err == nil {
				lib.CheckCycles()
			}
			d.Undo(t.Context())
			d.Close()
		}
	}
}

// TestCheckGoesOn: a page that is damaged keeps nobody from learning what else is.
func TestCheckGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d, err := Create(t.Context(), path, builtin(t))
	if err != nil {
		t.Fatal(err)
	}
	edit(t, d, "write", func(tx *Tx) error {
		return errors.Join(tx.AddNote(&Note{Cell: Frame, Text: "find this page"}), tx.AddLabel(&Label{Cell: Frame, Layer: "poly", Text: "x", At: geom.Point{X: 1}}))
	})
	d.Close()
	db, err := sql.Open("sqlite3", path)
	if err == nil {
		_, err = db.Exec("UPDATE label SET cell = 77")
	}
	if err != nil {
		t.Fatal(err)
	}
	var page, size int
	if err := db.QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'note'").Scan(&page); err != nil {
		t.Fatal(err)
	}
	if err := db.QueryRow("PRAGMA page_size").Scan(&size); err != nil {
		t.Fatal(err)
	}
	db.Close()
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.WriteAt([]byte(strings.Repeat("rubbish", 100)), int64((page-1)*size)); err != nil {
		t.Fatal(err)
	}
	f.Close()
	if _, err := Open(t.Context(), path); err == nil || !strings.Contains(err.Error(), "undermetal check says more") {
		t.Error(err)
	}
	d, err = OpenToCheck(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	findings, err := d.Check(t.Context(), func(int, int) {})
	text := strings.Join(findings, "\n")
	if err != nil || !strings.Contains(text, "integrity_check") || !strings.Contains(text, "foreign_key_check") || !strings.Contains(text, "damaged") {
		t.Errorf("%v\n%s", err, text)
	}
}

// TestEditTexts: what SQLite refuses is said in words of the trade, with the file.
func TestEditTexts(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	s := addShot(t, d, "one", 10, 10)
	two := addShot(t, d, "two", 10, 10)
	edit(t, d, "cells", func(tx *Tx) error { return errors.Join(tx.AddCell(&Cell{Name: "A"}), tx.AddCell(&Cell{Name: "B"})) })
	two.Name = "one"
	for want, f := range map[string]func(tx *Tx) error{
		"a.dossier: the name is taken already":                       func(tx *Tx) error { return tx.SetCell(&Cell{ID: 3, Name: "A"}) },
		`there is a shot "one" already`:                              func(tx *Tx) error { return tx.SetShot(two) },
		"a.dossier: it refers to a cell or a shot that is not there": func(tx *Tx) error { return tx.AddNote(&Note{Cell: 9}) },
		"1 shots are registered to the frame as it is":               func(tx *Tx) error { return errors.Join(tx.SetRegistration(&Registration{Shot: s.ID}), tx.Rescale(2)) },
		"a cell would contain itself": func(tx *Tx) error {
			return tx.AddPlacement(&Placement{Parent: 2, Child: 2, Magnification: 1, Columns: 1, Rows: 1})
		},
	} {
		if err := d.Edit(t.Context(), "x", f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	h, _ := d.History()
	edit(t, d, "to what it is", func(tx *Tx) error { return tx.SetCell(&Cell{ID: 2, Name: "A"}) })
	if again, err := d.History(); err != nil || len(again) != len(h) {
		t.Errorf("an edit that changes nothing is in the journal: %v", again)
	}
	d.Close()
	if _, err := d.Notes(); err == nil {
		t.Error("a closed dossier answers")
	}
}

// TestUndoKeepsStack: a journal that somebody gave a stack that is none does not put it in.
func TestUndoKeepsStack(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	text, err := d.StackText()
	if err != nil {
		t.Fatal(err)
	}
	edit(t, d, "stack", func(tx *Tx) error { return tx.SetStack(text + "\n# changed\n") })
	if _, err := d.writer.Exec("UPDATE change SET before = '1,''rubbish'''"); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Undo(t.Context()); err == nil || !strings.Contains(err.Error(), "edit 1 (stack)") {
		t.Error(err)
	}
	if after, err := d.StackText(); err != nil || after != text+"\n# changed\n" {
		t.Error(after, err)
	}
}

// TestCompactKeepsBuild: a pyramid that is being built outlasts Compact.
func TestCompactKeepsBuild(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	picture, err := d.NewPicture(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := d.Compact(t.Context(), true); err != nil {
		t.Fatal(err)
	}
	if n, err := d.count("SELECT count(*) FROM picture WHERE id = ?", picture); err != nil || n != 1 {
		t.Error(n, err)
	}
}

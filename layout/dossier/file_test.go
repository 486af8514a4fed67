package dossier

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
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
		if err := d.Edit(t.Context(), "after", note); err == nil || !strings.Contains(err.Error(), "it was moved or removed while it was open; open it where it is now: nothing was changed") {
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
		_, err1 := d.Summary()
		_, _, err2 := d.Compact(t.Context(), false)
		for _, err := range []error{err1, err2} {
			if err == nil || !strings.Contains(err.Error(), "it was moved or removed") {
				t.Errorf("how large is it? %v", err)
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

// TestCloseWaits: Close leaves one file with all edits, also where somebody is reading when it is called: within a Moment,
// or row by row. What asks meanwhile, even within the Moment, is refused rather than kept waiting.
func TestCloseWaits(t *testing.T) {
	for name, read := range map[string]func(d *Dossier, f func() error) error{
		"a moment": func(d *Dossier, f func() error) error {
			return d.Moment(func(m Moment) error {
				if _, err := m.Notes(); err != nil { // from here on it keeps what it sees
					return err
				}
				err := f()
				if notes, err2 := m.Notes(); err2 != nil || len(notes) != 1 {
					err = errors.Join(err, fmt.Errorf("%v, %w", notes, err2))
				}
				return err
			})
		},
		"a reading": func(d *Dossier, f func() error) error {
			_, err := query(d.reads, "SELECT text FROM note", func(scan func(...any) error) (string, error) {
				return "", f()
			})
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.dossier")
			d := create(t, path)
			edit(t, d, "note", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: "x"}) })
			reading, done := make(chan bool), make(chan error)
			go func() {
				done <- read(d, func() error {
					close(reading)
					for { // until Close has begun to wait
						if _, err := d.Notes(); errors.Is(err, errClosed) {
							break
						} else if err != nil {
							return err
						}
					}
					if err := d.Edit(t.Context(), "late", func(*Tx) error { return nil }); !errors.Is(err, errClosed) {
						return fmt.Errorf("an edit beside Close: %w", err)
					}
					return nil
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
			if err := d.Close(); err != nil {
				t.Error("closed twice:", err)
			}
			if err := d.Moment(func(Moment) error { return nil }); !errors.Is(err, errClosed) || err.Error() != path+": the dossier is closed" {
				t.Error(err)
			}
		})
	}
}

// TestManyMoments: more moments at once than the machine has processors, each of which asks the dossier itself, do not
// wait for each other.
func TestManyMoments(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	const n = 20
	var begun, all sync.WaitGroup
	begun.Add(n)
	for range n {
		all.Go(func() {
			if err := d.Moment(func(Moment) error {
				begun.Done()
				begun.Wait()
				_, err := d.Notes()
				return err
			}); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
}

// TestCreateInRace: a file that somebody makes while a dossier of that name is being made is not overwritten.
func TestCreateInRace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	ctx := &intruder{t.Context(), path}
	if _, err := Create(ctx, path, builtin(t)); !errors.Is(err, fs.ErrExist) {
		t.Error(err)
	}
	if text, err := os.ReadFile(path); string(text) != "precious" || err != nil {
		t.Errorf("%q, %v", text, err)
	}
	if files, _ := os.ReadDir(filepath.Dir(path)); len(files) != 1 {
		t.Errorf("left behind: %v", files)
	}
}

// intruder is a context that makes a file when it is first looked at.
type intruder struct {
	context.Context
	path string
}

func (i *intruder) Done() <-chan struct{} {
	if _, err := os.Lstat(i.path); err != nil {
		os.WriteFile(i.path, []byte("precious"), 0o666)
	}
	return i.Context.Done()
}

// TestHoldAfterAsking: who asks just now whether a dossier is held does not keep another from holding it.
func TestHoldAfterAsking(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	create(t, path).Close()
	f, err := openHolder(path + holderSuffix)
	if err != nil {
		t.Fatal(err)
	}
	if err := lock(f, false); err != nil {
		t.Skipf("files cannot be locked here (%v): this is NOT checked by this run", err)
	}
	time.AfterFunc(time.Millisecond, func() { f.Close() })
	d := reopen(t, path)
	if why := d.ReadOnly(); why != "" {
		t.Error(why)
	}
	d.Close()
}

// TestConnections: what a file from elsewhere could do to us is switched off on every connection, and what SQLite leaves to
// programs to ask for is on.
func TestConnections(t *testing.T) {
	d := create(t, filepath.Join(t.TempDir(), "a.dossier"))
	for pragma, want := range map[string]int{"trusted_schema": 0, "cell_size_check": 1, "foreign_keys": 1} {
		for name, db := range map[string]*sql.DB{"reading": d.pool, "writing": d.writer} {
			var is int
			if err := db.QueryRow("PRAGMA " + pragma).Scan(&is); err != nil || is != want {
				t.Errorf("%s: %s is %d, %v", name, pragma, is, err)
			}
		}
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
	for n := 1; ; n += everyLook() {
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

// everyLook is how many looks at the context are passed over from one interrupt to the next: with UNDERMETAL_FULL none.
func everyLook() int {
	if os.Getenv("UNDERMETAL_FULL") != "" {
		return 1
	}
	return 7
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
	if !strings.HasPrefix(d.ReadOnly(), "it cannot be held (") || !strings.Contains(d.ReadOnly(), "is a link, which nothing of ours makes: remove it") {
		t.Error(d.ReadOnly())
	}
	d.Close()
	if text, err := os.ReadFile(victim); err != nil || string(text) != "precious" {
		t.Errorf("%q, %v", text, err)
	}
	os.Remove(path + holderSuffix)
}

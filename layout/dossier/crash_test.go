package dossier

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"undermetal/layout/shot"
)

// The child of a test that needs another process is this test binary with these variables set.
const (
	childJob   = "UNDERMETAL_TEST_JOB"
	childPath  = "UNDERMETAL_TEST_PATH"  // the dossier
	childFirst = "UNDERMETAL_TEST_FIRST" // the number of its first edit
	childLimit = "UNDERMETAL_TEST_LIMIT" // files may get so many bytes long
)

// jobs are what a child does. It says "open" when the clock of its life begins, and "did N" for what it has done.
var jobs = map[string]func(ctx context.Context, path string, first int) error{
	"edit": editUntilKilled, "undo": undoUntilKilled, "store": storeUntilKilled, "migrate": migrateOnce,
}

func TestMain(m *testing.M) {
	if job := os.Getenv(childJob); job != "" {
		first, _ := strconv.Atoi(os.Getenv(childFirst))
		if err := jobs[job](context.Background(), os.Getenv(childPath), first); err != nil {
			fmt.Println("error", err)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// editUntilKilled edits and says so. An edit is two notes of its number; every fifth is a pyramid with its shot, every
// seventh is undone and redone.
func editUntilKilled(ctx context.Context, path string, first int) error {
	if limit, _ := strconv.Atoi(os.Getenv(childLimit)); limit > 0 {
		if err := limitFiles(uint64(limit)); err != nil {
			return err
		}
	}
	d, err := Open(ctx, path)
	if err != nil {
		return err
	}
	defer d.Close()
	fmt.Println("open")
	for i := first; ; i++ {
		err := d.Edit(ctx, fmt.Sprint(i), func(tx *Tx) error {
			for range 2 {
				if err := tx.AddNote(&Note{Cell: Frame, Text: fmt.Sprint(i)}); err != nil {
					return err
				}
			}
			return nil
		})
		if err == nil && i%7 == 0 {
			if _, err = d.Undo(ctx); err == nil {
				_, err = d.Redo(ctx)
			}
		}
		if err == nil && i%5 == 0 {
			err = addNoise(ctx, d, fmt.Sprint("shot ", i))
		}
		if err != nil {
			return err
		}
		fmt.Println("did", i)
	}
}

// addNoise adds a shot with a pyramid that does not pack well.
func addNoise(ctx context.Context, d *Dossier, name string) error {
	picture, err := d.NewPicture(ctx)
	if err != nil {
		return err
	}
	h := shot.Header{Width: 600, Height: 600, Channels: 1, Depth: 8, Orientation: shot.TopLeft, Pages: 1}
	if err := shot.Build(ctx, &grain{flat{header: h}}, func(tiles []shot.Tile) error { return d.AddTiles(ctx, picture, tiles) }, func(int) {}); err != nil {
		return err
	}
	return d.Edit(ctx, "add "+name, func(tx *Tx) error {
		return tx.AddShot(&Shot{Name: name, Header: h, Linked: true, Display: shot.Plain}, picture)
	})
}

type grain struct{ flat }

func (g *grain) ReadRow(dst []byte) error {
	for i := range dst {
		dst[i] = byte(rand.Uint32())
	}
	return nil
}

// TestKilled: a process that edits is killed at a random moment, again and again. Every time the file opens, passes all
// checks, and holds every edit that was acknowledged, and none by half.
func TestKilled(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	kills := rounds(20, 500)
	next, acknowledged := 0, -1
	for kill := range kills {
		did, said := runChild(t, "edit", path, next, 0, time.Duration(rand.IntN(80)+5)*time.Millisecond)
		if said != "" {
			t.Fatalf("kill %d: the child says %q", kill, said)
		}
		acknowledged = max(acknowledged, did)
		next = whole(t, path, acknowledged) + 1
		if kill%25 == 24 { // keep the file small
			d := reopen(t, path)
			edit(t, d, "clear", func(tx *Tx) error {
				shots, err := tx.Shots()
				for _, s := range shots {
					err = errors.Join(err, tx.RemoveShot(s.ID))
				}
				return err
			})
			if _, _, err := d.Compact(t.Context(), true); err != nil {
				t.Fatal(err)
			}
			d.Close()
		}
	}
	if acknowledged < kills/2 {
		t.Errorf("only %d edits in %d runs: the kills came too early to show anything", acknowledged, kills)
	}
}

// rounds is how often a test kills: the full count where the environment asks for it.
func rounds(usual, full int) int {
	if os.Getenv("UNDERMETAL_FULL") != "" {
		return full
	}
	return usual
}

// runChild lets a child do a job for a while after it has said that it is ready, then kills it; a life of 0 has no end.
// It returns the last thing that the child acknowledged, -1 where there was none, and an error that it met.
func runChild(t *testing.T, job, path string, first, limit int, life time.Duration) (did int, said string) {
	t.Helper()
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childJob+"="+job, childPath+"="+path, fmt.Sprintf("%s=%d", childFirst, first), fmt.Sprintf("%s=%d", childLimit, limit))
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	child.Stderr = os.Stderr
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	did = -1
	lines := bufio.NewReader(out)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			if err != io.EOF {
				t.Fatal(err)
			}
			break
		}
		word, rest, _ := strings.Cut(strings.TrimSpace(line), " ")
		switch word {
		case "open":
			if life > 0 {
				time.AfterFunc(life, func() { child.Process.Kill() })
			}
		case "did":
			did, _ = strconv.Atoi(rest)
		case "error":
			said = rest
		}
	}
	child.Wait() // killed, mostly
	return did, said
}

// whole opens the dossier, checks it, and returns the last edit that is in it; those up to acknowledged must be.
func whole(t *testing.T, path string, acknowledged int) (last int) {
	t.Helper()
	d, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if why := d.ReadOnly(); why != "" {
		t.Fatalf("a killed process still holds it: %s", why)
	}
	findings, err := d.Check(t.Context(), func(int, int) {})
	if err != nil || len(findings) > 0 {
		t.Fatal(err, findings)
	}
	notes, err := d.Notes()
	if err != nil {
		t.Fatal(err)
	}
	times := map[int]int{}
	last = -1
	for _, n := range notes {
		i, err := strconv.Atoi(n.Text)
		if err != nil {
			t.Fatal(err)
		}
		times[i]++
		last = max(last, i)
	}
	for i := range last + 1 {
		// An edit that was about to be undone and redone when the process was killed may be undone.
		if n := times[i]; n != 2 && (i <= acknowledged || n != 0) {
			t.Fatalf("edit %d of %d: %d of 2 notes; acknowledged are %d", i, last, n, acknowledged)
		}
	}
	return last
}

// TestDiskFull: where files may not grow further, an edit is refused with a clear error, everything acknowledged stays,
// and edits go on once there is room.
func TestDiskFull(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.dossier")
	d := create(t, path)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	did, said := runChild(t, "edit", path, 0, 3<<20, 0)
	if did < 1 || !strings.Contains(said, "nothing was changed") || !strings.Contains(said, "a.dossier: ") {
		t.Errorf("after %d edits the child says %q", did, said)
	}
	last := whole(t, path, did)
	d = reopen(t, path)
	edit(t, d, "with room", func(tx *Tx) error { return tx.AddNote(&Note{Cell: Frame, Text: fmt.Sprint(last)}) })
}

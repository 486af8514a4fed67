//go:build unix

package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// init lets a test of the command, run as a process of its own, make a mistake on purpose.
func init() {
	if where := os.Getenv("UNDERMETAL_TEST_PANIC"); where != "" {
		openHook = func(here string) {
			if here == where {
				panic("a mistake made on purpose")
			}
		}
	}
}

// TestOpenPanic: a mistake of the program, in the loop or while a picture is drawn, ends with a message, the terminal as it was,
// and a dossier that is sound and nobody's.
func TestOpenPanic(t *testing.T) {
	t.Parallel()
	for _, where := range []string{"key", "picture"} {
		path := pixelDossier(t)
		m := inTmux(t, 220, 30, "UNDERMETAL_TEST_PANIC="+where+" TMPDIR="+t.TempDir()+" undermetal open "+path)
		if where == "key" {
			m.until("1 look")
			m.keys("x")
		}
		m.until("a mistake of the program ended the workbench", "every edit is in the dossier; an account of it is in", "exit status 1")
		var out strings.Builder
		if status := run([]string{"check", path}, &out, &out); status != exitDone {
			t.Errorf("%s: %s", where, out.String())
		}
	}
}

// TestOpenFullDisk: an edit for which there is no room is a message, and nothing is lost: neither what was drawn before, nor the
// dossier.
func TestOpenFullDisk(t *testing.T) {
	t.Parallel()
	path := pixelDossier(t)
	// No file may become larger than 64 kB (128 blocks of 512), so that SQLite's log is full after an edit or two. Go ignores SIGXFSZ: writing fails.
	m := inTmux(t, 150, 30, "ulimit -f 128; undermetal open "+path)
	m.until("1 look")
	m.keys("3")
	m.until("3 trace")
	drawn := 0
	full := false
	for i := 0; i < 20 && !full; i++ {
		m.command(fmt.Sprintf("rectangle %d.1,1 %d.6,2", i, i))
		m.untilIt("an answer", func(screen string) bool {
			full = strings.Contains(screen, "is full: nothing was changed")
			return full || strings.Contains(screen, "draw a rectangle")
		})
		if !full {
			drawn++
		}
	}
	if !full || drawn == 0 {
		t.Errorf("%d drawn, and then full is %v", drawn, full)
	}
	m.keys("C-q")
	m.until("exit status 0")
	if n, _ := shapesOn(t, path, "diffusion"); n != drawn {
		t.Errorf("%d shapes were drawn, %d are there", drawn, n)
	}
	var out strings.Builder
	if status := run([]string{"check", path}, &out, &out); status != exitDone {
		t.Error(out.String())
	}
}

// TestDeskVerbs: what the workbench offers are commands that there are, and each that edits is said to.
func TestDeskVerbs(t *testing.T) {
	edits := map[string]bool{}
	for _, v := range deskVerbs(newRoot()) {
		if v.Short == "" {
			t.Errorf("%s says nothing of itself", v.Words)
		}
		edits[v.Words] = v.Edits
	}
	if !edits["questions"] { // --answer and --withdraw
		t.Error("questions is not said to edit")
	}
	if _, there := edits["trace do"]; there {
		t.Error("trace do is offered, which would lay the dossier on a second desk")
	}
	for _, words := range editVerbs {
		if !edits[words] {
			t.Errorf("%q is no command, or not offered", words)
		}
	}
	for _, words := range deskless {
		if _, there := edits[words]; there {
			t.Errorf("%q is offered", words)
		}
	}
	if got := completeWords(t.Context(), []string{"trace", "la"}); len(got) != 1 || got[0].Text != "label" || got[0].Note == "" {
		t.Errorf("trace la goes on with %v", got)
	}
}

package main

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	_ "github.com/mattn/go-sqlite3"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

// hostileText is what a dossier that comes by mail may say anywhere.
const hostileText = `"'><script>window.taken=1</script><img src=x onerror="window.taken=2"></style></title>{{.Title}}<svg onload=window.taken=3>`

// TestReportOfHostileDossier: a dossier of which every text that nothing refers to is markup and script gives a page in which all of it is
// text, in a browser, too. Report.Write is held against worse (report.TestHostile); this is the way there, through extraction, recognition,
// schematics, plots and pictures.
func TestReportOfHostileDossier(t *testing.T) {
	walked(t)
	must(t, "blocks set pixel.dossier photodiode --rect 0,0,5,3.5 --document KL-1 --figure fig.1 --sign 2 --why seen")
	makeHostile(t, "pixel.dossier")
	must(t, "report pixel.dossier --out pixel.html --pixels 200")
	program, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("there is no chromium")
		}
		t.Skip("there is no chromium to open the page in")
	}
	page, err := filepath.Abs("pixel.html")
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	ctx, cancel = chromedp.NewExecAllocator(ctx, append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU)...)
	defer cancel()
	ctx, cancel = chromedp.NewContext(ctx)
	defer cancel()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(360, 800), chromedp.Navigate("file://"+page)); err != nil {
		t.Fatal(err)
	}
	for expression, want := range map[string]string{
		`String(window.taken)`: "undefined",
		`[...document.querySelectorAll("script, iframe, object, embed, base, form, img:not([src^='data:image/'])")].map(e => e.outerHTML.slice(0, 80)).join()`: "",
		`[...document.querySelectorAll("*")].flatMap(e => [...e.attributes]).filter(a => a.name.startsWith("on")).map(a => a.name).join()`:                     "",
		`String(document.documentElement.scrollWidth)`:                                                                                                 "360",
		`String(document.body.textContent.split("<script>window.taken=1</script>").length - 1 > 12)`:                                                   "true", // shots, steps, notes, labels, the block
		`[...document.querySelectorAll("svg text")].filter(e => e.textContent.includes("<script>")).length > 0 ? "in drawings, too" : "in no drawing"`: "in drawings, too",
	} {
		got, err := chromedp.Run(ctx, chromedp.Evaluate[string](expression))
		if err != nil || got != want {
			t.Errorf("%s: %q, %v, want %q", expression, got, err, want)
		}
	}
}

// makeHostile puts hostileText into every column of text of a dossier but those that others refer to or that are words of a list.
func makeHostile(t *testing.T, name string) {
	t.Helper()
	db, err := sql.Open("sqlite3", name)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(`SELECT m.name, c.name FROM sqlite_master m, pragma_table_info(m.name) c WHERE m.type = 'table' AND c.type = 'TEXT' AND m.name NOT LIKE 'shape_box%'`)
	if err != nil {
		t.Fatal(err)
	}
	kept := []string{"stack.toml", "shape.layer", "label.layer", "verdict.layer", "verdict.kind", "verdict.reading", "bias.layer", "traced_area.layer", "shot.sha256",
		"registration.kind", "block.status", "edit.at", "change.tbl", "change.before", "change.after"}
	var all [][2]string
	for rows.Next() {
		var at [2]string
		if err := rows.Scan(&at[0], &at[1]); err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(kept, at[0]+"."+at[1]) {
			all = append(all, at)
		}
	}
	if err := rows.Err(); err != nil || len(all) < 20 {
		t.Fatal(all, err)
	}
	for _, at := range all {
		if _, err := db.Exec("UPDATE "+at[0]+" SET "+at[1]+" = ? || id", hostileText); err != nil {
			t.Fatal(at, err)
		}
	}
}

// TestReportOfMany: of remarks and of ways of drawing without end a report tells some, and says how many it does not.
func TestReportOfMany(t *testing.T) {
	t.Chdir(t.TempDir())
	must(t, "new k.dossier --stack cmos-1p1m")
	d, err := dossier.Open(t.Context(), "k.dossier")
	if err != nil {
		t.Fatal(err)
	}
	err = d.Edit(t.Context(), "many", func(tx *dossier.Tx) error {
		for i := range 250 {
			x := 1000 * i
			err := errors.Join(tx.AddNote(&dossier.Note{Cell: dossier.Frame, At: geom.Point{X: x}, Text: fmt.Sprintf("remark %d.", i)}),
				tx.AddShape(&dossier.Shape{Cell: dossier.Frame, Layer: "poly", Polygon: geom.Polygon{geom.Box(x, 0, x+500, 500).Ring()}, Method: fmt.Sprintf("way-%d.", i)}),
				tx.AddBlock(&dossier.Block{Name: fmt.Sprintf("block %d", i), Polygon: geom.Polygon{geom.Box(0, 0, 1000+x, 1000+x).Ring()}}))
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err := errors.Join(err, d.Close()); err != nil {
		t.Fatal(err)
	}
	page := must(t, "report k.dossier --out -")
	for what, most := range map[string]int{"remark ": 200, "way-": 12, " both cover ": 12} {
		if n := strings.Count(page, what); n != most {
			t.Errorf("%q is there %d times, want %d", what, n, most)
		}
	}
	// Each of the 250 squares lies on all smaller ones: 250 · 249 / 2 pairs.
	for _, want := range []string{"50 more remarks", "and 238 more", "31113 more pairs of blocks"} {
		if !strings.Contains(page, want) {
			t.Errorf("it does not say %q", want)
		}
	}
}

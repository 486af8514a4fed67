package main

import (
	"context"
	"database/sql"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	_ "github.com/mattn/go-sqlite3"
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

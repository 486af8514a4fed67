package report

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser is a page in a headless browser, with what it complained of and asked for.
type browser struct {
	ctx context.Context
	mu  sync.Mutex
	bad []string
}

// open opens a report in a browser of the given width.
func open(t *testing.T, r *Report, width int64) *browser {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil && program == "" {
			program = p
		}
	}
	if program == "" {
		if os.Getenv("CI") != "" {
			t.Fatal("there is no chromium")
		}
		t.Skip("there is no chromium to open the page in")
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "report.html")
	if err := os.WriteFile(file, []byte(written(t, r)), 0o666); err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(program), chromedp.NoSandbox, chromedp.DisableGPU)
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(cancel)
	ctx, cancel = chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	b := &browser{ctx: ctx}
	own := "file://" + file
	if err := chromedp.Listen(ctx, func(ev any) { b.heard(ev, own) }); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, 800), chromedp.Navigate(own)); err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *browser) heard(ev any, own string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch ev := ev.(type) {
	case *runtime.EventConsoleAPICalled:
		b.bad = append(b.bad, fmt.Sprint("console: ", ev.Args))
	case *runtime.EventExceptionThrown:
		b.bad = append(b.bad, "exception: "+ev.ExceptionDetails.Text)
	case *log.EventEntryAdded:
		b.bad = append(b.bad, "log: "+ev.Entry.Text)
	case *page.EventJavascriptDialogOpening:
		b.bad = append(b.bad, "dialog: "+ev.Message)
	case *network.EventRequestWillBeSent:
		if u := ev.Request.URL; u != own && !strings.HasPrefix(u, "data:") {
			b.bad = append(b.bad, "request: "+u)
		}
	}
}

// ask runs an expression in the page.
func ask[T any](t *testing.T, b *browser, expression string) T {
	t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatal(expression, err)
	}
	return v
}

func (b *browser) quiet(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, s := range b.bad {
		t.Error(s)
	}
}

// TestBrowser: the page is quiet, fetches nothing, shows its pictures, and is no wider than a telephone.
func TestBrowser(t *testing.T) {
	r := full(t)
	b := open(t, r, 360)
	if w := ask[int](t, b, "document.documentElement.scrollWidth"); w > 360 {
		wide := ask[[]string](t, b, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 361 && !e.closest(".scroll")).map(e => e.outerHTML.slice(0, 80))`)
		t.Errorf("%d px wide where the screen has 360: %v", w, wide)
	}
	if n := ask[int](t, b, `[...document.querySelectorAll(".scroll")].filter(e => e.scrollWidth > e.clientWidth).length`); n < 3 {
		t.Errorf("%d boxes scroll: the wide table, the netlist and the drawings should", n)
	}
	if n := ask[int](t, b, `[...document.images].filter(i => i.complete && i.naturalWidth > 0).length`); n != 5+3 {
		t.Errorf("%d of 5 pictures and 3 keys are seen", n)
	}
	if n := ask[int](t, b, "document.scripts.length"); n != 0 {
		t.Errorf("%d scripts", n)
	}
	if broken := ask[[]string](t, b, `[...document.querySelectorAll("nav a")].filter(a => !document.querySelector(a.getAttribute("href"))).map(a => a.href)`); len(broken) > 0 {
		t.Errorf("the contents lead nowhere: %v", broken)
	}
	if err := chromedp.Do(b.ctx, chromedp.EmulateViewport(1200, 900)); err != nil {
		t.Fatal(err)
	}
	if w := ask[int](t, b, "document.documentElement.scrollWidth"); w > 1200 {
		t.Errorf("%d px wide where the screen has 1200", w)
	}
	b.quiet(t)
}

// TestPrints: on A4 no figure is higher than a page, none may be cut, and nothing is wider.
func TestPrints(t *testing.T) {
	b := open(t, full(t), 672) // 210 mm less 2 × 16, at 96 to the inch
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	const high = (297 - 18 - 20) * 96 / 25.4
	if cut := ask[[]string](t, b, fmt.Sprintf(`[...document.querySelectorAll("figure")].filter(f => f.getBoundingClientRect().height > %f || getComputedStyle(f).breakInside != "avoid").map(f => f.outerHTML.slice(0, 60))`, high)); len(cut) > 0 {
		t.Errorf("figures that a page would cut: %v", cut)
	}
	if w := ask[int](t, b, "document.documentElement.scrollWidth"); w > 672 {
		t.Errorf("%d px wide where the paper has 672", w)
	}
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize()))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(pdf), "%PDF") || len(pdf) < 50_000 {
		t.Errorf("%d bytes of PDF", len(pdf))
	}
	b.quiet(t)
}

// TestHostile: a report whose every text is markup and script is a page of harmless text.
func TestHostile(t *testing.T) {
	r := full(t)
	fill(reflect.ValueOf(r), hostile)
	b := open(t, r, 360)
	if taken := ask[string](t, b, "String(window.taken)"); taken != "undefined" {
		t.Errorf("script %s ran", taken)
	}
	if found := ask[[]string](t, b, `[...document.querySelectorAll("script, iframe, object, embed, base, form, a[href]:not(nav a), foreignObject, use, image, animate, set, link:not([href='data:,'])")].map(e => e.outerHTML.slice(0, 80))`); len(found) > 0 {
		t.Errorf("elements that nobody wrote: %v", found)
	}
	if found := ask[[]string](t, b, `[...document.querySelectorAll("*")].flatMap(e => [...e.attributes]).filter(a => a.name.startsWith("on") || /javascript:|example\.org/.test(a.value) && a.name != "alt" && a.name != "aria-label").map(a => a.name + "=" + a.value.slice(0, 60))`); len(found) > 0 {
		t.Errorf("attributes that nobody wrote: %v", found)
	}
	if n := ask[int](t, b, `document.body.innerText.split("<script>window.taken=1</script>").length - 1`); n < 60 {
		t.Errorf("%d texts are seen", n)
	}
	if w := ask[int](t, b, "document.documentElement.scrollWidth"); w > 360 {
		t.Errorf("%d px wide where the screen has 360", w)
	}
	b.quiet(t)
}

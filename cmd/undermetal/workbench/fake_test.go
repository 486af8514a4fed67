package workbench

import (
	"flag"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/uniseg"
	"go.uber.org/goleak"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout"
	"undermetal/layout/geom"
)

func TestMain(m *testing.M) {
	switch os.Getenv("WORKBENCH_TEST") {
	case "guard":
		if err := Guard(os.Stdin, os.Stdout, os.Stderr); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	case "show":
		os.Exit(showFake())
	case "dossier":
		os.Exit(showDossier(os.Getenv("WORKBENCH_DOSSIER")))
	}
	goleak.VerifyTestMain(m)
}

var update = flag.Bool("update", false, "write the snapshots anew")

// fake is a state that notes what it is told, and shows what a test wants.
type fake struct {
	keys    []desk.Key
	mice    []desk.Mouse
	pastes  []string
	clicks  []int
	scrolls [2]int
	size    image.Point
	aspect  float64
	cells   image.Point
	taken   int
	ticks   int

	scene   picture.Scene
	head    []desk.Span
	foot    []desk.Span
	side    *desk.List
	prompt  *desk.Prompt
	walk    []desk.Span
	page    *desk.Text
	busy    string
	part    float64
	ticking bool
	done    bool
	onKey   func(desk.Key)
}

func (f *fake) Key(k desk.Key) {
	f.keys = append(f.keys, k)
	if k.Rune == 'q' {
		f.done = true
	}
	if f.onKey != nil {
		f.onKey(k)
	}
}
func (f *fake) Mouse(m desk.Mouse)  { f.mice = append(f.mice, m) }
func (f *fake) Paste(s string)      { f.pastes = append(f.pastes, s) }
func (f *fake) Tick(time.Time) bool { f.ticks++; return false }
func (f *fake) Ticking() bool       { return f.ticking }
func (f *fake) Take() bool          { f.taken++; return true }
func (f *fake) Resize(w, h int, aspect float64, columns, rows int) {
	f.size, f.aspect, f.cells = image.Pt(w, h), aspect, image.Pt(columns, rows)
	f.scene.View = f.scene.View.Resize(w, h, aspect)
}
func (f *fake) Scene() picture.Scene        { return f.scene }
func (f *fake) Panes() []desk.Pane          { return nil }
func (f *fake) Head() []desk.Span           { return f.head }
func (f *fake) Foot() []desk.Span           { return f.foot }
func (f *fake) Walk() []desk.Span           { return f.walk }
func (f *fake) Side() *desk.List            { return f.side }
func (f *fake) Prompt() *desk.Prompt        { return f.prompt }
func (f *fake) Page() *desk.Text            { return f.page }
func (f *fake) Scroll(page, side int)       { f.scrolls = [2]int{page, side} }
func (f *fake) ClickSide(row int, dbl bool) { f.clicks = append(f.clicks, row) }
func (f *fake) Busy() (string, float64)     { return f.busy, f.part }
func (f *fake) Done() bool                  { return f.done }

// newFake shows some rectangles.
func newFake() *fake {
	cell := &layout.Cell{}
	for i, r := range []geom.Rect{geom.Box(-6000, -3000, 6000, -1000), geom.Box(-2000, -5000, 0, 5000), geom.Box(2000, 1000, 5000, 4000)} {
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(i), Polygon: geom.Polygon{r.Ring()}})
	}
	names := []string{"diffusion", "poly", "metal1"}
	f := &fake{part: -1}
	f.scene = picture.Scene{View: view.View{NmPerPx: 200}, Drawing: picture.NewDrawing(&layout.Library{Layers: names, Cells: []*layout.Cell{cell}}), Layers: picture.Layers(names)}
	f.head = []desk.Span{{Text: "kiln.dossier", Tone: desk.Strong}, {Text: "  stripped  ", Tone: desk.Plain}, {Text: "200 nm/px", Tone: desk.Quiet}}
	f.foot = []desk.Span{{Text: "1.200, 3.400 µm", Tone: desk.Plain}, {Text: "  ? keys", Tone: desk.Quiet}}
	return f
}

func layersList() *desk.List {
	l := &desk.List{Title: "layers", Selected: 1, Hint: "v hides  l locks"}
	for i, name := range []string{"diffusion", "poly", "metal1"} {
		l.Rows = append(l.Rows, desk.Row{Text: name, Note: "12", Layer: i})
	}
	l.Rows[2].Mark = "×"
	return l
}

// benchOn puts a state on a simulated screen.
func benchOn(t testing.TB, f *fake, columns, rows int, colours int) (*bench, tcell.SimulationScreen) {
	t.Helper()
	s := tcell.NewSimulationScreen("UTF-8")
	b := newBench(s, nil, abilities{}, Options{})
	b.desk = f
	if err := b.begin(colours); err != nil {
		t.Fatal(err)
	}
	s.SetSize(columns, rows)
	ctx := t.Context()
	done := make(chan struct{})
	go func() { b.renderer.run(ctx); close(done) }()
	t.Cleanup(func() {
		<-done // the test's context has ended
		s.Fini()
		b.renderer.composer.Close()
	})
	return b, s
}

// settle draws until the picture of the latest scene is shown.
func settle(t testing.TB, b *bench) {
	t.Helper()
	for range 100 {
		b.show()
		if b.manner.columns < 1 || b.manner.rows < 1 || b.latest != nil && b.latest.manner == b.manner && len(b.renderer.jobs) == 0 && (b.placed || b.page.h > 0) && !b.again {
			select {
			case d := <-b.renderer.done:
				b.arrived(d)
				continue
			case <-b.tiles:
				b.again = true
				continue
			case <-time.After(20 * time.Millisecond):
				return
			}
		}
		select {
		case d := <-b.renderer.done:
			b.arrived(d)
		case <-time.After(10 * time.Second):
			t.Fatal("no picture comes")
		}
	}
	t.Fatal("it does not come to rest")
}

// text is what a simulated screen shows, a line a row; blanks at the end are left out.
func text(s tcell.SimulationScreen) string {
	cells, columns, rows := s.GetContents()
	var b strings.Builder
	for y := range rows {
		var line strings.Builder
		for x := range columns {
			if r := cells[y*columns+x].Runes; len(r) > 0 {
				if x > 0 && uniseg.StringWidth(string(cells[y*columns+x-1].Runes)) == 2 {
					continue // the second half of a wide one
				}
				line.WriteString(string(r))
			} else {
				line.WriteByte(' ')
			}
		}
		b.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
	return b.String()
}

// snapshot compares with a file of testdata.
func snapshot(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: shown is\n%s\nwas\n%s", name, got, want)
	}
}

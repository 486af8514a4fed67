package workbench

import (
	"fmt"
	"image"
	"io"
	"math/rand/v2"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

// gigapixel is a photograph of 32,768 × 32,768 px that takes no memory: all its tiles are the same one.
func gigapixel(b *testing.B, c *picture.Composer) *picture.Photo {
	b.Helper()
	const side, nm = 1 << 15, 100
	header := shot.Header{Format: "PNG", Width: shot.TileSide, Height: shot.TileSide, Channels: 3, Depth: 8, Orientation: shot.TopLeft, Pages: 1}
	var tile []byte
	err := shot.Build(b.Context(), &noise{header: header}, func(batch []shot.Tile) error {
		for _, t := range batch {
			if t.Level == 0 {
				tile = t.Data
			}
		}
		return nil
	}, func(int) {})
	if err != nil {
		b.Fatal(err)
	}
	header.Width, header.Height = side, side
	l := &dossier.Located{Shot: &dossier.Shot{Name: "made", Header: header}, Width: side, Height: side}
	l.ToFrame, err = register.ParseMap(register.Similarity, []float64{nm, 0, 0, 0, -nm, side * nm})
	if err != nil {
		b.Fatal(err)
	}
	if l.FromFrame, err = l.ToFrame.Inverse(); err != nil {
		b.Fatal(err)
	}
	l.Registration = &dossier.Registration{}
	p, err := c.Add(l, shot.NewPyramid(header, func(_, _, _ int) ([]byte, error) { return tile, nil }))
	if err != nil {
		b.Fatal(err)
	}
	return p
}

// noise is a photograph of seeded noise.
type noise struct {
	header shot.Header
	rnd    *rand.Rand
}

func (n *noise) Header() *shot.Header { return &n.header }
func (n *noise) Close() error         { return nil }
func (n *noise) ReadRow(dst []byte) error {
	if n.rnd == nil {
		n.rnd = rand.New(rand.NewPCG(1, 8))
	}
	for i := range dst {
		dst[i] = byte(n.rnd.Uint32())
	}
	return nil
}

// moving is a fake that pans with every key.
func moving(p *picture.Photo) *fake {
	f := newFake()
	const side = 1 << 15
	f.scene.View = view.View{Middle: geom.Vec{X: side * 50, Y: side * 50}, NmPerPx: 130}
	f.scene.Base = picture.Shown{Photo: p, Display: shot.Plain}
	var cell layout.Cell
	rnd := rand.New(rand.NewPCG(1, 9))
	for range 100_000 {
		x, y := rnd.IntN(side*100), rnd.IntN(side*100)
		cell.Shapes = append(cell.Shapes, layout.Shape{Layer: layout.Layer(rnd.IntN(3)), Polygon: geom.Polygon{geom.Box(x, y, x+1000+rnd.IntN(5000), y+1000+rnd.IntN(3000)).Ring()}})
	}
	f.scene.Drawing = picture.NewDrawing(&layout.Library{Layers: make([]string, 3), Cells: []*layout.Cell{&cell}})
	n := 0
	f.onKey = func(desk.Key) {
		n++
		f.scene.View = f.scene.View.Pan(float64(n%2*6-3), float64(n%2*4-2)) // to and fro, so that all tiles are there
	}
	return f
}

// BenchmarkRedraw: a key that pans by some px, until the screen of 200 × 60 cells shows it: the picture of a photograph of a
// gigapixel whose tiles are there, with what is traced over it, glyphs fitted, and all cells put on the screen, by tcell's
// simulation, as bytes for a terminal, or as bytes that tcell makes of all cells.
func BenchmarkRedraw(b *testing.B) {
	for _, to := range []string{"simulation", "terminal", "tcell"} {
		for _, colours := range []int{1 << 24, 256, 2} {
			b.Run(fmt.Sprintf("to=%s/colours=%d", to, colours), func(b *testing.B) {
				var screen tcell.Screen
				sim := tcell.NewSimulationScreen("UTF-8")
				screen = sim
				var tty *memory
				var device *terminal
				if to != "simulation" {
					b.Setenv("TERM", "xterm-256color")
					b.Setenv("COLORTERM", "truecolor")
					b.Setenv("LC_ALL", "C.UTF-8")
					tty = &memory{closed: make(chan struct{})}
					device = &terminal{Tty: tty}
					var err error
					if screen, err = tcell.NewTerminfoScreenFromTty(device); err != nil {
						b.Fatal(err)
					}
				}
				w := newBench(screen, device, abilities{}, Options{Pixels: Glyphs, Bytes: 1 << 30})
				f := moving(gigapixel(b, w.renderer.composer))
				w.desk = f
				if err := w.begin(colours); err != nil {
					b.Fatal(err)
				}
				switch to {
				case "simulation":
					sim.SetSize(200, 60)
				case "tcell":
					w.painter = nil
				}
				done := make(chan struct{})
				go func() { w.renderer.run(b.Context()); close(done) }()
				b.Cleanup(func() { <-done; screen.Fini(); w.renderer.composer.Close() })
				settle(b, w)
				before := int64(0)
				if tty != nil {
					before = tty.n.Load()
				}
				b.ReportAllocs()
				n := 0
				for b.Loop() {
					w.event(tcell.NewEventKey(tcell.KeyRune, 'x', 0))
					w.show()
					w.arrived(<-w.renderer.done)
					w.draw()
					w.send()
					n++
				}
				if tty != nil {
					b.ReportMetric(float64(tty.n.Load()-before)/float64(n)/1000, "kB/op")
				}
			})
		}
	}
}

// memory is a terminal that counts what it is sent.
type memory struct {
	n      atomic.Int64
	closed chan struct{}
}

func (m *memory) Start() error        { return nil }
func (m *memory) Stop() error         { return nil }
func (m *memory) Drain() error        { close(m.closed); return nil }
func (m *memory) NotifyResize(func()) {}
func (m *memory) WindowSize() (tcell.WindowSize, error) {
	return tcell.WindowSize{Width: 200, Height: 60}, nil
}
func (m *memory) Read([]byte) (int, error)    { <-m.closed; return 0, io.EOF }
func (m *memory) Write(b []byte) (int, error) { m.n.Add(int64(len(b))); return len(b), nil }
func (m *memory) Close() error                { return nil }

// BenchmarkPixels: a picture of 2000 × 1200 px, from the scene to the bytes.
func BenchmarkPixels(b *testing.B) {
	for name, p := range map[string]Pixels{"kitty": Kitty, "sixel": Sixel} {
		b.Run("by="+name, func(b *testing.B) {
			r := newRenderer(picture.New(picture.Options{Bytes: 1 << 30}), nil)
			defer r.composer.Close()
			f := moving(gigapixel(b, r.composer))
			f.Resize(2000, 1200, 1, 200, 60)
			m := manner{pixels: p, style: glyph.Style{}, cell: image.Pt(10, 20), most: image.Pt(1000, 1000), columns: 200, rows: 60}
			d := &drawn{}
			bytes := 0
			for b.Loop() {
				f.Key(desk.Key{Rune: 'x'})
				s := f.Scene()
				r.draw(b.Context(), &job{m, []pane{{Pane: desk.Pane{Box: image.Rect(0, 0, 2000, 1200), Scene: s}}}}, d)
				bytes = d.bytes.Len()
			}
			b.ReportMetric(float64(bytes)/1000, "kB/op")
		})
	}
}

// TestInputWhileDrawing: keys are taken while a picture takes its time, and the latest scene is the one that is drawn.
func TestInputWhileDrawing(t *testing.T) {
	f := newFake()
	b, _ := benchOn(t, f, 80, 24, 1<<24)
	settle(t, b)
	hold := make(chan struct{})
	var drawings atomic.Int64
	b.renderer.hook = func(string) {
		if drawings.Add(1) == 1 {
			<-hold
		}
	}
	f.onKey = func(k desk.Key) {
		if k.Rune == 'x' {
			f.scene.View = f.scene.View.Pan(1, 0)
		}
	}
	events := make(chan tcell.Event)
	go func() {
		for range 100 {
			events <- tcell.NewEventKey(tcell.KeyRune, 'x', 0)
			time.Sleep(time.Millisecond)
		}
		close(hold) // all keys were taken while the first picture was not done
		time.Sleep(10 * frameTime)
		events <- tcell.NewEventKey(tcell.KeyRune, 'q', 0)
	}()
	if err := b.loop(t.Context(), events); err != nil {
		t.Fatal(err)
	}
	if len(f.keys) != 101 {
		t.Errorf("%d keys, want 101", len(f.keys))
	}
	if drawings := drawings.Load(); drawings > 10 {
		t.Errorf("%d pictures were drawn, of scenes that were stale", drawings)
	}
	if got, want := b.asked.panes[0].Scene.View, f.scene.View; got != want {
		t.Errorf("shown is %v, it should be %v", got.Middle, want.Middle)
	}
}

// telling says when its head is written.
type telling struct {
	*fake
	drawn chan struct{}
}

func (s telling) Head() []desk.Span {
	post(s.drawn)
	return s.fake.Head()
}

// TestPictureAtOnce: a picture is put on the screen when it comes, and not when the next one may be asked for, here in an hour.
func TestPictureAtOnce(t *testing.T) {
	f := newFake()
	b, _ := benchOn(t, f, 80, 24, 1<<24)
	settle(t, b)
	f.onKey = func(desk.Key) { f.scene.View = f.scene.View.Pan(1, 0) }
	b.event(tcell.NewEventKey(tcell.KeyRune, 'x', 0))
	b.show()
	b.last = b.last.Add(time.Hour)
	tells := telling{f, make(chan struct{}, 1)}
	b.desk = tells
	events := make(chan tcell.Event)
	go func() {
		select {
		case <-tells.drawn:
		case <-time.After(10 * time.Second):
			t.Error("the picture waits")
		}
		events <- tcell.NewEventKey(tcell.KeyRune, 'q', 0)
	}()
	if err := b.loop(t.Context(), events); err != nil {
		t.Fatal(err)
	}
	if !b.placed {
		t.Error("the picture is not in the cells")
	}
}

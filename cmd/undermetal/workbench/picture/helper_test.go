package picture

import (
	"errors"
	"image"
	"math"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"

	"undermetal/cmd/undermetal/workbench/view"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// made is a photograph whose samples are a function of the place.
type made struct {
	header shot.Header
	sample func(x, y, channel int) int // of Depth bits
	row    int
}

func newMade(width, height, channels, depth int, sample func(x, y, channel int) int) *made {
	return &made{header: shot.Header{Format: "PNG", Width: width, Height: height, Channels: channels, Depth: depth, Orientation: shot.TopLeft, Pages: 1}, sample: sample}
}

func (m *made) Header() *shot.Header { return &m.header }
func (m *made) Close() error         { return nil }
func (m *made) ReadRow(dst []byte) error {
	h := &m.header
	for x := range h.Width {
		for c := range h.Channels {
			v, k := m.sample(x, m.row, c), x*h.Channels+c
			if h.Depth == 8 {
				dst[k] = byte(v)
			} else {
				dst[2*k], dst[2*k+1] = byte(v>>8), byte(v)
			}
		}
	}
	m.row++
	return nil
}

// rough is a picture in which neighbours differ, but also places far apart.
func rough(depth int) func(x, y, c int) int {
	return func(x, y, c int) int {
		v := 128 + 60*math.Sin(float64(x)/31+float64(c)) + 50*math.Cos(float64(y)/23) + float64((x*7+y*13+x*y)%11)
		return int(v) << (depth - 8)
	}
}

// tilesOf builds a pyramid and keeps its packed tiles.
func tilesOf(t testing.TB, m *made) map[[3]int][]byte {
	t.Helper()
	tiles := map[[3]int][]byte{}
	err := shot.Build(t.Context(), m, func(batch []shot.Tile) error {
		for _, tile := range batch {
			tiles[[3]int{tile.Level, tile.Column, tile.Row}] = tile.Data
		}
		return nil
	}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	return tiles
}

var errNoTile = errors.New("no such tile")

// pyramidOf is a pyramid that is kept in memory.
func pyramidOf(t testing.TB, m *made) *shot.Pyramid {
	tiles := tilesOf(t, m)
	return shot.NewPyramid(m.header, func(level, column, row int) ([]byte, error) {
		if data := tiles[[3]int{level, column, row}]; data != nil {
			return data, nil
		}
		return nil, errNoTile
	})
}

// endless is a photograph of side × side px, a power of two, all whose tiles are one of eight that were packed once: a
// gigapixel without its memory. Each level looks like the others.
func endless(t testing.TB, side, channels int, fetched *atomic.Int64) (shot.Header, *shot.Pyramid) {
	t.Helper()
	var eight [8][]byte
	for i := range eight {
		m := newMade(shot.TileSide, shot.TileSide, channels, 8, func(x, y, c int) int {
			return rough(8)(x+50*i, y+20*i, c)
		})
		eight[i] = tilesOf(t, m)[[3]int{0, 0, 0}]
	}
	h := newMade(side, side, channels, 8, nil).header
	return h, shot.NewPyramid(h, func(level, column, row int) ([]byte, error) {
		if fetched != nil {
			fetched.Add(1)
		}
		return eight[(level+3*column+5*row)%8], nil
	})
}

// locate puts a photograph somewhere; m nil: nowhere.
func locate(t testing.TB, h shot.Header, m register.Map) *dossier.Located {
	t.Helper()
	l := &dossier.Located{Shot: &dossier.Shot{Name: "made", Header: h}, ToFrame: m}
	l.Width, l.Height = l.Size()
	if m != nil {
		var err error
		if l.FromFrame, err = m.Inverse(); err != nil {
			t.Fatal(err)
		}
		l.Registration = &dossier.Registration{}
	}
	return l
}

func parse(t testing.TB, kind register.Kind, p ...float64) register.Map {
	t.Helper()
	m, err := register.ParseMap(kind, p)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// waiting is a Composer with its notes.
type waiting struct {
	*Composer
	ready chan struct{}
}

func compose(t testing.TB, o Options) waiting {
	w := waiting{ready: make(chan struct{}, 1)}
	o.Ready = func() {
		select {
		case w.ready <- struct{}{}:
		default:
		}
	}
	w.Composer = New(o)
	t.Cleanup(w.Close)
	return w
}

// idle waits until nothing is being fetched.
func (w waiting) idle() {
	for l := w.loader; ; time.Sleep(time.Millisecond) {
		l.mu.Lock()
		done := len(l.queue) == 0 && len(l.loading) == 0
		l.mu.Unlock()
		if done {
			return
		}
	}
}

func (w waiting) add(t testing.TB, l *dossier.Located, p *shot.Pyramid) *Photo {
	t.Helper()
	ph, err := w.Add(l, p)
	if err != nil {
		t.Fatal(err)
	}
	return ph
}

// whole draws until nothing is missing.
func (w waiting) whole(t testing.TB, s *Scene) *image.RGBA {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, s.View.Width, s.View.Height))
	for {
		r, err := w.Draw(t.Context(), s, img)
		if err != nil || r.Err != nil {
			t.Fatal(err, r.Err)
		}
		if r.Missing == 0 {
			return img
		}
		select {
		case <-w.ready:
		case <-time.After(time.Minute):
			t.Fatalf("%d tiles are missing, and nothing comes", r.Missing)
		}
	}
}

func square(x0, y0, x1, y1 int) geom.Polygon { return geom.Polygon{geom.Box(x0, y0, x1, y1).Ring()} }

func at(img *image.RGBA, x, y int) [3]uint8 { return [3]uint8(img.Pix[img.PixOffset(x, y):][:3]) }

// over returns a view of a box, as large as it can be seen.
func over(b geom.Rect, width, height int) view.View {
	return view.View{NmPerPx: 1, Width: width, Height: height}.Fit(b, 0)
}

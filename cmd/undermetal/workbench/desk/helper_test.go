package desk

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
	"undermetal/testdata/pixel"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// bench is a desk with the dossier on it, as a terminal would hold them.
type bench struct {
	*Desk
	t     testing.TB
	path  string
	dos   *dossier.Dossier
	comp  *picture.Composer
	notes chan struct{}
}

// create makes a dossier with the stack of the pixel and some of its photographs, by their names.
func create(t testing.TB, shots ...string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "pixel.dossier")
	st, err := stack.Parse("pixel.stack.toml", pixel.Stack)
	if err != nil {
		t.Fatal(err)
	}
	d, err := dossier.Create(t.Context(), path, st)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range shots {
		addShot(t, d, name)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func addShot(t testing.TB, d *dossier.Dossier, name string) {
	t.Helper()
	file := filepath.Join("..", "..", "..", "..", "testdata", "pixel", name+".png")
	if _, err := os.Stat(file); err != nil {
		t.Fatal(err)
	}
	r, err := shot.Open(t.Context(), file, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	id, err := d.NewPicture(t.Context())
	if err == nil {
		err = shot.Build(t.Context(), r, func(tiles []shot.Tile) error { return d.AddTiles(t.Context(), id, tiles) }, func(int) {})
	}
	if err == nil {
		s := &dossier.Shot{Name: name, Header: *r.Header(), Linked: true, Display: shot.Plain}
		err = d.Edit(t.Context(), "add shot "+name, func(tx *dossier.Tx) error { return tx.AddShot(s, id) })
	}
	if err != nil {
		t.Fatal(err)
	}
}

// open lays a dossier on a desk of 600 × 480 px.
func open(t testing.TB, path string, o Options) *bench {
	t.Helper()
	b := &bench{t: t, path: path, notes: make(chan struct{}, 1)}
	var err error
	if b.dos, err = dossier.Open(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	b.comp = picture.New(picture.Options{})
	o.Notify = func() {
		select {
		case b.notes <- struct{}{}:
		default:
		}
	}
	if o.Settle == 0 {
		o.Settle = -1
	}
	if b.Desk, err = Open(t.Context(), b.dos, b.comp, o); err != nil {
		t.Fatal(err)
	}
	b.Resize(600, 480, 1, 100, 40)
	return b
}

func (b *bench) close() {
	b.t.Helper()
	if err := b.Close(); err != nil {
		b.t.Error(err)
	}
	b.comp.Close()
	if err := b.dos.Close(); err != nil {
		b.t.Error(err)
	}
}

// settle waits until the background has nothing to do.
func (b *bench) settle() {
	b.t.Helper()
	end := time.After(time.Minute)
	for {
		b.Take()
		if text, _ := b.Busy(); text == "" && !b.goesOn.going {
			return
		}
		select {
		case <-b.notes:
		case <-end:
			b.t.Fatal("the background does not end")
		}
	}
}

// keys strikes keys: words of one letter or a key's name each; a word that begins with ":" is typed into the command line.
func (b *bench) keys(words ...string) {
	b.t.Helper()
	for _, w := range words {
		if len(w) > 1 && w[0] == ':' {
			b.Key(Key{Rune: ':'})
			for _, r := range w[1:] {
				b.Key(Key{Rune: r})
			}
			b.Key(Key{Name: "Enter"})
			continue
		}
		b.Key(key(w))
	}
}

// key reads what Key.String writes.
func key(w string) (k Key) {
	for _, m := range []struct {
		word string
		on   *bool
	}{{"Ctrl+", &k.Ctrl}, {"Alt+", &k.Alt}, {"Shift+", &k.Shift}} {
		if rest, ok := strings.CutPrefix(w, m.word); ok && rest != "" {
			*m.on, w = true, rest
		}
	}
	switch r := []rune(w); {
	case w == "Space":
		k.Rune = ' '
	case len(r) == 1:
		k.Rune = r[0]
	default:
		k.Name = w
	}
	return k
}

// failing reports what the desk says where that is a failure.
func (b *bench) failing(when string) {
	b.t.Helper()
	if b.said.tone == Failure {
		b.t.Fatalf("%s: %s", when, b.said.text)
	}
}

// where is the place that the foot shows, in its unit.
func (b *bench) where() (v geom.Vec) {
	b.t.Helper()
	text := b.Foot()[0].Text
	if _, err := fmt.Sscanf(text, "%f, %f", &v.X, &v.Y); err != nil {
		b.t.Fatalf("the foot begins with %q: %v", text, err)
	}
	return v
}

// steer moves the cursor to a place by arrow keys alone, to within a tenth of a pixel; unit is how long a pixel is in what the
// foot shows, down whether that counts downward.
func (b *bench) steer(to geom.Vec, unit float64, down bool) {
	b.t.Helper()
	b.keys("Esc") // a tool would show where the cursor is drawn to
	b.steerAs(to, unit, down)
}

func (b *bench) steerAs(to geom.Vec, unit float64, down bool) {
	b.t.Helper()
	at := b.eyePlace(unit, down)
	for i, names := range [][2]string{{"Left", "Right"}, {"Down", "Up"}} {
		by := (to.X - at.X) / unit
		if i == 1 {
			by = (to.Y - at.Y) / unit
			if down {
				by = -by
			}
		}
		name := names[1]
		if by < 0 {
			name, by = names[0], -by
		}
		tenths := int(math.Round(10 * by))
		for range tenths / 100 {
			b.keys("Shift+" + name)
		}
		for range tenths / 10 % 10 {
			b.keys(name)
		}
		for range tenths % 10 {
			b.keys("Alt+" + name)
		}
	}
}

// eyePlace is the cursor's own place, in what the foot shows.
func (b *bench) eyePlace(_ float64, down bool) geom.Vec {
	if !down {
		return b.at().cursor.Scale(1e-3)
	}
	return b.where()
}

// inStripped is where the stripped photograph, calibrated with its lower left corner in the frame's origin, has a place of the
// pixel's drawing: µm.
func inStripped(v geom.Vec) geom.Vec {
	c := pixel.Photos()[0]
	px := c.Px(v)
	return geom.Vec{X: px.X * c.NmPerPx / 1000, Y: (float64(c.Height) - px.Y) * c.NmPerPx / 1000}
}

//go:build unix

package workbench

import (
	"bytes"
	"encoding/base64"
	"image"
	"image/png"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/mattn/go-sixel"

	"undermetal/cmd/undermetal/workbench/picture"
)

// picturesOf is what the fake shows, drawn here, at a size in px, moved by so many px.
func pictureOf(t *testing.T, width, height int, dx float64) *image.RGBA {
	t.Helper()
	c := picture.New(picture.Options{})
	defer c.Close()
	f := newFake()
	f.Resize(width, height, 1, 0, 0)
	s := f.Scene()
	s.View = s.View.Pan(dx, 0)
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	if _, err := c.Draw(t.Context(), &s, img); err != nil {
		t.Fatal(err)
	}
	return img
}

// apart is the largest difference of a channel between two pictures, the first of which begins at (x, y) of the other.
func apart(a image.Image, b *image.RGBA, x, y int) (most int) {
	for py := range a.Bounds().Dy() {
		for px := range a.Bounds().Dx() {
			r, g, bl, _ := a.At(a.Bounds().Min.X+px, a.Bounds().Min.Y+py).RGBA()
			w := b.RGBAAt(x+px, y+py)
			for _, d := range [3]int{int(r>>8) - int(w.R), int(g>>8) - int(w.G), int(bl>>8) - int(w.B)} {
				most = max(most, d, -d)
			}
		}
	}
	return most
}

// TestSixels: what reaches the terminal is the picture, in parts that it shows, each where it belongs; text goes on above and
// below, and pages take its place.
func TestSixels(t *testing.T) {
	u := underTest(t, 120, 30, answersSixel)
	u.shows("picture 1200 x 560")
	u.until("two parts", func() bool { u.mu.Lock(); defer u.mu.Unlock(); return len(u.sixels) >= 2 })
	check := func(dx float64) {
		t.Helper()
		want := pictureOf(t, 1200, 560, dx)
		u.mu.Lock()
		parts := u.sixels[len(u.sixels)-2:]
		u.mu.Unlock()
		for i, at := range []image.Point{{0, 1}, {100, 1}} {
			p := parts[i]
			if p.x != at.X || p.y != at.Y {
				t.Errorf("part %d lies at %d, %d, want %v", i, p.x, p.y, at)
			}
			var img image.Image
			if err := sixel.NewDecoder(strings.NewReader("\x1bPq" + string(p.data) + "\x1b\\")).Decode(&img); err != nil {
				t.Fatal(err)
			}
			if w := []int{1000, 200}[i]; img.Bounds().Dx() != w || img.Bounds().Dy() != 558 { // 93 bands of 6
				t.Errorf("part %d has %v px", i, img.Bounds().Size())
				continue
			}
			if d := apart(img, want, at.X*10, 0); d > 8 { // 64 tones a channel, then 101
				t.Errorf("part %d is off by %d of 255", i, d)
			}
		}
	}
	check(0)
	if s := u.screen(); !strings.Contains(s, "kiln.dossier") {
		t.Errorf("no text above:\n%s", s)
	}
	count := func() int { u.mu.Lock(); defer u.mu.Unlock(); return len(u.sixels) }
	sent := count()
	u.types("m")
	u.until("another picture", func() bool { return count() >= sent+2 })
	check(20)
	u.types("p")
	u.shows("with a line")
	sent = count()
	u.types("c")
	u.until("the picture again", func() bool {
		u.mu.Lock()
		defer u.mu.Unlock()
		return len(u.sixels) > sent && !strings.Contains(u.vt.String(), "with a line")
	})
	check(20)
	u.mu.Lock()
	quiet := u.raw.Len()
	u.mu.Unlock()
	time.Sleep(10 * frameTime) // in which nothing happens
	u.mu.Lock()
	if n := u.raw.Len(); n != quiet {
		t.Errorf("%d bytes were sent while nothing changed", n-quiet)
	}
	u.mu.Unlock()
	u.types("q")
	if status := u.ends(); status != 0 {
		t.Errorf("exit status %d", status)
	}
	u.right()
}

var kittyPart = regexp.MustCompile(`^G?([^;]*);(.*)$`)

// TestKitty: by the kitty protocol, in all colours; a page has the picture taken away, and so has the end.
func TestKitty(t *testing.T) {
	u := underTest(t, 60, 20, answersKitty)
	u.shows("picture 600 x 360")
	var keys string
	whole := func() image.Image {
		u.mu.Lock()
		defer u.mu.Unlock()
		var code strings.Builder
		for _, k := range u.kitties {
			m := kittyPart.FindStringSubmatch(string(k))
			if m == nil || strings.Contains(m[1], "a=d") {
				continue
			}
			if strings.Contains(m[1], "a=T") {
				code.Reset()
				keys = m[1]
			}
			code.WriteString(m[2])
			if strings.Contains(m[1], "m=0") {
				data, err := base64.StdEncoding.DecodeString(code.String())
				if err != nil {
					t.Fatal(err)
				}
				img, err := png.Decode(bytes.NewReader(data))
				if err != nil {
					t.Fatal(err)
				}
				return img
			}
		}
		return nil
	}
	u.until("a picture", func() bool { return whole() != nil })
	img := whole()
	if !strings.Contains(keys, "c=60,r=18") || img.Bounds().Dx() != 600 || img.Bounds().Dy() != 360 {
		t.Errorf("keys %q, %v px", keys, img.Bounds())
	} else if d := apart(img, pictureOf(t, 600, 360, 0), 0, 0); d != 0 {
		t.Errorf("it is off by %d of 255", d)
	}
	erased := func() (n int) {
		u.mu.Lock()
		defer u.mu.Unlock()
		for _, k := range u.kitties {
			if strings.Contains(string(k), "a=d") {
				n++
			}
		}
		return n
	}
	before := erased()
	u.types("p")
	u.shows("with a line")
	if erased() == before {
		t.Error("the picture lies over the page")
	}
	u.types("c")
	u.until("the picture again", func() bool { return !strings.Contains(u.screen(), "with a line") })
	before = erased()
	u.types("q")
	u.ends()
	if erased() == before {
		t.Error("the picture is left behind")
	}
	u.right()
}

// TestParseAnswer: what terminals say, in any order, with what was typed in between.
func TestParseAnswer(t *testing.T) {
	for _, tc := range []struct {
		answer string
		want   Pixels
		width  int
		rest   string
	}{
		{answersPlain, Glyphs, 0, ""},
		{answersSixel, Sixel, 1000, ""},
		{answersKitty, Kitty, 0, ""},
		{"a\x1b[?2;0;4096;2048Sb\x1b[?63;4cq", Sixel, 4096, "abq"},
		{"\x1b[?2;3;0S\x1b[?62;4c", Sixel, 0, ""}, // it does not know
		{"\x1b[?1;0;16S\x1b[?1;0;256S\x1b[?1;0;256Sx\x1b[?2;0;800;600S\x1b[?62;4c", Sixel, 800, "x"},
		{"\x1b[?2;0;", Glyphs, 0, "\x1b[?2;0;"},
	} {
		a := parseAnswer([]byte(tc.answer))
		if got := a.choose(Auto); got != tc.want || a.SixelWidth != tc.width || string(a.Rest) != tc.rest {
			t.Errorf("%q: %v, %d px, rest %q", tc.answer, got, a.SixelWidth, a.Rest)
		}
	}
}

// TestFewColours: a VT340 has 16; what it is sent has no more.
func TestFewColours(t *testing.T) {
	u := underTest(t, 60, 20, "\x1b[?1;0;16S\x1b[?1;3;0S\x1b[?1;0;16S"+answersSixel)
	u.until("a picture", func() bool { u.mu.Lock(); defer u.mu.Unlock(); return len(u.sixels) > 0 })
	u.mu.Lock()
	registers := regexp.MustCompile(`#\d+;2;`).FindAll(u.sixels[0].data, -1)
	u.mu.Unlock()
	if n := len(registers); n < 2 || n > 16 {
		t.Errorf("%d colours", n)
	}
	u.types("q")
	u.ends()
}

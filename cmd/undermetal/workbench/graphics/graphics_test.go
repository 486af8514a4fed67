package graphics

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/mattn/go-sixel"
)

// photo is a picture with slow changes of tone, lines in strong colours, and noise.
func photo(width, height int, grey bool) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	rnd := rand.New(rand.NewPCG(3, 4))
	for y := range height {
		for x := range width {
			v := 128 + 60*math.Sin(float64(x)/40) + 50*math.Cos(float64(y)/60) + rnd.Float64()*12
			px := [4]uint8{uint8(v), uint8(v), uint8(v), 255}
			if !grey {
				px[1] = uint8(v * 0.8)
				px[2] = uint8(v*0.3 + 40)
				if (x+y)%50 == 0 {
					px = [4]uint8{0, 0x9e, 0x73, 255}
				}
			}
			copy(img.Pix[img.PixOffset(x, y):], px[:])
		}
	}
	return img
}

// TestSixelReadBack: what go-sixel reads is the picture, in size and, to the error of 256 colours and of sixel's 101 tones, in
// colour; a picture of few colours to its 101 tones alone. The encoder is used for one picture after the other.
func TestSixelReadBack(t *testing.T) {
	few := image.NewRGBA(image.Rect(0, 0, 61, 30))
	for i := range 61 * 30 {
		copy(few.Pix[4*i:], []uint8{uint8(i % 7 * 42), uint8(i % 5 * 63), uint8(i % 4 * 85), 255})
	}
	var s Sixel
	for _, c := range []struct {
		name       string
		img        *image.RGBA
		worst, rms float64
	}{
		// A tone of 101 is off by 255/101 at most, since it is cut; half of that in the mean square is 1.5.
		{"140 colours", few, 3, 2},
		// 64 tones are at most 4 wide, and px are off by 2 in the mean, besides.
		{"grey", photo(300, 120, true), 7, 3},
		{"colour", photo(300, 121, false), 40, 6},
		{"again", few, 3, 2},
	} {
		var out bytes.Buffer
		if err := s.Show(&out, c.img); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(out.String(), ";2;"); n > 256 {
			t.Errorf("%s: %d colours", c.name, n)
		}
		var got image.Image
		if err := sixel.NewDecoder(&out).Decode(&got); err != nil {
			t.Fatal(err)
		}
		w, h := c.img.Rect.Dx(), c.img.Rect.Dy()
		if b := got.Bounds(); b.Dx() != w || b.Dy() < h || b.Dy() >= h+SixelBand {
			t.Fatalf("%s: %v comes back", c.name, b)
		}
		worst, sum := 0.0, 0.0
		for y := range h {
			for x := range w {
				r, g, b, _ := got.At(x, y).RGBA()
				want := c.img.Pix[c.img.PixOffset(x, y):]
				for k, v := range []uint32{r, g, b} {
					d := math.Abs(float64(v>>8) - float64(want[k]))
					worst, sum = max(worst, d), sum+d*d
				}
			}
		}
		if rms := math.Sqrt(sum / float64(3*w*h)); worst > c.worst || rms > c.rms {
			t.Errorf("%s: px off by up to %.0f, rms %.2f, want %g and %g", c.name, worst, rms, c.worst, c.rms)
		}
	}
	var out bytes.Buffer
	if err := s.Show(&out, image.NewRGBA(image.Rectangle{})); err != nil || out.Len() > 0 {
		t.Errorf("nothing becomes %q, %v", out.String(), err)
	}
}

// kittyParse reads one picture back, as the protocol says: escape codes of which the first has the keys, the others only
// m and q.
func kittyParse(s string) (keys map[string]string, img image.Image, err error) {
	var code strings.Builder
	for n := 0; s != ""; n++ {
		body, rest, ok := strings.Cut(strings.TrimPrefix(s, "\x1b_G"), "\x1b\\")
		if !ok || !strings.HasPrefix(s, "\x1b_G") {
			return nil, nil, fmt.Errorf("no escape code at %.20q", s)
		}
		head, data, _ := strings.Cut(body, ";")
		if len(data) > 4096 || rest != "" && len(data)%4 != 0 {
			return nil, nil, fmt.Errorf("a chunk of %d bytes", len(data))
		}
		own := map[string]string{}
		for kv := range strings.SplitSeq(head, ",") {
			k, v, _ := strings.Cut(kv, "=")
			own[k] = v
		}
		if n == 0 {
			keys = own
		} else if len(own) != 2 || own["q"] != "2" {
			return nil, nil, fmt.Errorf("chunk %d has the keys %q", n, head)
		}
		if more := map[bool]string{true: "0", false: "1"}[rest == ""]; own["m"] != more {
			return nil, nil, fmt.Errorf("chunk %d says m=%s, want %s", n, own["m"], more)
		}
		code.WriteString(data)
		s = rest
	}
	raw, err := base64.StdEncoding.DecodeString(code.String())
	if err != nil {
		return nil, nil, err
	}
	img, err = png.Decode(bytes.NewReader(raw))
	return keys, img, err
}

// TestKittyReadBack: what the protocol carries is the picture, to the bit; for one chunk, for many, and one after the other.
func TestKittyReadBack(t *testing.T) {
	var k Kitty
	for i, img := range []*image.RGBA{photo(300, 200, false), photo(3, 2, true), photo(200, 300, true)} {
		var out bytes.Buffer
		if err := k.Show(&out, img, 7+i, 30*i, 10*i); err != nil {
			t.Fatal(err)
		}
		keys, got, err := kittyParse(out.String())
		if err != nil {
			t.Fatal(err)
		}
		want := map[string]string{"a": "T", "f": "100", "C": "1", "q": "2", "i": fmt.Sprint(7 + i), "p": "1", "m": keys["m"]}
		if i > 0 {
			want["c"], want["r"] = fmt.Sprint(30*i), fmt.Sprint(10*i)
		}
		if fmt.Sprint(keys) != fmt.Sprint(want) {
			t.Errorf("keys %v, want %v", keys, want)
		}
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				if r, g, b, _ := got.At(x, y).RGBA(); [3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)} != [3]uint8(img.Pix[img.PixOffset(x, y):][:3]) {
					t.Fatalf("px (%d, %d) of picture %d comes back as another", x, y, i)
				}
			}
		}
	}
	if err := k.Show(&bytes.Buffer{}, photo(2, 2, true), 0, 0, 0); err == nil {
		t.Error("a picture without a number")
	}
	if e := KittyErase(7); e != "\x1b_Ga=d,d=I,i=7,q=2\x1b\\" {
		t.Errorf("erase is %q", e)
	}
}

// TestParse: answers as terminals give them (seen when they were tried, and ctlseqs), whole, cut off anywhere, and among what
// is typed.
func TestParse(t *testing.T) {
	for _, c := range []struct {
		name, answer string
		want         Capabilities
	}{
		{"xterm as a VT340", "\x1b[?63;1;2;4;6;9;15;16;22;28c", Capabilities{Sixel: true, Done: true}},
		{"xterm as a VT100", "\x1b[?1;2c", Capabilities{Done: true}},
		{"a class 4 terminal is no sixel terminal", "\x1b[?4c", Capabilities{Done: true}},
		{"kitty", "\x1b_Gi=31;OK\x1b\\\x1b[6;20;10t\x1b[?62;c", Capabilities{Kitty: true, CellWidth: 10, CellHeight: 20, Done: true}},
		{"refuses", "\x1b_Gi=31;ENODATA:no\x1b\\\x1b[?62;4c", Capabilities{Sixel: true, Done: true}},
		{"another picture's answer", "\x1b_Gi=3;OK\x1b\\\x1b[?62;4c", Capabilities{Sixel: true, Done: true}},
		{"tmux", "\x1b[6;32;16t\x1b[?1;2c", Capabilities{CellWidth: 16, CellHeight: 32, Done: true}},
		{"typed", "q\x1b[A\x1b[6;20;10tw\x1b[?64;4cé", Capabilities{Sixel: true, CellWidth: 10, CellHeight: 20, Done: true, Rest: []byte("q\x1b[Awé")}},
		{"cells of no size", "\x1b[6;0;10t\x1b[?64;4c", Capabilities{Sixel: true, Done: true}},
		{"no terminal", "", Capabilities{}},
		{"not whole", "\x1b[?63;4;", Capabilities{Rest: []byte("\x1b[?63;4;")}},
	} {
		if got := Parse([]byte(c.answer)); fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
		for n := range c.answer {
			part := Parse([]byte(c.answer[:n]))
			if part.Done && !bytes.Contains([]byte(c.answer[:n]), []byte("c")) || part.Kitty && !c.want.Kitty {
				t.Errorf("%s: of %d bytes: %+v", c.name, n, part)
			}
		}
	}
	if !strings.HasSuffix(Query, "\x1b[c") {
		t.Error("DA1 is not the last question")
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("q\x1b_Gi=31;OK\x1b\\\x1b[6;20;10t\x1b[?64;4c"))
	f.Fuzz(func(t *testing.T, b []byte) {
		c := Parse(b)
		if len(c.Rest) > len(b) || c.Kitty && !bytes.Contains(b, []byte("i=31")) || c.CellWidth < 0 || c.CellWidth >= 1000 {
			t.Errorf("%q: %+v", b, c)
		}
	})
}

func BenchmarkShow(b *testing.B) {
	img := photo(960, 540, false)
	b.Run("sixel", func(b *testing.B) {
		b.ReportAllocs()
		var s Sixel
		var out bytes.Buffer
		for b.Loop() {
			out.Reset()
			if err := s.Show(&out, img); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(out.Len()), "bytes")
	})
	b.Run("kitty", func(b *testing.B) {
		b.ReportAllocs()
		var k Kitty
		var out bytes.Buffer
		for b.Loop() {
			out.Reset()
			if err := k.Show(&out, img, 1, 0, 0); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(out.Len()), "bytes")
	})
}

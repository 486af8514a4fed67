package plot_test

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"undermetal/cmd/undermetal/plot"
	"undermetal/spice/simulate"
)

// charging is a figure of a pixel-like waveform and a current.
func charging(points int) *plot.Figure {
	var t, v, w, i []float64
	for k := range points {
		s := 2e-5 * float64(k) / float64(points-1)
		t = append(t, s)
		v = append(v, 3.3*(1-math.Exp(-s/3e-6)))
		w = append(w, 2.5-1.2e5*s)
		i = append(i, -1e-9*math.Exp(-s/3e-6))
	}
	return &plot.Figure{Title: "pixel: reset & <integrate>", Panels: []plot.Panel{
		{X: plot.Axis{Label: "time", Unit: "s"}, Y: plot.Axis{Label: "voltage", Unit: "V"},
			Series: []plot.Series{{"v(out)", t, v}, {"v(node)", t, w}}},
		{X: plot.Axis{Label: "time", Unit: "s"}, Y: plot.Axis{Label: "current", Unit: "A"}, Series: []plot.Series{{"i(vdd)", t, i}}},
	}}
}

// bode is a pole at 159 kHz as a simulator gives it.
func bode() *plot.Figure {
	p := simulate.Plot{Title: "AC Analysis", Complex: true, Vectors: []simulate.Vector{{Name: "frequency", Type: "frequency"}, {Name: "v(out)", Type: "voltage"}}}
	for k := range 181 {
		f := math.Pow(10, float64(k)/20)
		h := 1 / complex(1, 2*math.Pi*f*1e-6)
		p.Vectors[0].Re, p.Vectors[0].Im = append(p.Vectors[0].Re, f), append(p.Vectors[0].Im, 0)
		p.Vectors[1].Re, p.Vectors[1].Im = append(p.Vectors[1].Re, real(h)), append(p.Vectors[1].Im, imag(h))
	}
	return plot.Waveforms("a pole", &p)
}

// many has more lines than there are colours and dashes.
func many() *plot.Figure {
	p := plot.Panel{X: plot.Axis{Label: "x", Unit: "m"}, Y: plot.Axis{Label: "ratio"}}
	for i := range 17 {
		x := []float64{0, 1, 2}
		p.Series = append(p.Series, plot.Series{Name: "line " + strconv.Itoa(i), X: x, Y: []float64{float64(i), float64(i) + 0.3, float64(i)}})
	}
	return &plot.Figure{Panels: []plot.Panel{p}}
}

func render(t *testing.T, what func(io.Writer, *plot.Figure) error, f *plot.Figure) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := what(&b, f); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asText(w io.Writer, f *plot.Figure) error { return plot.Text(w, f, 72, 12) }

// TestPictures: with UNDERMETAL_PICTURES set, pictures to be looked at; always, the same bytes again, and files that
// other readers take.
func TestPictures(t *testing.T) {
	for name, f := range map[string]*plot.Figure{"charging": charging(500), "bode": bode(), "many": many()} {
		for ext, what := range map[string]func(io.Writer, *plot.Figure) error{"svg": plot.SVG, "png": plot.PNG, "txt": asText, "csv": plot.CSV} {
			b := render(t, what, f)
			if !bytes.Equal(b, render(t, what, f)) {
				t.Errorf("%s.%s: other bytes the second time", name, ext)
			}
			if dir := os.Getenv("UNDERMETAL_PICTURES"); dir != "" {
				if err := os.WriteFile(filepath.Join(dir, "plot-"+name+"."+ext), b, 0o600); err != nil {
					t.Fatal(err)
				}
			}
		}
		if img, err := png.Decode(bytes.NewReader(render(t, plot.PNG, f))); err != nil || img.Bounds().Dx() != 1080 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// path is a line of an SVG file.
type path struct {
	D     string `xml:"d,attr"`
	Style string `xml:"style,attr"`
}

type texts struct {
	Text  string `xml:",chardata"`
	Style string `xml:"style,attr"`
}

// decoded returns the lines, texts and title of an SVG file.
func decoded(t *testing.T, svg []byte) (paths []path, words []texts, title string) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := d.Token()
		if err == io.EOF {
			return paths, words, title
		}
		if err != nil {
			t.Fatalf("not XML: %v\n%s", err, svg)
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		var p path
		var w texts
		switch start.Name.Local {
		case "path":
			err = d.DecodeElement(&p, &start)
			paths = append(paths, p)
		case "text":
			err = d.DecodeElement(&w, &start)
			words = append(words, w)
		case "title":
			err = d.DecodeElement(&title, &start)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

var place = regexp.MustCompile(`[ML]([-+0-9.e]+),([-+0-9.e]+)`)

// corners returns the corners of a path.
func corners(t *testing.T, d string) (xs, ys []float64) {
	t.Helper()
	for _, m := range place.FindAllStringSubmatch(d, -1) {
		x, err1 := strconv.ParseFloat(m[1], 64)
		y, err2 := strconv.ParseFloat(m[2], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(m)
		}
		xs, ys = append(xs, x), append(ys, y)
	}
	return xs, ys
}

// TestSVGPlaces: the line in the file is the data, scaled: along a logarithmic axis by the logarithm.
func TestSVGPlaces(t *testing.T) {
	for _, tc := range []struct {
		name   string
		figure *plot.Figure
		along  func(float64) float64
	}{
		{"linear", charging(500), func(v float64) float64 { return v }},
		{"logarithmic", bode(), math.Log10},
	} {
		paths, _, _ := decoded(t, render(t, plot.SVG, tc.figure))
		s := tc.figure.Panels[0].Series[0]
		n := len(s.X)
		for _, p := range paths {
			xs, ys := corners(t, p.D)
			if !strings.Contains(p.Style, "#0072B2") || len(xs) != n {
				continue
			}
			for i := range xs {
				wantX := (tc.along(s.X[i]) - tc.along(s.X[0])) / (tc.along(s.X[n-1]) - tc.along(s.X[0]))
				wantY := (s.Y[i] - s.Y[0]) / (s.Y[n-1] - s.Y[0])
				gotX, gotY := (xs[i]-xs[0])/(xs[n-1]-xs[0]), (ys[i]-ys[0])/(ys[n-1]-ys[0])
				if math.Abs(gotX-wantX) > 1e-3 || math.Abs(gotY-wantY) > 1e-3 {
					t.Fatalf("%s: point %d at %.5f, %.5f of the way, want %.5f, %.5f", tc.name, i, gotX, gotY, wantX, wantY)
				}
			}
			n = -1
			break
		}
		if n != -1 {
			t.Errorf("%s: no line in colour 1 with %d points", tc.name, n)
		}
	}
}

// TestSVG: names as text in a generic font; units with prefixes.
func TestSVG(t *testing.T) {
	svg := render(t, plot.SVG, charging(50))
	_, words, title := decoded(t, svg)
	var all []string
	for _, w := range words {
		all = append(all, w.Text)
		if !strings.Contains(w.Style, "sans-serif") || strings.Contains(w.Style, "Liberation") {
			t.Errorf("%q in %s", w.Text, w.Style)
		}
	}
	for _, want := range []string{"v(out)", "v(node)", "i(vdd)", "time (µs)", "voltage (V)", "current (nA)", "pixel: reset & <integrate>", "−0.5", "15"} {
		if !strings.Contains("\n"+strings.Join(all, "\n")+"\n", "\n"+want+"\n") {
			t.Errorf("no text %q in %q", want, all)
		}
	}
	if title != "pixel: reset & <integrate>" {
		t.Errorf("title %q", title)
	}
	hostile := charging(50)
	hostile.Title = "a\x00b\x1b]0;x\a\ncut \xff <script>"
	hostile.Panels[0].Series[0].Name = "x\u2028\x01</text><script>\"'`"
	decoded(t, render(t, plot.SVG, hostile))
	if b := render(t, asText, hostile); bytes.ContainsAny(b, "\x1b\x00\a\x01") {
		t.Errorf("escape sequences pass:\n%q", b)
	}
}

// TestLooks: no two lines of a panel differ in colour alone, however many they are.
func TestLooks(t *testing.T) {
	paths, words, _ := decoded(t, render(t, plot.SVG, many()))
	dash := regexp.MustCompile(`stroke:(#[0-9A-F]{6}).*?(?:stroke-dasharray:([^;]*))?$`)
	lines := map[string]int{}
	colours := map[string]bool{}
	for _, p := range paths {
		if xs, _ := corners(t, p.D); len(xs) != 3 || !strings.Contains(p.Style, "stroke-width:1.3") {
			continue
		}
		m := dash.FindStringSubmatch(p.Style)
		lines[m[2]]++
		colours[m[1]] = true
	}
	if len(lines) != 7 || len(colours) != 7 || lines[""] != 3 { // 17 lines: 3 whole ones, told apart by their marks
		t.Errorf("dashes %v, colours %v", lines, colours)
	}
	seen := 0
	for _, w := range words {
		if strings.HasPrefix(w.Text, "line ") {
			seen++
		}
	}
	if seen != 17 {
		t.Errorf("%d names of 17", seen)
	}
	for i := range 7 { // Okabe and Ito's, but for yellow
		if want := []string{"#0072B2", "#D55E00", "#009E73", "#CC79A7", "#000000", "#E69F00", "#56B4E9"}[i]; !colours[want] {
			t.Errorf("no line is %s", want)
		}
	}
}

// pulse is a million points at 1 V with one at 3 and one, beside it, at −2, and a gap.
func pulse() *plot.Figure {
	s := plot.Series{Name: "v"}
	for i := range 1000000 {
		s.X, s.Y = append(s.X, float64(i)*1e-9), append(s.Y, 1)
	}
	s.Y[700000], s.Y[700001] = 3, -2
	for i := 300000; i < 310000; i++ {
		s.Y[i] = math.NaN()
	}
	return &plot.Figure{Panels: []plot.Panel{{X: plot.Axis{Label: "time", Unit: "s"}, Y: plot.Axis{Label: "voltage", Unit: "V"}, Series: []plot.Series{s}}}}
}

// TestPeaks: of a million points few are drawn, and no peak is lost, in a picture or in text; a gap stays one.
func TestPeaks(t *testing.T) {
	svg := render(t, plot.SVG, pulse())
	if len(svg) > 300000 {
		t.Errorf("SVG of %d bytes", len(svg))
	}
	paths, _, _ := decoded(t, svg)
	var runs [][2]float64 // along x
	low, high, level := math.Inf(1), math.Inf(-1), math.NaN()
	for _, p := range paths {
		xs, ys := corners(t, p.D)
		if !strings.Contains(p.Style, "#0072B2") || len(xs) < 100 {
			continue
		}
		runs = append(runs, [2]float64{xs[0], xs[len(xs)-1]})
		level = ys[0]
		for _, y := range ys {
			low, high = math.Min(low, y), math.Max(high, y)
		}
	}
	if len(runs) != 2 {
		t.Fatalf("%d runs", len(runs))
	}
	if r := (high - level) / (level - low); math.Abs(r-2.0/3) > 1e-3 && math.Abs(r-3.0/2) > 1e-3 { // up 2, down 3
		t.Errorf("peaks lie %g to 1", r)
	}
	whole := runs[1][1] - runs[0][0]
	if gap := (runs[1][0] - runs[0][1]) / whole; math.Abs(gap-0.01) > 2e-3 {
		t.Errorf("gap of %g of the width", gap)
	}
	text := string(render(t, asText, pulse()))
	if !regexp.MustCompile(`(?m)^ *−2[.0]*[┤┼].*[╰╯│]`).MatchString(text) {
		t.Errorf("the lower peak is not seen:\n%s", text)
	}
}

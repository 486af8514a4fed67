package plot_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/rivo/uniseg"

	"undermetal/cmd/undermetal/plot"
	"undermetal/spice/simulate"
)

// TestText: never wider than asked for, in any script; each line its own sign, and the axes' ends and units.
func TestText(t *testing.T) {
	for _, width := range []int{10, 40, 72, 200} {
		for name, f := range map[string]*plot.Figure{"charging": charging(50), "bode": bode(), "many": many(), "wide": {Title: strings.Repeat("電圧", 300),
			Panels: []plot.Panel{{Y: plot.Axis{Label: "電圧", Unit: "V"}, Series: []plot.Series{{strings.Repeat("電圧", 100), []float64{1, 2}, []float64{3, 4}}}}}}} {
			var b bytes.Buffer
			if err := plot.Text(&b, f, width, 5); err != nil {
				t.Fatal(err)
			}
			for line := range strings.SplitSeq(b.String(), "\n") {
				if w := uniseg.StringWidth(line); w > max(width, 40) {
					t.Errorf("%s, %d columns: %d in %q", name, width, w, line)
				}
				if strings.TrimRight(line, " ") != line {
					t.Errorf("%s: blanks at the end of %q", name, line)
				}
			}
		}
	}
	text := string(render(t, asText, charging(500)))
	for _, want := range []string{"pixel: reset", "voltage (V)", "current (nA)", "─ v(out)   * v(node)", "****", "time (µs)", "╭", "−1.0┼"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
}

// TestCSV: every value comes back to the last bit, in base units; different places get columns of their own.
func TestCSV(t *testing.T) {
	f := charging(100)
	other := plot.Series{Name: "=1+1", X: []float64{0, 1}, Y: []float64{math.NaN(), 0.1}}
	f.Panels[1].Series = append(f.Panels[1].Series, other, plot.Series{Name: "a,\"b\"", X: []float64{0, 1}, Y: []float64{1, 2}})
	rows, err := csv.NewReader(bytes.NewReader(render(t, plot.CSV, f))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Join(rows[0], "|"), `time (s)|v(out) (V)|v(node) (V)|i(vdd) (A)|time (s)|'=1+1 (A)|a,"b" (A)`; got != want {
		t.Errorf("head %s, want %s", got, want)
	}
	if len(rows) != 101 || rows[1][5] != "" || rows[2][5] != "0.1" || rows[3][4] != "" {
		t.Errorf("%d rows, %q", len(rows), rows[1:4])
	}
	for i := range 100 {
		for j, want := range []float64{f.Panels[0].Series[0].X[i], f.Panels[0].Series[0].Y[i], f.Panels[0].Series[1].Y[i], f.Panels[1].Series[0].Y[i]} {
			if got, err := strconv.ParseFloat(rows[i+1][j], 64); err != nil || got != want {
				t.Fatalf("row %d, column %d: %q, want %v", i+1, j, rows[i+1][j], want)
			}
		}
	}
}

// TestNothing: what has nothing to show is an error, in all forms; odd values are no panic.
func TestNothing(t *testing.T) {
	axis := func(s ...plot.Series) *plot.Figure { return &plot.Figure{Panels: []plot.Panel{{Series: s}}} }
	nan := math.NaN()
	for name, what := range map[string]func(io.Writer, *plot.Figure) error{"svg": plot.SVG, "png": plot.PNG, "txt": asText, "csv": plot.CSV} {
		for i, f := range []*plot.Figure{{}, axis(), axis(plot.Series{}), axis(plot.Series{"x", []float64{1}, []float64{nan}}),
			plot.Waveforms("op", &simulate.Plot{Vectors: []simulate.Vector{{Name: "v(a)", Re: []float64{1}}}}), plot.Waveforms("", nil),
			{Panels: []plot.Panel{{Y: plot.Axis{Log: true}, Series: []plot.Series{{"x", []float64{1, 2}, []float64{0, -1}}}}}}} {
			if err := what(io.Discard, f); !errors.Is(err, plot.ErrNothing) {
				t.Errorf("%s of nothing %d: %v", name, i, err)
			}
		}
		if err := what(io.Discard, axis(plot.Series{"x", []float64{1, 2}, []float64{1}})); err == nil {
			t.Errorf("%s: places without values", name)
		}
		for i, f := range []*plot.Figure{
			axis(plot.Series{"one point", []float64{1}, []float64{1}}),
			axis(plot.Series{"flat", []float64{1, 2, 3}, []float64{0, 0, 0}}),
			axis(plot.Series{"flat", []float64{1, 2, 3}, []float64{5, 5 + 1e-15, 5}}),
			axis(plot.Series{"large", []float64{1, 2, 3}, []float64{1e300, -1e300, 5}}),
			axis(plot.Series{"small", []float64{1e-300, 2e-300, 3e-300}, []float64{1e-20, 2e-20, 0}}),
			axis(plot.Series{"gaps", []float64{1, 2, 3, 4, nan}, []float64{1, nan, 2, math.Inf(1), 2}}),
			axis(plot.Series{"back and forth", []float64{1, 3, 2, 4, 1}, []float64{1, 2, 3, 4, 5}}),
			{Panels: []plot.Panel{{X: plot.Axis{Log: true}, Y: plot.Axis{Log: true}, Series: []plot.Series{{"x", []float64{0, 1, 2, 1e12}, []float64{-1, 1e-9, 5, 1e9}}}}}},
			{Panels: []plot.Panel{{X: plot.Axis{Log: true}, Y: plot.Axis{Log: true}, Series: []plot.Series{{"x", []float64{2, 2}, []float64{3, 3}}}}}},
		} {
			if err := what(io.Discard, f); err != nil {
				t.Errorf("%s of odd values %d: %v", name, i, err)
			}
		}
	}
	if err := plot.SVG(broken{}, charging(10)); !errors.Is(err, errBroken) {
		t.Errorf("a writer that fails: %v", err)
	}
}

var errBroken = errors.New("broken")

type broken struct{}

func (broken) Write([]byte) (int, error) { return 0, errBroken }

// TestWaveforms: vectors by their kind; a complex one as magnitude and phase of the pole 1/(1+jf/159 kHz).
func TestWaveforms(t *testing.T) {
	f := bode()
	if len(f.Panels) != 2 || !f.Panels[0].X.Log || f.Panels[0].Y.Unit != "dB" || f.Panels[1].Y.Unit != "°" {
		t.Fatalf("%+v", f.Panels)
	}
	for i, hz := range f.Panels[0].Series[0].X {
		w := 2 * math.Pi * hz * 1e-6
		if db := -10 * math.Log10(1+w*w); math.Abs(f.Panels[0].Series[0].Y[i]-db) > 1e-9 {
			t.Fatalf("%g Hz: %g dB, want %g", hz, f.Panels[0].Series[0].Y[i], db)
		}
		if d := -math.Atan(w) * 180 / math.Pi; math.Abs(f.Panels[1].Series[0].Y[i]-d) > 1e-9 {
			t.Fatalf("%g Hz: %g°, want %g", hz, f.Panels[1].Series[0].Y[i], d)
		}
	}
	// Six poles turn the phase by 540°, which is shown as such.
	p := simulate.Plot{Complex: true, Vectors: []simulate.Vector{{Name: "frequency", Type: "frequency"}, {Name: "v(a)", Type: "voltage"}}}
	for k := range 400 {
		hz := math.Pow(10, float64(k)/50)
		h := 1 / complex(1, hz/1e3)
		h = h * h * h * h * h * h
		p.Vectors[0].Re, p.Vectors[0].Im = append(p.Vectors[0].Re, hz), append(p.Vectors[0].Im, 0)
		p.Vectors[1].Re, p.Vectors[1].Im = append(p.Vectors[1].Re, real(h)), append(p.Vectors[1].Im, imag(h))
	}
	phase := plot.Waveforms("", &p).Panels[1].Series[0].Y
	if last := phase[len(phase)-1]; math.Abs(last+540) > 1 {
		t.Errorf("phase ends at %g", last)
	}
	tran := simulate.Plot{Vectors: []simulate.Vector{{Name: "time", Type: "time"}, {Name: "i(v1)", Type: "current"},
		{Name: "@m1[gm]", Type: "admittance"}, {Name: "v(a)", Type: "voltage"}, {Name: "v(b)", Type: "voltage"}}}
	for i := range tran.Vectors {
		tran.Vectors[i].Re = []float64{0, 1}
	}
	var got []string
	for _, p := range plot.Waveforms("", &tran).Panels {
		s := p.X.Label + "/" + p.Y.Label + " " + p.Y.Unit
		for _, v := range p.Series {
			s += " " + v.Name
		}
		got = append(got, s)
	}
	if want := "[time/voltage V v(a) v(b) time/current A i(v1) time/admittance S @m1[gm]]"; fmt.Sprint(got) != want {
		t.Errorf("%v, want %s", got, want)
	}
	if f := plot.Waveforms("", &tran, "V(B)", "nosuch"); len(f.Panels) != 1 || len(f.Panels[0].Series) != 1 || f.Panels[0].Series[0].Name != "v(b)" {
		t.Errorf("one by name: %+v", f)
	}
}

package simulate_test

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"undermetal/spice/simulate"
	"undermetal/spice/simulate/simulatetest"
)

// must runs a deck that has to give a result without a complaint.
func must(t *testing.T, d *simulate.Deck) *simulate.Result {
	t.Helper()
	simulatetest.Path(t)
	got, err := new(simulate.Runner).Run(context.Background(), d)
	if err != nil {
		t.Fatalf("%v\n--- the deck:\n%s", err, d.Text())
	}
	if len(got.Complaints) > 0 {
		t.Fatalf("complaints: %+v\n--- the deck:\n%s", got.Complaints, d.Text())
	}
	return got
}

func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s = %.8g, want %.8g ± %.0e", what, got, want, relative)
	}
}

const k, q0, celsius = 1.380649e-23, 1.602176634e-19, 273.15 // SI, exact

// TestCharging: a capacitor charged through a resistor, v = V(1 − e^(−t/RC)) (textbook, exact).
func TestCharging(t *testing.T) {
	const volt, tau = 2.0, 1e3 * 1e-9
	got := must(t, &simulate.Deck{
		Title: "RC", Body: "v1 in 0 2\nr1 in out 1k\nc1 out 0 1n ic=0\n.options reltol=1e-6",
		Analyses: []simulate.Analysis{{Name: "Charge", Command: "tran 5n 5u 0 5n uic", Save: []string{"v(out)", "i(v1)"}}},
	})
	p := got.Plot("charge")
	time, out, current := p.Vectors[0].Re, p.Vector("V(OUT)"), p.Vector("i(v1)")
	if p.Vectors[0].Name != "time" || p.Complex || out.Im != nil || len(time) < 1000 || time[len(time)-1] < 5e-6*(1-1e-9) {
		t.Fatalf("plot %q of %d points, scale %q", p.Title, len(time), p.Vectors[0].Name)
	}
	for i, s := range time {
		// The trapezoidal rule in steps h errs by about (h/tau)²/12 of what is left.
		want := volt * (1 - math.Exp(-s/tau))
		if s > 0.05*tau && math.Abs(out.Re[i]-want) > 1e-5*volt {
			t.Fatalf("v(%g s) = %.8g, want %.8g", s, out.Re[i], want)
		}
		if s > 0.05*tau && math.Abs(current.Re[i]-(want-volt)/1e3) > 1e-5*volt/1e3 {
			t.Fatalf("i(%g s) = %.8g, want %.8g", s, current.Re[i], (want-volt)/1e3)
		}
	}
	if !strings.HasPrefix(got.Simulator, "ngspice ") || got.Elapsed <= 0 {
		t.Errorf("simulator %q, %v", got.Simulator, got.Elapsed)
	}
}

// TestPole: 1/(1+jωRC), all points, real and imaginary part (textbook, exact).
func TestPole(t *testing.T) {
	p := must(t, &simulate.Deck{
		Body:     "v1 in 0 dc 0 ac 1\nr1 in out 1k\nc1 out 0 1n",
		Analyses: []simulate.Analysis{{Name: "pole", Command: "ac dec 20 1 1g", Save: []string{"v(out)"}}},
	}).Plot("pole")
	if !p.Complex || len(p.Vectors) != 2 || len(p.Vectors[0].Re) != 181 { // nine decades of 20, and the last point
		t.Fatalf("complex %v, %d vectors, %d points", p.Complex, len(p.Vectors), len(p.Vectors[0].Re))
	}
	out := p.Vector("v(out)")
	for i, f := range p.Vectors[0].Re {
		want := 1 / (1 + complex(0, 2*math.Pi*f*1e-6))
		if d := cmplx.Abs(complex(out.Re[i], out.Im[i]) - want); d > 1e-9 {
			t.Fatalf("at %g Hz %g off", f, d)
		}
	}
}

// TestDivider: an operating point, a sweep, and a parameter of a device, in one deck; alter between two of them.
func TestDivider(t *testing.T) {
	got := must(t, &simulate.Deck{
		Title: "`touch here` .control", Body: "v1 net[3] 0 3\nr1 net[3] a<1> 1k\nr2 a<1> 0 2k\n* Grüße, 3 µm\n",
		Analyses: []simulate.Analysis{
			{Name: "op", Command: "op", Save: []string{"v(a<1>)", "i(v1)", "@r1[i]"}},
			{Name: "sweep", Command: "dc v1 0 3.3 0.01", Save: []string{"v(a<1>)"}},
			{Name: "op2", Before: []string{"alter v1 dc = 6"}, Command: "op", Save: []string{"v(net[3])", "v(a<1>)"}},
		},
	})
	within(t, "v(a)", got.Plot("op").Vector("v(a<1>)").Re[0], 2, 1e-9)
	within(t, "i(v1)", got.Plot("op").Vector("i(v1)").Re[0], -1e-3, 1e-9)
	within(t, "@r1[i]", got.Plot("op").Vector("@r1[i]").Re[0], 1e-3, 1e-9)
	within(t, "v(a) after alter", got.Plot("op2").Vector("v(a<1>)").Re[0], 4, 1e-9)
	sweep := got.Plot("sweep")
	if n := len(sweep.Vectors[0].Re); n != 331 {
		t.Fatalf("%d points, want 331", n)
	}
	for i, v := range sweep.Vectors[0].Re {
		if d := math.Abs(v - 0.01*float64(i)); d > 1e-9 {
			t.Fatalf("scale %d is %g", i, v)
		}
		if d := math.Abs(sweep.Vector("v(a<1>)").Re[i] - v*2/3); d > 1e-9 {
			t.Fatalf("at %g V %g off", v, d)
		}
	}
}

// TestNoise: 4kTR of a resistor (Johnson, Nyquist) at 27 °C, filtered by the capacitor beside it to kT/C in total.
func TestNoise(t *testing.T) {
	got := must(t, &simulate.Deck{
		Body: "v1 in 0 dc 0 ac 1\nr1 in out 10k\nc1 out 0 1p",
		Analyses: []simulate.Analysis{{Name: "n", Command: "noise v(out) v1 dec 50 1 1e12",
			Save: []string{"onoise_spectrum", "inoise_spectrum", "onoise_total"}}},
	})
	T := celsius + 27
	within(t, "4kTR", math.Pow(got.Plot("n").Vector("onoise_spectrum").Re[0], 2), 4*k*T*10e3, 1e-4)
	within(t, "kT/C", math.Pow(got.Plot("n.total").Vector("onoise_total").Re[0], 2), k*T/1e-12, 5e-3)
}

// TestByHand: the deck runs without us and writes its waveforms beside it; text and binary files hold the same, and so
// does what a vector shorter than its plot has in padded and unpadded files.
func TestByHand(t *testing.T) {
	ngspice := simulatetest.Path(t)
	d := &simulate.Deck{
		Body: "v1 in 0 dc 0 ac 1 sin(0 1 1meg)\nr1 in out 1k\nc1 out 0 1n",
		Analyses: []simulate.Analysis{
			{Name: "a", Command: "ac dec 5 1 1g", Save: []string{"v(out)", "i(v1)"}},
			{Name: "t", Command: "tran 10n 1u", Save: []string{"v(out)", "i(v1)"}},
		},
	}
	read := func(name, text string) map[string][]simulate.Plot {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, "deck.sp"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(ngspice, "-b", "deck.sp")
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", name, err, out)
		}
		plots := map[string][]simulate.Plot{}
		files, _ := filepath.Glob(filepath.Join(dir, "*.raw"))
		for _, file := range files {
			f, err := os.Open(file)
			if err != nil {
				t.Fatal(err)
			}
			p, err := simulate.ReadRaw(f, 0)
			f.Close()
			if err != nil {
				t.Fatalf("%s: %s: %v", name, filepath.Base(file), err)
			}
			plots[filepath.Base(file)] = p
		}
		return plots
	}
	binary := read("binary", d.Text())
	ascii := read("text", strings.Replace(d.Text(), ".control\n", ".control\nset filetype=ascii\nset numdgt=16\n", 1))
	if len(binary) != 2 || len(ascii) != 2 {
		t.Fatalf("files: %d binary, %d text", len(binary), len(ascii))
	}
	for name, b := range binary {
		same(t, name, ascii[name], b, 1e-14)
	}
	// Two plots in one file, and a vector of three points beside 200.
	more := func(set string) string {
		return strings.Replace(d.Text(), "destroy all\nquit", "destroy all\n"+set+
			"tran 10n 1u\nlet short = vector(3)\nset appendwrite\nwrite more.raw v(out) short\nac dec 5 1 1g\nwrite more.raw v(out)\nquit", 1)
	}
	var first []simulate.Plot
	for _, set := range []string{"", "set nopadding\n", "set filetype=ascii\nset numdgt=16\n", "set filetype=ascii\nset numdgt=16\nset nopadding\n"} {
		got := read(set, more(set))["more.raw"]
		if len(got) != 2 {
			t.Fatalf("%q: %d plots", set, len(got))
		}
		short := got[0].Vector("short")
		if short == nil || len(short.Re) != 3 || short.Re[2] != 2 || len(got[0].Vectors[0].Re) < 100 || !got[1].Complex {
			t.Fatalf("%q: vector(3) read as %+v", set, short)
		}
		if first == nil {
			first = got
		}
		same(t, set, got, first, 1e-14)
	}
}

func same(t *testing.T, what string, a, b []simulate.Plot, relative float64) {
	t.Helper()
	if len(a) != len(b) {
		t.Fatalf("%s: %d and %d plots", what, len(a), len(b))
	}
	for i := range a {
		if len(a[i].Vectors) != len(b[i].Vectors) || a[i].Complex != b[i].Complex || a[i].Title != b[i].Title {
			t.Fatalf("%s: plots %d differ", what, i)
		}
		for j, v := range a[i].Vectors {
			w := b[i].Vectors[j]
			if v.Name != w.Name || v.Type != w.Type || len(v.Re) != len(w.Re) || len(v.Im) != len(w.Im) {
				t.Fatalf("%s: %s and %s differ", what, v.Name, w.Name)
			}
			for k := range v.Re {
				within(t, what+" "+v.Name, v.Re[k], w.Re[k], relative)
			}
			for k := range v.Im {
				within(t, what+" "+v.Name, v.Im[k], w.Im[k], relative)
			}
		}
	}
}

// TestComplaints: each mistake of a deck is an error that names the recovered device.
func TestComplaints(t *testing.T) {
	simulatetest.Path(t)
	op := []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(a)"}}}
	tran := []simulate.Analysis{{Name: "t", Command: "tran 0.1n 20n", Save: []string{"v(a)"}}}
	for _, tc := range []struct {
		name, body string
		analyses   []simulate.Analysis
		places     map[string]string
		want       []string
	}{
		{"missing model", "v1 a 0 1\n.subckt cell p\nm1 p p 0 0 none\n.ends\nx1 a cell", op,
			map[string]string{"x1.m1": "nmos at 12.3, 4.5 µm"}, []string{"none", "[nmos at 12.3, 4.5 µm]"}},
		{"missing subcircuit", "v1 a 0 1\nx7 a none", op, map[string]string{"x7": "cell none at 1, 2 µm"}, []string{"none", "[cell none at 1, 2 µm]"}},
		{"name twice", "v1 a 0 1\nr1 a 0 1\nr1 a 0 2", op, map[string]string{"r1": "resistor at 3, 4 µm"}, []string{"already exists", "[resistor at 3, 4 µm]"}},
		{"bad parameter", "v1 a 0 1\nm5 a a 0 0 n w=xx l=1u\n.model n nmos", op, map[string]string{"m5": "nmos at 5, 5 µm"}, []string{"xx", "[nmos at 5, 5 µm]"}},
		{"unknown parameter", "v1 a 0 1\nm5 a a 0 0 n ng=2\n.model n nmos", op, map[string]string{"m5": "nmos at 5, 5 µm"}, []string{"ng", "[nmos at 5, 5 µm]"}},
		{"no convergence", ".subckt s a\nb1 a 0 i=1e6*v(a)*v(a)+exp(v(a)*50)+5\nr1 a 0 1\n.ends\nx1 a s\nv1 w 0 1\nr9 w a 1\n.options itl1=5 gminsteps=1 srcsteps=1", op,
			map[string]string{"a": "net out at 7, 8 µm"}, []string{"aborted", "[net out at 7, 8 µm]"}},
		{"loop of sources", "v1 a 0 1\nv2 a 0 2", op, map[string]string{"v1": "supply"}, []string{"singular matrix", "[supply]"}},
		{"no such node", "v1 b 0 1\nr1 b 0 1", []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(b)", "v(a)"}}}, map[string]string{"a": "net a at 1, 1 µm"}, []string{"no v(a)", "[net a at 1, 1 µm]"}},
		{"no such parameter", "v1 a 0 1\nm1 a a 0 0 n\n.model n nmos", []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(a)", "@m9[gm]"}}}, nil, []string{"wrote nothing"}},
		{"half a sweep", "b1 a x i= time>5e-9 ? 1e30*(v(a,x)-1)*(v(a,x)-1)*sgn(v(a,x)): v(a,x)\nc1 a x 1f\nr8 x 0 1\nv1 w 0 pulse(0 5 4n 1p 1p 3n 10n)\nr9 w a 1", tran,
			map[string]string{"a": "net out at 7, 8 µm"}, []string{"ended at", "instead of 2e-08", "aborted"}},
		{"nothing altered", "v1 a 0 1", []simulate.Analysis{{Name: "op", Before: []string{"alter v7 dc = 3"}, Command: "op", Save: []string{"v(a)"}}}, nil, []string{"v7"}},
		{"second fails", "v1 a 0 1", []simulate.Analysis{{Name: "first", Command: "dc v1 0 1 0.1", Save: []string{"v(a)"}}, {Name: "s", Command: "dc v9 0 1 0.1", Save: []string{"v(a)"}}}, nil, []string{"v9", "analysis s"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			d := &simulate.Deck{Title: tc.name, Body: tc.body, Analyses: tc.analyses, Places: tc.places}
			got, err := new(simulate.Runner).Run(context.Background(), d)
			if !errors.Is(err, simulate.ErrFailed) || got == nil {
				t.Fatalf("error %v", err)
			}
			if last := tc.analyses[len(tc.analyses)-1].Name; len(tc.analyses) > 1 && got.Plot(last) != nil {
				t.Errorf("the failed analysis has the plot of the one before it")
			}
			whole := err.Error()
			for _, c := range got.Complaints {
				whole += "\n" + c.String()
			}
			for _, w := range tc.want {
				if !strings.Contains(whole, w) {
					t.Errorf("nothing says %q:\n%s", w, whole)
				}
			}
			if testing.Verbose() {
				t.Logf("%v", err) // to be read: they are part of the product
			}
		})
	}
}

// TestWarnings: what is no error of the run, but worth saying.
func TestWarnings(t *testing.T) {
	simulatetest.Path(t)
	for _, tc := range []struct{ name, body, want, what string }{
		{"resistor of nothing", "v1 a 0 1\nr2 a", "r2", "resistor at 3, 4 µm"},
		{"unknown model parameter", "v1 a 0 1\nm1 a a 0 0 n\n.model n nmos foo=1", "foo", ""},
		{"floating node", "v1 a 0 1\nc1 a b 1p\nc2 b 0 1p\nr2 a 0 1", "singular", "net b"},
	} {
		d := &simulate.Deck{Body: tc.body, Analyses: []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(a)"}}},
			Places: map[string]string{"r2": "resistor at 3, 4 µm", "b": "net b"}}
		got, err := new(simulate.Runner).Run(context.Background(), d)
		if err != nil {
			t.Errorf("%s: %v", tc.name, err)
			continue
		}
		found := false
		for _, c := range got.Complaints {
			found = found || strings.Contains(c.Text, tc.want) && c.What == tc.what
		}
		if !found {
			t.Errorf("%s: complaints %+v", tc.name, got.Complaints)
		}
	}
}

// TestNamesLikeComplaints: a node may be called error; that is no complaint.
func TestNamesLikeComplaints(t *testing.T) {
	must(t, &simulate.Deck{
		Title: "Error: simulation(s) aborted", Body: "v1 error 0 1\nr1 error warning: 1\nr2 warning: aborted 1\nr3 aborted 0 1",
		Analyses: []simulate.Analysis{{Name: "t", Command: "tran 1n 10n", Save: []string{"v(error)", "v(aborted)"}}},
	})
}

// TestProgress: it grows, within an analysis too, and ends at 1.
func TestProgress(t *testing.T) {
	simulatetest.Path(t)
	var heard []float64
	r := simulate.Runner{Progress: func(done float64, what string) { heard = append(heard, done) }}
	d := &simulate.Deck{
		Body: "v1 in 0 sin(0 1 1k)\nr1 in out 1k\nc1 out 0 1n",
		Analyses: []simulate.Analysis{
			{Name: "op", Command: "op", Save: []string{"v(out)"}},
			{Name: "long", Command: "tran 1u 200m 0 1u", Save: []string{"v(out)"}},
		},
	}
	if _, err := r.Run(context.Background(), d); err != nil {
		t.Fatal(err)
	}
	between := 0
	for i, v := range heard {
		if i > 0 && v <= heard[i-1] {
			t.Errorf("from %g to %g", heard[i-1], v)
		}
		if v > 0.5 && v < 1 {
			between++
		}
	}
	if len(heard) < 3 || heard[len(heard)-1] != 1 || between == 0 {
		t.Errorf("heard %v", heard)
	}
}

// TestLimits: ngspice itself is ended by the limits, in the middle of an analysis and of writing.
func TestLimits(t *testing.T) {
	simulatetest.Path(t)
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	d := func(command string) *simulate.Deck {
		return &simulate.Deck{Body: "v1 a 0 sin(0 1 1k)\nr1 a 0 1",
			Analyses: []simulate.Analysis{{Name: "t", Command: command, Save: []string{"v(a)"}}}}
	}
	r := simulate.Runner{Limit: time.Second}
	if _, err := r.Run(context.Background(), d("tran 1n 50m")); !errors.Is(err, simulate.ErrTime) {
		t.Errorf("50 million points: %v", err)
	}
	if runtime.GOOS == "linux" {
		if _, err := new(simulate.Runner).Run(context.Background(), d("tran 1n 1")); !errors.Is(err, simulate.ErrSize) || !strings.Contains(err.Error(), "memory") {
			t.Errorf("a billion points: %v", err)
		}
	}
	r = simulate.Runner{MaxBytes: 1 << 20}
	if _, err := r.Run(context.Background(), d("tran 1u 200m 0 1u")); !errors.Is(err, simulate.ErrSize) {
		t.Errorf("3 MB of waveform: %v", err)
	}
	if left, err := os.ReadDir(temp); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// TestBatch: a deck of the caller's own, with what is printed and what is complained of.
func TestBatch(t *testing.T) {
	simulatetest.Path(t)
	said, complaints, err := new(simulate.Runner).Batch(context.Background(), "t\nv1 a 0 2\nr1 a 0 1\n.control\nop\nprint v(a)\nprint nosuch\nquit 0\n.endc\n.end\n")
	if err != nil || !strings.Contains(said, "v(a) = 2.0") || len(complaints) == 0 || !strings.Contains(complaints[0].Text, "nosuch") {
		t.Errorf("%v, complaints %v\n%s", err, complaints, said)
	}
}

package main

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
)

// TestDemo: wherever a demo is interrupted it leaves nothing; the first that is not interrupted recovers the die and leaves all its
// files, the dossier whole and the report in need of nothing else. What it says to try next works.
func TestDemo(t *testing.T) {
	t.Parallel()
	text := readme(t)
	parent := t.TempDir()
	dir := filepath.Join(parent, "d")
	kept, err := filepath.Abs("../../" + readmeDir)
	if err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	ended := 0
	for n := int64(0); ; n = 16*n + 1 {
		if n > 300 && os.Getenv("UNDERMETAL_FULL") == "" {
			n = math.MaxInt64
		}
		left := new(atomic.Int64)
		left.Store(n)
		stdout.Reset()
		stderr.Reset()
		if runContext(countdown{t.Context(), left}, []string{"demo", dir}, &stdout, &stderr) == exitDone {
			break
		}
		if !strings.Contains(stderr.String(), "interrupted; no file is left half written") {
			t.Fatalf("at the %d-th look: %s", n, stderr.String())
		}
		if there, err := filepath.Glob(filepath.Join(parent, "*")); err != nil || len(there) > 0 {
			t.Fatalf("ended at the %d-th look: %v, %v", n, there, err)
		}
		ended++
	}
	if ended < 4 {
		t.Errorf("it was interrupted %d times only", ended)
	}
	said := stdout.String()
	t.Logf("%s\n%s", said, stderr.String())
	checkDemoFiles(t, dir)
	checkDemoFigures(t, said)
	checkDemoInReadme(t, text, dir, said)
	checkDemoPictures(t, dir, parent, kept)
	_, next, ok := strings.Cut(said, "\nTry next:\n")
	lines := strings.Split(strings.TrimSpace(next), "\n")
	if !ok || len(lines) != 3 {
		t.Fatalf("to try next: %q", next)
	}
	for _, l := range lines {
		call, ok := strings.CutPrefix(strings.TrimSpace(l), "undermetal ")
		if !ok {
			t.Errorf("no command: %s", l)
		} else if !strings.HasPrefix(call, "open ") { // which wants a terminal
			must(t, call)
		}
	}
	checkDemoAgain(t, dir)
}

// checkDemoInReadme wants the README to show what a demo in a folder has printed. Without ngspice it prints less.
func checkDemoInReadme(t *testing.T, text, dir, said string) {
	t.Helper()
	if _, err := exec.LookPath("ngspice"); err != nil {
		t.Log("ngspice is not on PATH: the README's demo is not compared")
		return
	}
	for _, c := range readmeCalls(text) {
		if c.call != "demo" {
			continue
		}
		if want := strings.ReplaceAll(c.want, demoDir, dir); strings.TrimSuffix(said, "\n") != want {
			t.Errorf("demo prints\n%s\nthe README shows\n%s", said, want)
		}
		return
	}
	t.Error("the README shows no demo")
}

// checkDemoPictures wants the README's pictures of the demo, in the folder kept, to be what a demo in dir draws; what it draws anew goes to the folder beside; with -update-readme they become it.
func checkDemoPictures(t *testing.T, dir, beside, kept string) {
	t.Helper()
	drawn := filepath.Join(beside, "demo.png")
	must(t, "shot show "+filepath.Join(dir, demoDossier)+" stripped --with metal --beside --shapes --at 20,-32 --width 90 --pixels 1000 --out "+drawn)
	for name, file := range map[string]string{"demo.png": drawn, "demo-pump.svg": filepath.Join(dir, demoPump)} {
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if *updateReadme {
			if err := os.WriteFile(filepath.Join(kept, name), got, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		if want, err := os.ReadFile(filepath.Join(kept, name)); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not what the demo draws (%v): go test ./cmd/undermetal -run TestDemo -update-readme", name, err)
		}
	}
}

// checkDemoFiles wants all files of a demo in a folder and no others.
func checkDemoFiles(t *testing.T, dir string) {
	t.Helper()
	for _, f := range append([]string{"photos/metal.png", "photos/micrometer.png", "photos/stripped.csv", "photos/pump.stripped.svg"}, demoFiles...) {
		if info, err := os.Stat(filepath.Join(dir, f)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", f, err)
		}
	}
	there, err := os.ReadDir(dir)
	if err != nil || len(there) != len(demoFiles)+1 {
		t.Errorf("%v, %v", there, err)
	}
	if got := call(t, "check", filepath.Join(dir, "kiln.dossier")); !strings.Contains(got, "sound") {
		t.Error(got)
	}
	call(t, "compare", filepath.Join(dir, "kiln.gds"), filepath.Join(dir, "kiln.sp"), "--stack", filepath.Join(dir, "kiln.stack.toml"))
	data, err := os.ReadFile(filepath.Join(dir, "kiln.html"))
	if err != nil {
		t.Fatal(err)
	}
	if other := regexp.MustCompile(`(?i)<(script|iframe|object|embed)\b|\b(src|srcset|href|xlink:href)="(?:[^d#"]|d[^a])[^"]*"|url\([^#d)][^)]*\)|@import`).FindAll(data, 3); other != nil {
		t.Errorf("the report wants more than itself: %q", other)
	}
	for _, want := range []string{"data:image/", "<svg", "transistor", "capacitor"} {
		if !bytes.Contains(bytes.ToLower(data), []byte(want)) {
			t.Errorf("the report has no %s", want)
		}
	}
	checkDemoWaveforms(t, string(data))
}

// checkDemoWaveforms wants the report of a demo to drive the pixel, and to call devices of what it drives as the netlist does.
func checkDemoWaveforms(t *testing.T, page string) {
	t.Helper()
	if _, err := exec.LookPath("ngspice"); err != nil {
		t.Log("ngspice is not on PATH: the report has no waveforms")
		return
	}
	_, driven, _ := strings.Cut(page, `<section id="waveforms">`)
	driven, list, ok := strings.Cut(driven, `<section id="netlist">`)
	if !ok || !strings.Contains(driven, "bench pixel<") || strings.Contains(driven, "bench operating<") {
		t.Error("the report does not drive the pixel, or says what an operating point without drivers is")
	}
	named := regexp.MustCompile(`[nN]mos (M\d+) at (-?[\d.]+, -?[\d.]+) µm`).FindAllStringSubmatch(driven, -1)
	if len(named) < 3 {
		t.Errorf("devices that are driven: %q", named)
	}
	for _, m := range named {
		if !regexp.MustCompile(`(?m)^` + m[1] + ` .*(\n&#43; .*)?; at ` + regexp.QuoteMeta(m[2]) + ` um`).MatchString(list) {
			t.Errorf("%s at %s is another device in the netlist", m[1], m[2])
		}
	}
}

// checkDemoFigures holds what a demo says of itself. The bounds are those of checkKilnSizes: there are 25 lengths of W and 25 of L, each off
// by 57 nm as a hand is, up to 3.5 of these. Their mean square is 1 ± 1.25·√(2/25) = 1 ± 0.35 of its square: at three of that the rms is
// 1.44 times 57 nm.
func checkDemoFigures(t *testing.T, said string) {
	t.Helper()
	if !strings.Contains(said, "\n  1149 of 1149 devices found; 1149 were extracted\n") { // 1149: TestKilnDrawing adds it up
		t.Error("not all devices were found")
	}
	errors := regexp.MustCompile(`(?m)^  ([WL]) of 25 transistors that were traced: off by (\d+) nm rms, (\d+) nm at most; ([\d.]+) σ rms, ([\d.]+) σ at most`).FindAllStringSubmatch(said, -1)
	if len(errors) != 2 {
		t.Fatalf("errors: %q", errors)
	}
	for _, e := range errors {
		for i, most := range []float64{57 * 1.44, 57 * 3.5, 1.44, 3.5} {
			if v, err := strconv.ParseFloat(e[i+2], 64); err != nil || v > most || v < most/10 {
				t.Errorf("%s: figure %d is %s, at most %g", e[1], i+1, e[i+2], most)
			}
		}
	}
	answered := regexp.MustCompile(`(?m)^  (\d+) questions? answered by the evidence, (\d+) of them right; \d+ left open$`).FindStringSubmatch(said)
	if answered == nil || answered[1] != answered[2] || answered[1] == "0" {
		t.Errorf("answers: %q", answered)
	}
	for _, want := range []string{ // 144 µm × 240 µm, 144 × 8 and 22 × 240, by the members of kiln.Columns and kiln.Rows
		"\n  pixel array     seen      34560 µm²,", "240 × three-transistor active pixel\n", "\n  column loads    seen      1152 µm²,", "12 × current-source load of a column\n",
		"\n  row driver      seen      5280 µm²,", "\n  charge pump     seen ", "\n  output switch   supposed  ", "\n  row address     supposed  no region\n", "in no diagram: squares of poly\n"} {
		if !strings.Contains(said, want) {
			t.Errorf("the block map does not say %q", want)
		}
	}
	for _, want := range []string{"reservoir ", "output switch ", "array of 20 rows × 12 columns: three-transistor active pixel, 240 members, none odd", "Dickson"} {
		if !strings.Contains(said, want) {
			t.Errorf("nothing is said of %s", want)
		}
	}
}

// checkDemoAgain: a second demo overwrites nothing, and an interrupted one with --force neither.
func checkDemoAgain(t *testing.T, dir string) {
	t.Helper()
	contents := func() map[string]string {
		all := map[string]string{}
		for _, f := range demoFiles {
			data, err := os.ReadFile(filepath.Join(dir, f))
			if err != nil {
				t.Fatal(err)
			}
			all[f] = string(data)
		}
		return all
	}
	before := contents()
	var out bytes.Buffer
	if status := run([]string{"demo", dir}, &out, &out); status != exitFailed || !strings.Contains(out.String(), "is there already") {
		t.Errorf("a second demo: %d\n%s", status, out.String())
	}
	left := new(atomic.Int64)
	left.Store(400)
	if status := runContext(countdown{t.Context(), left}, []string{"demo", dir, "--force"}, &out, &out); status != exitFailed {
		t.Errorf("it was not interrupted: %s", out.String())
	}
	for f, data := range contents() {
		if data != before[f] {
			t.Errorf("%s is another file after an interrupted demo", f)
		}
	}
	if there, err := os.ReadDir(dir); err != nil || len(there) != len(demoFiles)+1 {
		t.Errorf("%v, %v", there, err)
	}
}

// TestOwnCall: what go run has built is called by go run again (its paths are those that go run prints with -x).
func TestOwnCall(t *testing.T) {
	for exe, want := range map[string]string{"/tmp/go-build3827319290/b001/exe/undermetal": "go run ./cmd/undermetal", "/home/me/go/bin/undermetal": "undermetal",
		"/tmp/go-build3827319290/b001/undermetal.test": "undermetal", "/opt/exe/undermetal": "undermetal", "": "undermetal"} {
		if got := ownCall(exe); got != want {
			t.Errorf("%s is called as %s", exe, got)
		}
	}
}

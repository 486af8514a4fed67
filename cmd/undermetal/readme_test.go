package main

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var updateReadme = flag.Bool("update-readme", false, "put what the commands print into the README")

// readmeCall is a command that the README shows, without its first word, and what it says that is printed.
type readmeCall struct{ call, want string }

// readmeCalls returns the commands of a part of the README that are shown with their output.
func readmeCalls(text string) (calls []readmeCall) {
	for _, block := range strings.Split(text, "```console\n")[1:] {
		block, _, _ = strings.Cut(block, "```")
		for _, part := range strings.Split("\n"+block, "\n$ undermetal ")[1:] {
			call, want, _ := strings.Cut(part, "\n")
			calls = append(calls, readmeCall{call, strings.TrimSuffix(want, "\n")})
		}
	}
	return calls
}

// readmeInOrder returns all commands of the README that are shown with their output, in an order in which they work: those of the uses, which
// come early and are short, stand upon what the sections after them make.
func readmeInOrder(text string) []readmeCall {
	before, uses, _ := strings.Cut(text, "\n## Three uses\n")
	uses, after, _ := strings.Cut(uses, "\n## ")
	return slices.Concat(readmeCalls(before), readmeCalls(after), readmeCalls(uses))
}

// run runs the command, which must succeed, and returns what it prints.
func (c readmeCall) run(t *testing.T) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields(os.ExpandEnv(c.call)), &stdout, &stderr); status != exitDone {
		t.Errorf("%s: exit status %d\n%s", c.call, status, stderr.String())
	}
	return strings.TrimSuffix(stdout.String(), "\n")
}

// runIn does the same in a folder and a process of its own, beside other tests.
func (c readmeCall) runIn(t *testing.T, dir string) {
	t.Helper()
	cmd := exec.Command("undermetal", strings.Fields(os.ExpandEnv(c.call))...)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Errorf("%s: %v\n%s", c.call, err, out)
	}
}

func readme(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// clone makes a folder that has what the README's commands find in a clone.
func clone(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "testdata", "pixel"), os.DirFS(pixelDir)); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "testdata", "ambiguous"), os.DirFS(ambiguousDir)); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, readmeDir), os.DirFS("../../"+readmeDir)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// asInClone goes into one.
func asInClone(t *testing.T) {
	t.Helper()
	t.Chdir(clone(t))
}

// readmeDir holds what the README draws from, and its pictures.
const readmeDir = "testdata/readme"

// comparePictures wants the pictures of the README that its commands have just drawn, in the folder where they were run, as they are kept.
func comparePictures(t *testing.T, kept string, made map[string]bool) {
	t.Helper()
	for _, name := range slices.Sorted(maps.Keys(made)) {
		got, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(kept, filepath.Base(name))
		if want, err := os.ReadFile(file); err == nil && bytes.Equal(got, want) {
			continue
		}
		if !*updateReadme {
			t.Errorf("%s is not what its command draws: go test ./cmd/undermetal -run TestReadme -update-readme", name)
			continue
		}
		if err := os.WriteFile(file, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// TestReadme runs every command that the README shows with its output, and compares. What needs the corpus is left out,
// loudly, where that is not there. With -update-readme the README gets what is printed.
func TestReadme(t *testing.T) {
	text := readme(t)
	file, err := filepath.Abs("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	kept := filepath.Join(filepath.Dir(file), readmeDir)
	asInClone(t)
	calls, made := readmeInOrder(text), map[string]bool{}
	if len(calls) == 0 {
		t.Error("the README shows no output")
	}
	_, err = exec.LookPath("ngspice")
	ngspice := err == nil
	for _, c := range calls {
		if strings.Contains(c.call, "$UNDERMETAL_CORPUS") && os.Getenv("UNDERMETAL_CORPUS") == "" {
			t.Logf("UNDERMETAL_CORPUS is not set: not run: %s", c.call)
			continue
		}
		if !ngspice && strings.HasPrefix(c.call, "simulate ") {
			if os.Getenv("CI") != "" {
				t.Fatal("ngspice is not on PATH, and CI is set")
			}
			t.Logf("ngspice is not on PATH: not run: %s", c.call)
			continue
		}
		if c.call == "demo" && (!*updateReadme || !ngspice) { // TestDemo runs it, and compares; here only the drawing is needed
			drawnKiln(t, demoDir)
			continue
		}
		got := c.run(t)
		if _, out, ok := strings.Cut(c.call, "--out "+readmeDir+"/"); ok {
			made[filepath.Join(readmeDir, strings.Fields(out)[0])] = true
		}
		if got == os.ExpandEnv(c.want) {
			continue
		}
		if !*updateReadme {
			t.Errorf("%s prints\n%s\nthe README shows\n%s", c.call, got, c.want)
			continue
		}
		if corpus := os.Getenv("UNDERMETAL_CORPUS"); corpus != "" {
			got = strings.ReplaceAll(got, corpus, "$UNDERMETAL_CORPUS")
		}
		shown := "$ undermetal " + c.call + "\n"
		head, tail, _ := strings.Cut(text, shown+c.want)
		text = head + shown + got + "\n" + strings.TrimPrefix(tail, "\n")
	}
	if ngspice {
		checkBench(t, text)
	}
	checkPictures(t, filepath.Dir(file))
	comparePictures(t, kept, made)
	for _, part := range strings.Split(text, "]("+readmeDir+"/")[1:] {
		name, _, _ := strings.Cut(part, ")")
		if _, err := os.Stat(filepath.Join(kept, name)); err != nil {
			t.Errorf("the README shows %s, which is not there", name)
		}
	}
	if *updateReadme {
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// checkBench runs the reader's own bench of the third use on the pixel's netlist. The column falls with the photodiode: 0.5 pA in 10 ms
// on some 9.8 fF (q over the conversion gain of 16.3 µV that the README has), and 0.85 of that behind the follower, is 0.43 V.
func checkBench(t *testing.T, text string) {
	t.Helper()
	_, bench, _ := strings.Cut(text, "```spice\n* The pixel in a bench of my own\n")
	bench, _, ok := strings.Cut(bench, "```\n")
	if !ok {
		t.Fatal("the README has no bench")
	}
	readmeCall{call: "extract pixel.dossier --spice pixel.sp --preset nearest"}.run(t)
	if err := os.WriteFile("mine.sp", []byte("* The pixel in a bench of my own\n"+bench), 0o666); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("ngspice", "-b", "mine.sp").CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	var v [2]float64
	for i, name := range []string{"early", "late"} {
		found := regexp.MustCompile(`(?m)^` + name + ` *= *(\S+)`).FindSubmatch(out)
		if found == nil {
			t.Fatalf("no %s in\n%s", name, out)
		}
		if v[i], err = strconv.ParseFloat(string(found[1]), 64); err != nil {
			t.Fatal(err)
		}
	}
	if fall := v[0] - v[1]; fall < 0.9*0.43 || fall > 1.1*0.43 {
		t.Errorf("the column falls by %.3f V, not by 0.43", fall)
	}
}

// checkPictures holds pictures that the README shows, and that its commands have drawn here, against those in testdata/readme.
func checkPictures(t *testing.T, root string) {
	t.Helper()
	shown, err := filepath.Glob(filepath.Join(root, "testdata", "readme", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range shown {
		got, err := os.ReadFile(filepath.Base(name))
		if err != nil {
			continue // other tests draw it
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Equal(got, want) {
			continue
		}
		if *updateReadme {
			if err := os.WriteFile(name, got, 0o666); err != nil {
				t.Fatal(err)
			}
			continue
		}
		if what := otherPicture(string(got), string(want)); what != "" {
			t.Errorf("%s is not what the README's command draws: %s\n    go test ./cmd/undermetal -run TestReadme -update-readme", name, what)
		}
	}
}

var (
	svgText = regexp.MustCompile(`>([^<>]+)</text>`)
	svgPath = regexp.MustCompile(` d="([^"]*)"`)
	svgPair = regexp.MustCompile(`(-?[0-9.]+),(-?[0-9.]+)`)
)

// otherPicture says in what two SVG plots differ, by their texts, and by the boxes of their lines to a unit: other versions of a
// simulator take other steps along the same curve.
func otherPicture(a, b string) string {
	if x, y := svgText.FindAllString(a, -1), svgText.FindAllString(b, -1); !slices.Equal(x, y) {
		return fmt.Sprintf("texts %q and %q", x, y)
	}
	x, y := svgBoxes(a), svgBoxes(b)
	if len(x) != len(y) {
		return fmt.Sprintf("%d and %d lines", len(x), len(y))
	}
	for i := range x {
		for k := range x[i] {
			if math.Abs(x[i][k]-y[i][k]) > 1 {
				return fmt.Sprintf("line %d within %v and %v", i+1, x[i], y[i])
			}
		}
	}
	return ""
}

func svgBoxes(s string) (boxes [][4]float64) {
	for _, m := range svgPath.FindAllStringSubmatch(s, -1) {
		box := [4]float64{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
		for _, p := range svgPair.FindAllStringSubmatch(m[1], -1) {
			x, _ := strconv.ParseFloat(p[1], 64)
			y, _ := strconv.ParseFloat(p[2], 64)
			box = [4]float64{min(box[0], x), min(box[1], y), max(box[2], x), max(box[3], y)}
		}
		boxes = append(boxes, box)
	}
	return boxes
}

func TestOtherPicture(t *testing.T) {
	const a = `<path d="M0,0L10,5.5"/><text x="1">one</text>`
	for b, same := range map[string]bool{a: true, `<path d="M0,0L5,2.7L10,5.6"/><text x="1">one</text>`: true, `<path d="M0,0L10,8"/><text x="1">one</text>`: false,
		`<path d="M0,0L10,5.5"/><text x="1">two</text>`: false, `<path d="M0,0L10,5.5"/><path d="M0,0L10,5.5"/><text x="1">one</text>`: false} {
		if (otherPicture(a, b) == "") != same {
			t.Errorf("%s: %s", b, otherPicture(a, b))
		}
	}
}

func TestExitStatus(t *testing.T) {
	for call, want := range map[string]int{"version": exitDone, "": exitDone, "nonsense": exitUsage, "extract": exitUsage, "extract a b": exitUsage,
		"extract --nonsense a": exitUsage, "extract missing.gds --stack cmos-1p1m": exitFailed, "compare missing.sp missing.sp": exitFailed} {
		var out bytes.Buffer
		if got := run(strings.Fields(call), &out, &out); got != want {
			t.Errorf("undermetal %s: exit status %d, want %d\n%s", call, got, want, out.String())
		}
	}
}

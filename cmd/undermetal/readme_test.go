package main

import (
	"bytes"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"slices"
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

// run runs the command, which must succeed, and returns what it prints.
func (c readmeCall) run(t *testing.T) string {
	t.Helper()
	var stdout, stderr bytes.Buffer
	if status := run(strings.Fields(os.ExpandEnv(c.call)), &stdout, &stderr); status != exitDone {
		t.Errorf("%s: exit status %d\n%s", c.call, status, stderr.String())
	}
	return strings.TrimSuffix(stdout.String(), "\n")
}

func readme(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// asInClone goes into a folder of its own that has what the README's commands find in a clone.
func asInClone(t *testing.T) {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(filepath.Join(dir, "testdata", "pixel"), os.DirFS(pixelDir)); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "testdata", "ambiguous"), os.DirFS(ambiguousDir)); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, readmeDir), os.DirFS("../../"+readmeDir)); err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
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
	calls, made := readmeCalls(text), map[string]bool{}
	if len(calls) == 0 {
		t.Error("the README shows no output")
	}
	for _, c := range calls {
		if strings.Contains(c.call, "$UNDERMETAL_CORPUS") && os.Getenv("UNDERMETAL_CORPUS") == "" {
			t.Logf("UNDERMETAL_CORPUS is not set: not run: %s", c.call)
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

func TestExitStatus(t *testing.T) {
	for call, want := range map[string]int{"version": exitDone, "": exitDone, "nonsense": exitUsage, "extract": exitUsage, "extract a b": exitUsage,
		"extract --nonsense a": exitUsage, "extract missing.gds --stack cmos-1p1m": exitFailed, "compare missing.sp missing.sp": exitFailed} {
		var out bytes.Buffer
		if got := run(strings.Fields(call), &out, &out); got != want {
			t.Errorf("undermetal %s: exit status %d, want %d\n%s", call, got, want, out.String())
		}
	}
}

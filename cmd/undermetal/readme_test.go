package main

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// TestReadme runs every command that the README shows with its output, and compares. What needs the corpus is left out,
// loudly, where that is not there.
func TestReadme(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(t.TempDir())
	ran := 0
	for _, block := range strings.Split(string(text), "```console\n")[1:] {
		block, _, _ = strings.Cut(block, "```")
		for _, part := range strings.Split("\n"+block, "\n$ undermetal ")[1:] {
			call, want, _ := strings.Cut(part, "\n")
			want = os.ExpandEnv(want)
			if strings.Contains(call, "$UNDERMETAL_CORPUS") && os.Getenv("UNDERMETAL_CORPUS") == "" {
				t.Logf("UNDERMETAL_CORPUS is not set: not run: %s", call)
				continue
			}
			var stdout, stderr bytes.Buffer
			if status := run(strings.Fields(os.ExpandEnv(call)), &stdout, &stderr); status != exitDone {
				t.Errorf("%s: exit status %d\n%s", call, status, stderr.String())
			}
			if got := strings.TrimSuffix(stdout.String(), "\n"); got != strings.TrimSuffix(want, "\n") {
				t.Errorf("%s prints\n%s\nthe README shows\n%s", call, got, want)
			}
			ran++
		}
	}
	if ran == 0 {
		t.Error("the README shows no output")
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

package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"undermetal/spice/simulate/simulatetest"
)

// TestSimulateWithoutSimulator: an empty PATH leaves all but the run.
func TestSimulateWithoutSimulator(t *testing.T) {
	t.Chdir(t.TempDir())
	write(t, "inv.sp", "* an inverter\n.subckt inv A Y VDD VSS\nMN Y A VSS VSS nfet W=2u L=1u\nMP Y A VDD VDD pfet W=4u L=1u\n.ends\n")
	t.Setenv("PATH", t.TempDir())
	var stdout, stderr bytes.Buffer
	if status := run([]string{"simulate", "inv.sp"}, &stdout, &stderr); status != exitFailed || stdout.Len() > 0 ||
		!strings.Contains(stderr.String(), "ngspice is not on PATH") || !strings.Contains(stderr.String(), "brew install ngspice") {
		t.Errorf("status %d\n%s%s", status, stdout.String(), stderr.String())
	}
	stderr.Reset()
	if status := run([]string{"simulate", "inv.sp", "--deck", "out.sp"}, &stdout, &stderr); status != exitDone {
		t.Errorf("status %d\n%s", status, stderr.String())
	}
	if text, err := os.ReadFile("out.sp"); err != nil || !bytes.Contains(text, []byte("\n.control\n")) {
		t.Errorf("%v\n%s", err, text)
	}
}

func write(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

// TestSimulateInterrupted: Ctrl-C ends the simulator, and leaves no file.
func TestSimulateInterrupted(t *testing.T) {
	simulatetest.Path(t)
	t.Chdir(t.TempDir())
	text := "* a ring\n.subckt ring OUT VDD VSS\n"
	for i, s := range []string{"OUT a", "a b", "b OUT"} { // 1 nF: 60 slow periods, 12,000 steps
		in, out, _ := strings.Cut(s, " ")
		n := string(rune('1' + i))
		text += "MN" + n + " " + out + " " + in + " VSS VSS nfet W=2u L=1u\nMP" + n + " " + out + " " + in + " VDD VDD pfet W=4u L=1u\nC" + n + " " + out + " VSS 1n\n"
	}
	write(t, "ring.sp", text+".ends\n")
	private := t.TempDir()
	t.Setenv("TMPDIR", private)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go func() { // as soon as there is a deck to run
		for ctx.Err() == nil {
			if decks, _ := filepath.Glob(filepath.Join(private, "*", "*")); len(decks) > 0 {
				cancel()
			}
			time.Sleep(time.Millisecond)
		}
	}()
	var stdout, stderr bytes.Buffer
	status := runContext(ctx, []string{"simulate", "ring.sp", "--bench", "oscillator", "--plot", "out.svg"}, &stdout, &stderr)
	if status != exitFailed || !strings.Contains(stderr.String(), "interrupted") || stdout.Len() > 0 {
		t.Errorf("status %d\n%s%s", status, stdout.String(), stderr.String())
	}
	files, err := os.ReadDir(".")
	if err != nil || len(files) != 1 {
		t.Errorf("%d files, %v", len(files), err)
	}
	if left, err := os.ReadDir(private); err != nil || len(left) > 0 {
		t.Errorf("left there: %v, %v", left, err)
	}
}

package main

import (
	"bytes"
	"context"
	"os"
	"strings"
	"sync/atomic"
	"testing"
)

// TestInterruptedRecognition: at whichever look at the context recognition is interrupted (within a search: TestCancel of its package), it says so, prints nothing, leaves the old file as it was and nothing
// beside it; the same call then tells what it should.
func TestInterruptedRecognition(t *testing.T) {
	t.Chdir(t.TempDir())
	pixel := ".subckt top vdd vss rst row col\nM1 vdd rst pd vss nmos W=1u L=1u\nM2 vdd pd x vss nmos W=1u L=1u\nM3 x row col vss nmos W=1u L=1u\nM4 y row vss vss nmos W=1u L=1u\n.ends\n"
	for name, text := range map[string]string{"pixel.sp": pixel, "out.json": "old"} {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	call := func(looks int64) (status int, printed, said string, left int64) {
		ctx := countdown{t.Context(), new(atomic.Int64)}
		ctx.left.Store(looks)
		var stdout, stderr bytes.Buffer
		status = runContext(context.Context(ctx), strings.Fields("recognise pixel.sp --json=out.json"), &stdout, &stderr)
		return status, stdout.String(), stderr.String(), ctx.left.Load()
	}
	const many = 1 << 40
	_, _, _, left := call(many)
	whole, err := os.ReadFile("out.json")
	if err != nil || !strings.Contains(string(whole), "pixel_3t") {
		t.Fatalf("%v: %s", err, whole)
	}
	looks := many - left
	if looks < 3 {
		t.Fatalf("the context was looked at %d times", looks)
	}
	for at := range looks {
		if err := os.WriteFile("out.json", []byte("old"), 0o600); err != nil {
			t.Fatal(err)
		}
		status, printed, said, _ := call(at)
		if status != exitFailed || printed != "" || !strings.Contains(said, "interrupted") {
			t.Errorf("at look %d of %d: exit status %d, printed %q, said %q", at, looks, status, printed, said)
		}
		files, _ := os.ReadDir(".")
		if now, err := os.ReadFile("out.json"); string(now) != "old" || err != nil || len(files) != 2 {
			t.Errorf("at look %d of %d: out.json holds %.40q, %v; the folder has %v", at, looks, now, err, files)
		}
	}
	if status, _, said, _ := call(many); status != 0 {
		t.Errorf("afterwards: %d, %s", status, said)
	}
	if again, _ := os.ReadFile("out.json"); !bytes.Equal(again, whole) {
		t.Error("afterwards it tells something else")
	}
}

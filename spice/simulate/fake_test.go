//go:build unix

package simulate_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"undermetal/spice/simulate"
)

// TestMain lets this very program be a simulator: called by a link whose name begins with fake-, it behaves as the rest of
// the name says. What it has to tell goes into the folder of the link.
func TestMain(m *testing.M) {
	if kind, ok := strings.CutPrefix(filepath.Base(os.Args[0]), "fake-"); ok {
		fakes[kind]()
		os.Exit(0)
	}
	os.Exit(m.Run())
}

const goodRaw = goodRawText

var fakes map[string]func()

func init() {
	fakes = map[string]func(){
		"good":    func() { put("op.raw", goodRaw); fmt.Println("ngspice-77.1 done") },
		"silent":  func() {},
		"hang":    func() { tell("leader", strconv.Itoa(os.Getpid())); note(); child("child"); time.Sleep(time.Hour) },
		"child":   func() { note(); signal.Ignore(syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP); time.Sleep(time.Hour) },
		"deaf":    func() { fakes["child"]() },
		"leaves":  func() { note(); child("child"); put("op.raw", goodRaw) }, // ends, its child does not
		"crash":   func() { put("op.raw", goodRaw); _ = syscall.Kill(os.Getpid(), syscall.SIGSEGV); select {} },
		"status":  func() { put("op.raw", goodRaw); os.Exit(3) },
		"prints":  func() { note(); endless(os.Stdout, "all is well\n") },
		"oneline": func() { note(); endless(os.Stderr, "all is well ") },
		"errors":  func() { put("op.raw", goodRaw); manyErrors() },
		"endless": func() { note(); endless(create("op.raw"), strings.Repeat("x", 1000)) },
		"elsewhere": func() { // beside the private folder's top: below it, at home, among temporary files
			_ = os.MkdirAll("deep/er", 0o700)
			put("deep/er/file", "x")
			put(os.Getenv("HOME")+"/.history", "x")
			put(os.TempDir()+"/tmp", "x")
			put("op.raw", goodRaw)
		},
		"curious": func() { // what it can see
			in, _ := io.ReadAll(os.Stdin)
			tell("seen", strings.Join(os.Environ(), "\n")+"\nstdin="+string(in)+"\nargs="+strings.Join(os.Args[1:], " "))
			put("op.raw", goodRaw)
		},
		"abortsquietly": func() { put("op.raw", goodRaw); fmt.Println("op simulation(s) aborted") },
		"nan":           func() { put("op.raw", strings.Replace(goodRaw, "2.5", "-nan", 1)) },
		"nopoints":      func() { put("op.raw", strings.Replace(goodRaw, "Points: 1", "Points: 0", 1)) },
		"cut":           func() { put("op.raw", strings.Replace(goodRaw, "Points: 1", "Points: 2", 1)) },
		"othername":     func() { put("op.raw", strings.Replace(goodRaw, "v(a)", "v(b)", 1)) },
		"otherkind":     func() { put("op.raw", strings.Replace(goodRaw, "Operating Point", "Transient Analysis", 1)) },
		"twoplots":      func() { put("op.raw", goodRaw+goodRaw) },
		"link":          func() { put("x", goodRaw); _ = os.Symlink("x", "op.raw") },
		"parent": func() { // a program that simulates with a simulator that does not listen
			note()
			r := simulate.Runner{Program: filepath.Join(filepath.Dir(os.Args[0]), "fake-deaf")}
			_, _ = r.Run(context.Background(), deck())
		},
	}
}

func put(name, text string) { _ = os.WriteFile(name, []byte(text), 0o600) }

func create(name string) *os.File { f, _ := os.Create(name); return f }

func tell(name, text string) { put(filepath.Join(filepath.Dir(os.Args[0]), name), text) }

// note tells the number of this process.
func note() { tell("pid."+strconv.Itoa(os.Getpid()), "") }

// child starts another one, and waits until it runs.
func child(kind string) {
	self, _ := os.Executable()
	link := filepath.Join(filepath.Dir(os.Args[0]), "fake-"+kind)
	_ = os.Symlink(self, link)
	cmd := exec.Command(link)
	cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr // it holds the outputs open
	_ = cmd.Start()
	for {
		if _, err := os.Stat(filepath.Join(filepath.Dir(link), "pid."+strconv.Itoa(cmd.Process.Pid))); err == nil {
			return
		}
		time.Sleep(time.Millisecond)
	}
}

func endless(w io.Writer, text string) {
	b := bytes.Repeat([]byte(text), 1<<20/len(text))
	for {
		if _, err := w.Write(b); err != nil {
			time.Sleep(time.Hour)
		}
	}
}

func manyErrors() {
	for i := range 20000 {
		fmt.Printf("Warning: number %d\n", i)
	}
	fmt.Println("Error: the one that counts")
}

func deck() *simulate.Deck {
	return &simulate.Deck{Body: "v1 a 0 1", Analyses: []simulate.Analysis{{Name: "op", Command: "op", Save: []string{"v(a)"}}}}
}

// fake links this program as a simulator of that kind, in a folder of its own; temporary files go into another one,
// which must be empty in the end, and no process that made itself known may be left.
func fake(t *testing.T, kind string) (program string) {
	t.Helper()
	if fakes[kind] == nil {
		t.Fatal(kind)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir, temp := t.TempDir(), t.TempDir()
	t.Setenv("TMPDIR", temp)
	program = filepath.Join(dir, "fake-"+kind)
	for _, name := range []string{program, filepath.Join(dir, "fake-deaf")} {
		if err := os.Symlink(self, name); err != nil && !errors.Is(err, os.ErrExist) {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() {
		left, err := os.ReadDir(temp)
		if err != nil || len(left) > 0 && kind != "parent" {
			t.Errorf("left behind: %v, %v", left, err)
		}
		for _, pid := range noted(t, dir) {
			end := time.Now().Add(10 * time.Second)
			for alive(pid) {
				if time.Now().After(end) {
					t.Errorf("process %d still runs", pid)
					_ = syscall.Kill(pid, syscall.SIGKILL)
					break
				}
				time.Sleep(10 * time.Millisecond)
			}
		}
	})
	return program
}

func noted(t *testing.T, dir string) (pids []int) {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join(dir, "pid.*"))
	for _, f := range files {
		pid, err := strconv.Atoi(filepath.Ext(f)[1:])
		if err != nil {
			t.Fatal(err)
		}
		pids = append(pids, pid)
	}
	return pids
}

// alive says whether a process runs; one that is dead and only waits to be noticed does not.
func alive(pid int) bool {
	if syscall.Kill(pid, 0) != nil {
		return false
	}
	stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return !errors.Is(err, os.ErrNotExist)
	}
	_, state, _ := strings.Cut(string(stat), ") ")
	return !strings.HasPrefix(state, "Z") && !strings.HasPrefix(state, "X")
}

// untilNoted waits for n processes to make themselves known.
func untilNoted(t *testing.T, dir string, n int) {
	t.Helper()
	end := time.Now().Add(60 * time.Second)
	for len(noted(t, dir)) < n {
		if time.Now().After(end) {
			t.Fatal("the simulator did not start")
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// TestSimulators: whatever a simulator does, there is a clear error, no stray process and no stray file.
func TestSimulators(t *testing.T) {
	for _, tc := range []struct {
		kind string
		want error
		says string
	}{
		{"good", nil, ""},
		{"elsewhere", nil, ""},
		{"leaves", nil, ""},
		{"silent", simulate.ErrFailed, "wrote nothing"},
		{"crash", simulate.ErrFailed, "segmentation"},
		{"status", simulate.ErrFailed, "status 3"},
		{"hang", simulate.ErrTime, "after 1s; give it longer"},
		{"deaf", simulate.ErrTime, "after 1s"},
		{"prints", simulate.ErrSize, "more than 4 MB"},
		{"oneline", simulate.ErrSize, "more than 4 MB"},
		{"endless", simulate.ErrSize, "more than 4 MB"},
		{"errors", simulate.ErrFailed, "the one that counts"},
		{"abortsquietly", simulate.ErrFailed, "aborted"},
		{"nan", simulate.ErrFailed, "v(a) has a value that is no number"},
		{"nopoints", simulate.ErrFailed, "no points"},
		{"cut", simulate.ErrFailed, "point 2 of 2: the file ends"},
		{"othername", simulate.ErrFailed, "gave no v(a)"},
		{"otherkind", simulate.ErrFailed, "Transient Analysis"},
		{"twoplots", simulate.ErrFailed, "2 plots"},
		{"link", simulate.ErrFailed, "is no file"},
	} {
		t.Run(tc.kind, func(t *testing.T) {
			r := simulate.Runner{Program: fake(t, tc.kind), MaxBytes: 4 << 20}
			switch tc.want {
			case simulate.ErrTime:
				r.Limit = time.Second
			}
			got, err := r.Run(context.Background(), deck())
			if !errors.Is(err, tc.want) || err != nil && !strings.Contains(err.Error(), tc.says) {
				t.Fatalf("error %v, want %v with %q", err, tc.want, tc.says)
			}
			if got == nil || tc.want == nil && got.Plot("op").Vector("v(a)").Re[0] != 2.5 {
				t.Fatalf("result %+v", got)
			}
			if tc.kind == "good" && got.Simulator != "ngspice 77.1" {
				t.Errorf("simulator %q", got.Simulator)
			}
			if len(got.Complaints) > 100 {
				t.Errorf("%d complaints", len(got.Complaints))
			}
		})
	}
}

// TestCurious: the simulator gets no input, no SPICE variable and no home of the user's.
func TestCurious(t *testing.T) {
	program := fake(t, "curious")
	t.Setenv("SPICE_SCRIPTS", "/somewhere")
	t.Setenv("SPICE_LIB_DIR", "/somewhere")
	t.Setenv("HOME", "/users/home")
	t.Setenv("SECRET", "secret")
	if _, err := (&simulate.Runner{Program: program}).Run(context.Background(), deck()); err != nil {
		t.Fatal(err)
	}
	seen, err := os.ReadFile(filepath.Join(filepath.Dir(program), "seen"))
	if err != nil {
		t.Fatal(err)
	}
	for _, no := range []string{"SPICE", "/users/home", "secret"} {
		if strings.Contains(string(seen), no) {
			t.Errorf("it sees %s:\n%s", no, seen)
		}
	}
	if !strings.HasSuffix(string(seen), "\nstdin=\nargs=-n -b deck.sp") || !strings.Contains(string(seen), "HOME="+os.Getenv("TMPDIR")) {
		t.Errorf("it sees\n%s", seen)
	}
}

// TestCancel: Ctrl-C, as the command passes it on, ends simulator and child at once.
func TestCancel(t *testing.T) {
	program := fake(t, "hang")
	ctx, cancel := context.WithCancelCause(context.Background())
	why := errors.New("interrupted")
	go func() {
		untilNoted(t, filepath.Dir(program), 2)
		cancel(why)
	}()
	got, err := (&simulate.Runner{Program: program}).Run(ctx, deck())
	if !errors.Is(err, why) || got == nil {
		t.Fatalf("error %v, result %v", err, got)
	}
	if _, err := (&simulate.Runner{Program: program}).Run(ctx, deck()); !errors.Is(err, why) {
		t.Errorf("already cancelled: %v", err)
	}
}

// TestPanic: a panic of the caller's passes through, and leaves nothing.
func TestPanic(t *testing.T) {
	program := fake(t, "hang")
	r := simulate.Runner{Program: program, Progress: func(float64, string) {
		untilNoted(t, filepath.Dir(program), 2)
		panic("mine")
	}}
	defer func() {
		if got := recover(); got != "mine" {
			t.Errorf("recovered %v", got)
		}
		leader, err := os.ReadFile(filepath.Join(filepath.Dir(program), "leader"))
		if err != nil {
			t.Fatal(err)
		}
		if pid, err := strconv.Atoi(string(leader)); err != nil || alive(pid) { // at once, not some time later
			t.Errorf("process %d still runs when the panic comes out", pid)
		}
	}()
	_, _ = r.Run(context.Background(), deck())
	t.Error("no panic")
}

// TestKilled: where the system can do that (Linux), a simulator does not outlive a program that is killed. The folder does.
func TestKilled(t *testing.T) {
	if _, err := os.Stat("/proc/self/stat"); err != nil {
		t.Skip("only Linux ends a child with its parent")
	}
	program := fake(t, "parent")
	cmd := exec.Command(program)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Dir(program)
	untilNoted(t, dir, 2) // parent and simulator
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait()
}

// TestMissing: the error says how to install a simulator.
func TestMissing(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	for _, program := range []string{"", "no-such-simulator", "/no/such/simulator", t.TempDir()} {
		_, err := (&simulate.Runner{Program: program}).Run(context.Background(), deck())
		if !errors.Is(err, simulate.ErrMissing) {
			t.Fatalf("%q: %v", program, err)
		}
		for _, want := range []string{"apt install ngspice", "brew install", "dnf install"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%q: %q does not say %q", program, err, want)
			}
		}
	}
	path := filepath.Join(os.Getenv("PATH"), "ngspice")
	if err := os.WriteFile(path, []byte("no program"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := new(simulate.Runner).Run(context.Background(), deck()); !errors.Is(err, simulate.ErrMissing) {
		t.Errorf("a file that is no program: %v", err)
	}
}

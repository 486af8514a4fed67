package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/netlist/extract"
	"undermetal/spice"
)

// corpus returns the folder of published layouts, or skips.
func corpus(t testing.TB) string {
	root := os.Getenv("UNDERMETAL_CORPUS")
	if root == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: the published layouts are not here to check against")
	}
	return root
}

// published is a cell with its published netlist.
type published struct {
	name   string
	result *extract.Result
	want   *netlist.Circuit
}

func mustStack(t testing.TB, name string) *stack.Stack {
	st, err := stack.Load(name)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

func readLibrary(t testing.TB, name string, st *stack.Stack) *layout.Library {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(name, f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	return lib
}

func readNetlist(t testing.TB, name string) *netlist.Design {
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := spice.Read(name, f, spice.ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func extractCell(t testing.TB, lib *layout.Library, name string, st *stack.Stack, d *netlist.Design) published {
	c := lib.Cell(name)
	if c == nil {
		t.Fatalf("no cell %s", name)
	}
	res, err := extract.Run(context.Background(), lib, c, st, extract.Options{})
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	want := d.Circuit(name)
	if want == nil {
		t.Fatalf("no netlist of %s", name)
	}
	flat, err := netlist.Flatten(d, want)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return published{name, res, flat}
}

// cells calls f for each of the 229 + 84 published cells.
func cells(t testing.TB, f func(p published)) {
	root := corpus(t)
	st := mustStack(t, filepath.Join(root, "gf180mcu/gf180mcu.stack.toml"))
	files, _ := filepath.Glob(filepath.Join(root, "gf180mcu/*.gds"))
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".gds")
		f(extractCell(t, readLibrary(t, file, st), name, st, readNetlist(t, strings.TrimSuffix(file, ".gds")+".cdl")))
	}
	st = mustStack(t, filepath.Join(root, "ihp-sg13g2/ihp-sg13g2.stack.toml"))
	lib := readLibrary(t, filepath.Join(root, "ihp-sg13g2/sg13g2_stdcell.gds"), st)
	d := readNetlist(t, filepath.Join(root, "ihp-sg13g2/sg13g2_stdcell.cdl"))
	for _, c := range lib.Cells {
		f(extractCell(t, lib, c.Name, st, d))
	}
}

// TestCorpus holds every cell of both published libraries against its published netlist: the same circuit, W and L to
// 1 nm, diode areas to 1e-3. 10 and 5 of the cells hold no transistor; there none must be found.
func TestCorpus(t *testing.T) {
	t.Parallel()
	n, empty := 0, 0
	cells(t, func(p published) {
		n++
		res, err := compare.Compare(context.Background(), p.result.Circuit, p.want, compare.DefaultOptions())
		if err != nil {
			t.Errorf("%s: %v", p.name, err)
			return
		}
		if !res.Same {
			t.Errorf("%s: not the published circuit", p.name)
			for i, d := range res.Differences {
				if i < 3 {
					t.Log("  ", d.Text)
				}
			}
		}
		mos := 0
		for i := range p.result.Circuit.Devices {
			if p.result.Circuit.Devices[i].Kind.IsMOS() {
				mos++
			}
		}
		if mos == 0 {
			empty++
		}
	})
	if n != 229+84 || empty != 10+5 {
		t.Errorf("%d cells, %d without a transistor; the corpus has 313 and 15", n, empty)
	}
}

// needs finds a program, or skips; where CI is set its absence is a failure.
func needs(t testing.TB, program string) string {
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is not installed", program)
		}
		t.Skipf("%s is not installed", program)
	}
	return path
}

// TestSimulatorReadsCorpus lets ngspice read exported netlists and count their devices: every 12th cell here, all with
// UNDERMETAL_FULL set.
func TestSimulatorReadsCorpus(t *testing.T) {
	t.Parallel()
	ngspice := needs(t, "ngspice")
	full := os.Getenv("UNDERMETAL_FULL") != ""
	n := 0
	cells(t, func(p published) {
		n++
		if !full && n%12 != 0 {
			return
		}
		checkSimulator(t, ngspice, p.name, p.result)
	})
}

// checkSimulator writes a deck around the netlist and reads back the listing of its devices.
func checkSimulator(t *testing.T, ngspice, name string, res *extract.Result) {
	var sp bytes.Buffer
	if err := writeSPICE(&sp, res, nil, nil, nil, spice.WriteOptions{Models: true}); err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	dir := t.TempDir()
	var deck strings.Builder
	deck.WriteString("* counts devices\n" + sp.String() + "\nX1")
	for i := range res.Circuit.Ports {
		deck.WriteString(" p" + string(rune('a'+i%26)) + strings.Repeat("x", i/26))
	}
	deck.WriteString(" " + name + "\n.control\nlisting expand\nquit 0\n.endc\n.end\n")
	file := filepath.Join(dir, "deck.sp")
	if err := os.WriteFile(file, []byte(deck.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(ngspice, "-n", "-b", "deck.sp")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	text := strings.ToLower(string(out))
	if err != nil || strings.Contains(text, "error") || strings.Contains(text, "warning") {
		t.Errorf("%s: ngspice: %v\n%s", name, err, out)
		return
	}
	count := map[byte]int{}
	for _, line := range strings.Split(text, "\n") {
		f := strings.Fields(line)
		if len(f) > 3 && f[0] != "*" {
			if f[1] == ":" {
				f = f[2:]
			}
			for _, w := range f[:min(3, len(f))] {
				if strings.HasPrefix(w, "m.x1.") || strings.HasPrefix(w, "d.x1.") {
					count[w[0]]++
					break
				}
			}
		}
	}
	mos, diodes := 0, 0
	for i := range res.Circuit.Devices {
		if res.Circuit.Devices[i].Kind.IsMOS() {
			mos++
		} else {
			diodes++
		}
	}
	if count['m'] != mos || count['d'] != diodes {
		t.Errorf("%s: ngspice counts %d transistors and %d diodes, the netlist has %d and %d\n%.2000s", name, count['m'], count['d'], mos, diodes, out)
	}
}

// TestCorpusDrawingsDiffer makes one device of each published netlist 5 % wider, or larger: the drawing must differ then.
func TestCorpusDrawingsDiffer(t *testing.T) {
	t.Parallel()
	n := 0
	cells(t, func(p published) {
		if len(p.want.Devices) == 0 {
			return
		}
		n++
		d := &p.want.Devices[n%len(p.want.Devices)]
		d.W *= 1.05
		d.Area *= 1.05
		res, err := compare.Compare(context.Background(), p.result.Circuit, p.want, compare.DefaultOptions())
		if err != nil || res.Same {
			t.Errorf("%s: the change was not seen (%v)", p.name, err)
		}
	})
	if n < 298 {
		t.Errorf("only %d cells with devices; the corpus has 298 with transistors alone", n)
	}
}

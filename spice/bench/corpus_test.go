package bench

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/spice"
	"undermetal/spice/simulate"
	"undermetal/spice/simulate/simulatetest"
)

// The cells that every run looks at; all of them with UNDERMETAL_FULL.
var someCells = []string{"inv_1", "buf_2", "nand2_1", "nand4_1", "nor2_1", "nor3_1", "and3_1", "or2_1", "aoi21_1", "aoi22_1", "oai21_1", "oai211_1", "xor2_1",
	"xnor2_1", "mux2_1", "addh_1", "addf_1", "latq_1", "dffq_1", "dffnrsnq_1"}

// function is what a cell computes by its public name: its outputs, from its inputs by their names; ok is false where it lets go of
// the output. nil: the name is that of no logic.
type function func(in map[string]bool) (out map[string]bool, ok bool)

var nameParts = regexp.MustCompile(`^([a-z]+)([0-9]*)$`)

// functionOf reads a cell's public name (and, nand, aoi221 …) as the trade does: aoi221 is the complement of an or of two ands
// of two and a single input.
func functionOf(name string) function {
	m := nameParts.FindStringSubmatch(name)
	if m == nil {
		return nil
	}
	all := func(in map[string]bool, prefix string) (list []bool) {
		for k, v := range in {
			if strings.HasPrefix(k, prefix) {
				list = append(list, v)
			}
		}
		return list
	}
	and := func(l []bool) bool { return !slices.Contains(l, false) }
	or := func(l []bool) bool { return slices.Contains(l, true) }
	odd := func(l []bool) (b bool) {
		for _, x := range l {
			b = b != x
		}
		return b
	}
	one := func(out string, f func(in map[string]bool) bool) function {
		return func(in map[string]bool) (map[string]bool, bool) { return map[string]bool{out: f(in)}, true }
	}
	z := func(f func(l []bool) bool, not bool) function {
		out := "Z"
		if not {
			out = "ZN"
		}
		return one(out, func(in map[string]bool) bool { return f(all(in, "")) != not })
	}
	groups := func(inner, outer func([]bool) bool) function {
		return one("ZN", func(in map[string]bool) bool {
			var l []bool
			for k := range m[2] {
				l = append(l, inner(all(in, string(rune('A'+k)))))
			}
			return !outer(l)
		})
	}
	switch m[1] {
	case "inv", "clkinv":
		return z(and, true)
	case "buf", "clkbuf", "dlya", "dlyb", "dlyc", "dlyd":
		return z(and, false)
	case "and":
		return z(and, false)
	case "nand":
		return z(and, true)
	case "or":
		return z(or, false)
	case "nor":
		return z(or, true)
	case "xor":
		return z(odd, false)
	case "xnor":
		return z(odd, true)
	case "aoi":
		return groups(and, or)
	case "oai":
		return groups(or, and)
	case "mux":
		return one("Z", func(in map[string]bool) bool {
			return in[fmt.Sprintf("I%d", bit(in["S"] || in["S0"])+2*bit(in["S1"]))]
		})
	case "addh", "addf":
		return func(in map[string]bool) (map[string]bool, bool) {
			sum := bit(in["A"]) + bit(in["B"]) + bit(in["CI"])
			return map[string]bool{"S": sum&1 == 1, "CO": sum >= 2}, true
		}
	case "bufz", "invz":
		return func(in map[string]bool) (map[string]bool, bool) {
			if m[1] == "invz" {
				return map[string]bool{"ZN": !in["I"]}, in["EN"]
			}
			return map[string]bool{"Z": in["I"]}, in["EN"]
		}
	}
	return nil
}

// sequentialOf reads the public name of a sequential cell: dff and sdff, with n for the falling edge, latches, clock gates.
func sequentialOf(name string) string {
	switch {
	case strings.HasPrefix(name, "icgtp"):
		return "clock gate, at rest low"
	case strings.HasPrefix(name, "icgtn"):
		return "clock gate, at rest high"
	case strings.HasPrefix(name, "lat"):
		return "latch, open while the clock is high"
	case strings.HasPrefix(name, "dffn"), strings.HasPrefix(name, "sdffn"):
		return "flip-flop on the falling edge"
	case strings.HasPrefix(name, "dff"), strings.HasPrefix(name, "sdff"):
		return "flip-flop on the rising edge"
	}
	return ""
}

// TestCorpusCells: cells of a published library, extracted from their layout, give with the 0.5 µm preset the truth table that
// their public names promise; sequential ones behave as theirs do, step by step.
func TestCorpusCells(t *testing.T) {
	corpus := os.Getenv("UNDERMETAL_CORPUS")
	if corpus == "" {
		t.Skip("UNDERMETAL_CORPUS is not set: no cells")
	}
	program := simulatetest.Path(t)
	const prefix = "gf180mcu_fd_sc_mcu7t5v0__"
	dir := filepath.Join(corpus, "gf180mcu")
	st, err := stack.Load(filepath.Join(dir, "gf180mcu.stack.toml"))
	if err != nil {
		t.Fatal(err)
	}
	names := someCells
	if os.Getenv("UNDERMETAL_FULL") != "" {
		names = nil
		files, err := filepath.Glob(filepath.Join(dir, prefix+"*.gds"))
		if err != nil || len(files) < 200 {
			t.Fatalf("%d cells, %v", len(files), err)
		}
		for _, f := range files {
			names = append(names, strings.TrimPrefix(strings.TrimSuffix(filepath.Base(f), ".gds"), prefix))
		}
	}
	process, err := spice.Preset("0.5um")
	if err != nil {
		t.Fatal(err)
	}
	tables, clocked := 0, 0
	for _, name := range names {
		kind := name
		if k := strings.LastIndexByte(name, '_'); k >= 0 {
			kind = name[:k]
		}
		f, sequential := functionOf(kind), sequentialOf(kind)
		if kind == "tieh" || kind == "tiel" {
			t.Run(name, func(t *testing.T) {
				constant(t, Setup{Circuit: cellCircuit(t, st, filepath.Join(dir, prefix+name+".gds")), Process: process}, kind == "tieh")
			})
			continue
		}
		if f == nil && sequential == "" {
			t.Logf("%s: its name promises no function", name)
			continue
		}
		t.Run(name, func(t *testing.T) {
			c := cellCircuit(t, st, filepath.Join(dir, prefix+name+".gds"))
			setup := Setup{Circuit: c, Process: process}
			var misses []string
			if sequential != "" {
				misses = clockedMisses(program, setup, sequential)
				clocked++
			} else {
				misses = tableMisses(program, setup, f)
				tables++
			}
			for _, m := range misses {
				t.Error(m)
			}
		})
	}
	t.Logf("%d truth tables, %d sequential cells", tables, clocked)
}

func cellCircuit(t *testing.T, st *stack.Stack, file string) *netlist.Circuit {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lib, _, err := gds.Read(filepath.Base(file), f, gds.ForStack(st))
	if err != nil {
		t.Fatal(err)
	}
	tops := lib.Tops()
	if len(tops) != 1 {
		t.Fatalf("%s: %d tops", file, len(tops))
	}
	res, err := extract.Run(context.Background(), lib, tops[0], st, extract.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return res.Circuit
}

func runBench(program string, b *Bench, setup Setup) (*stage, *simulate.Result, error) {
	d, s, err := b.prepare(setup)
	if err != nil {
		return nil, nil, err
	}
	r, err := (&simulate.Runner{Program: program}).Run(context.Background(), d)
	return s, r, err
}

func tableMisses(program string, setup Setup, f function) (misses []string) {
	s, r, err := runBench(program, gateBench, setup)
	if err != nil {
		return []string{err.Error()}
	}
	in, out := numbered(s.ports, "in"), numbered(s.ports, "out")
	vdd, slot := s.Process.SupplyV, s.slot()
	seen := 0
	for i, row := range tableRows(len(in)) {
		values := map[string]bool{}
		for k, n := range in {
			values[s.name(n)] = row[k]
		}
		want, driven := f(values)
		for _, o := range out {
			high, ok := want[s.name(o)]
			if !ok {
				misses = append(misses, "an output "+s.name(o)+" that its name does not promise")
				continue
			}
			seen++
			w, err := waveOf(r, "table", "v("+s.list.Nodes[o]+")")
			if err != nil {
				return []string{err.Error()}
			}
			if v := w.at((float64(i) + 0.99) * slot); driven && (high && v < 0.9*vdd || !high && v > 0.1*vdd) {
				misses = append(misses, fmt.Sprintf("%s at %.3f V for %v", s.name(o), v, values))
			}
		}
	}
	figures, err := gateBench.Figures(setup, r)
	if err != nil {
		misses = append(misses, err.Error())
	}
	for _, g := range figures {
		if !g.Agrees() {
			misses = append(misses, fmt.Sprintf("%s: %g where switches say %g", g.Name, g.Measured, g.Expected))
		}
	}
	if f == nil || seen < 2 {
		misses = append(misses, "no table")
	}
	return misses
}

func clockedMisses(program string, setup Setup, want string) []string {
	s, r, err := runBench(program, clockedBench, setup)
	if err != nil {
		return []string{err.Error()}
	}
	list, err := s.behaviours(r)
	if err != nil || len(list) != 1 {
		return []string{fmt.Sprint(len(list), " outputs, ", err)}
	}
	if b := list[0]; b.Name != want || b.Inverted || len(b.Rivals) > 0 || b.Agree != b.Defined || b.Defined < clockedSteps-10 {
		return []string{fmt.Sprintf("behaves as a %s in %d of %d steps (as well as %v), should be a %s", b.words(), b.Agree, b.Defined, b.Rivals, want)}
	}
	return nil
}

// constant holds a cell that has no input and gives a rail.
func constant(t *testing.T, setup Setup, high bool) {
	for name, f := range simulated(t, "operating", setup) {
		if (name == "Z" || name == "ZN") && (f.Measured > 4.5) == high && (f.Measured < 0.5) != high {
			return
		}
	}
	t.Error("its output is not at the rail that its name promises")
}

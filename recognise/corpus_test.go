package recognise

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"undermetal/netlist"
)

// cellName maps what a published cell is called, drive strength left out, to what must be among what it is recognised as. The
// names are those of the libraries' own file names.
var cellName = []struct {
	public *regexp.Regexp
	want   func(m []string) string // a regular expression that one pattern's name matches
}{
	{regexp.MustCompile(`^(?:clk)?inv$`), func([]string) string { return `^inverter$` }},
	{regexp.MustCompile(`^(nand|nor)([234])b?$`), func(m []string) string { return "^" + m[1] + m[2] + "$" }},
	{regexp.MustCompile(`^(aoi|oai)(\d+)$`), func(m []string) string { return "^" + m[1] + m[2] + `(_v\d)?$` }},
	{regexp.MustCompile(`^a(\d+)oi$`), func(m []string) string { return "^aoi" + m[1] + "$" }},
	{regexp.MustCompile(`^o(\d+)ai$`), func(m []string) string { return "^oai" + m[1] + "$" }},
	{regexp.MustCompile(`^dffn`), func([]string) string { return "^flip_flop_fall" }},
	{regexp.MustCompile(`^s?dff|^sdf|^dfr`), func([]string) string { return "^flip_flop_(rise|trans)" }},
	{regexp.MustCompile(`^lat|^dlh`), func([]string) string { return "^latch_(high|clocked|trans)" }},
	{regexp.MustCompile(`^dll`), func([]string) string { return "^latch_(low|clocked|trans)" }},
}

// wantOf returns what a published cell must be recognised as, empty if it is none of the kinds.
func wantOf(public string) string {
	for _, k := range cellName {
		if m := k.public.FindStringSubmatch(public); m != nil {
			return k.want(m)
		}
	}
	return ""
}

// publishedCells are the cells of both libraries, by what they are called without drive strength.
func publishedCells(t *testing.T, lib string) map[string]*netlist.Circuit {
	dir := corpus(t)
	cells := map[string]*netlist.Circuit{}
	files, err := filepath.Glob(filepath.Join(dir, lib, "*.cdl"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no netlists in %s: %v", lib, err)
	}
	for _, f := range files {
		if strings.HasPrefix(filepath.Base(f), "RM_") {
			continue
		}
		for _, c := range readFile(t, f).Circuits {
			if len(c.Devices) > 0 {
				cells[c.Name] = c
			}
		}
	}
	return cells
}

var drive = regexp.MustCompile(`^(?:gf180mcu_fd_sc_mcu7t5v0__|sg13g2_)(.*?)_\d+$`)

// At least 95 % of the published cells of each library whose names say inverter, NAND, NOR, AND-OR-INVERT, OR-AND-INVERT, flip-flop
// or latch are recognised as that, as part of the best cover.
func TestPublishedCells(t *testing.T) {
	for _, lib := range []string{"gf180mcu", "ihp-sg13g2"} {
		namedRight(t, lib, publishedCells(t, lib))
	}
}

// namedRight counts the cells that are recognised as their names say, and tells those that are not.
func namedRight(t *testing.T, lib string, cells map[string]*netlist.Circuit) {
	t.Helper()
	names := make([]string, 0, len(cells))
	for n := range cells {
		names = append(names, n)
	}
	slices.Sort(names)
	count, right := 0, 0
	for _, name := range names {
		m := drive.FindStringSubmatch(name)
		if m == nil {
			continue
		}
		want := wantOf(m[1])
		if want == "" {
			continue
		}
		count++
		var got []string
		for _, f := range find(t, cells[name], Options{}).Fits {
			got = append(got, f.Pattern.Name)
		}
		if slices.ContainsFunc(got, regexp.MustCompile(want).MatchString) {
			right++
		} else {
			t.Logf("missed: %s is no %s but %s", name, want, strings.Join(got, " "))
		}
	}
	t.Logf("%s: %d of %d cells", lib, right, count)
	if count < 30 || float64(right) < 0.95*float64(count) {
		t.Errorf("%s: %d of %d cells are named as their names say", lib, right, count)
	}
}

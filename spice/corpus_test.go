package spice

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice/simulate/simulatetest"
)

const sram = "ihp-sg13g2/RM_IHPSG13_1P_256x8_c3_bm_bist.cdl"

// counted is what plain line matching finds in a subcircuit: elements by letter, and what it uses, by name.
type counted struct {
	ports   int
	letters map[byte]int
	uses    []string
	shorts  int
}

// countLines counts a published netlist, without the reader: a line that begins with + goes on, one with * is a comment,
// the last word of an X line is the subcircuit.
func countLines(text string) map[string]*counted {
	text = strings.ReplaceAll(text, "\r", "")
	var joined []string
	for _, line := range strings.Split(text, "\n") {
		switch {
		case strings.HasPrefix(line, "+"):
			joined[len(joined)-1] += " " + line[1:]
		case strings.TrimSpace(line) != "" && !strings.HasPrefix(line, "*"):
			joined = append(joined, line)
		}
	}
	found := map[string]*counted{}
	var c *counted
	for _, line := range joined {
		f := strings.Fields(line)
		switch {
		case strings.EqualFold(f[0], ".subckt"):
			c = &counted{ports: len(f) - 2, letters: map[byte]int{}}
			found[f[1]] = c
		case strings.HasPrefix(f[0], "."):
		default:
			letter := strings.ToUpper(f[0])[0]
			if letter == 'X' {
				c.uses = append(c.uses, f[len(f)-1])
			} else if letter == 'R' && strings.Contains(line, "lvsres") {
				c.shorts++
			} else {
				c.letters[letter]++
			}
		}
	}
	return found
}

// flat returns how many elements of a letter a subcircuit holds at all depths.
func flatCount(all map[string]*counted, name string, letter byte) int {
	n := all[name].letters[letter]
	for _, u := range all[name].uses {
		n += flatCount(all, u, letter)
	}
	return n
}

func letterOf(k netlist.Kind) byte { return letters[k] }

// checkCounts holds what was read against the plain count, circuit by circuit, and says how many there are.
func checkCounts(t *testing.T, file string) int {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := Read(file, bytes.NewReader(text), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	want := countLines(string(text))
	if len(d.Circuits) != len(want) {
		t.Errorf("%s: %d circuits, the lines have %d", file, len(d.Circuits), len(want))
	}
	for _, c := range d.Circuits {
		w := want[c.Name]
		if w == nil {
			t.Errorf("%s: circuit %s is not in the file", file, c.Name)
			continue
		}
		got := map[byte]int{}
		for i := range c.Devices {
			got[letterOf(c.Devices[i].Kind)]++
			if k := c.Devices[i].Kind; k == netlist.MOS {
				t.Errorf("%s: polarity of %s is unknown", file, c.Devices[i].Model)
			}
		}
		if len(c.Ports) != w.ports || len(c.Instances) != len(w.uses) || got['M'] != w.letters['M'] || got['D'] != w.letters['D'] || len(c.Devices) != got['M']+got['D'] {
			t.Errorf("%s, %s: %d ports, %d instances, %v devices; the lines have %+v", file, c.Name, len(c.Ports), len(c.Instances), got, *w)
		}
	}
	return len(d.Circuits)
}

// TestCorpusCounts reads every published netlist. 229 and 84 cells: the corpus' own description; 458 subcircuits in all:
// grep -ci '^\.subckt'.
func TestCorpusCounts(t *testing.T) {
	root := corpus(t)
	files, err := filepath.Glob(filepath.Join(root, "gf180mcu", "*.cdl"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, file := range files {
		n += checkCounts(t, file)
	}
	if n != 229 {
		t.Errorf("%d gf180 cells, want 229", n)
	}
	if k := checkCounts(t, filepath.Join(root, "ihp-sg13g2", "sg13g2_stdcell.cdl")); k != 84 {
		t.Errorf("%d ihp cells, want 84", k)
	}
	if k := checkCounts(t, filepath.Join(root, sram)); k != 458-229-84 {
		t.Errorf("%d circuits in the SRAM, want 145", k)
	}
}

func readSRAM(t testing.TB) (*netlist.Design, *netlist.Circuit) {
	f, err := os.Open(filepath.Join(corpus(t), sram))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := Read("sram.cdl", f, ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	c := d.Circuit("RM_IHPSG13_1P_256x8_c3_bm_bist")
	if c == nil {
		t.Fatal("no circuit of the macro's name")
	}
	return d, c
}

// TestCorpusSRAM flattens the macro: as many devices as the lines say, and the shorts of its lvsres resistors in force.
func TestCorpusSRAM(t *testing.T) {
	d, top := readSRAM(t)
	text, err := os.ReadFile(filepath.Join(corpus(t), sram))
	if err != nil {
		t.Fatal(err)
	}
	all := countLines(string(text))
	shorts := 0
	for _, c := range all {
		shorts += c.shorts
	}
	if shorts != 12 {
		t.Errorf("%d lvsres lines, want 12 (grep -c lvsres)", shorts)
	}
	flat, err := netlist.Flatten(d, top)
	if err != nil {
		t.Fatal(err)
	}
	if want := flatCount(all, top.Name, 'M') + flatCount(all, top.Name, 'D'); len(flat.Devices) != want {
		t.Errorf("%d devices, the lines have %d", len(flat.Devices), want)
	}
	for _, c := range d.Circuits {
		if all[c.Name].shorts == 0 {
			continue
		}
		seen := map[netlist.Net]bool{}
		for _, p := range c.Ports {
			seen[p] = true
		}
		for _, n := range c.Nets {
			if len(n.Labels) == 1 {
				t.Errorf("%s: net %s has a single label", c.Name, n.Name)
			}
		}
		t.Logf("%s: %d ports on %d nets", c.Name, len(c.Ports), len(seen))
	}
	// written and read again it is the same, flat and not
	for _, design := range []*netlist.Design{d, {Circuits: []*netlist.Circuit{flat}}} {
		var b bytes.Buffer
		if err := Write(&b, design, WriteOptions{Models: true}); err != nil {
			t.Fatal(err)
		}
		again, err := Read("again.sp", &b, ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if describeDesign(again) != describeDesign(design) {
			t.Error("written and read again it is another design")
		}
	}
}

// TestCorpusSizes: three lines of the published netlists by hand: fingers add up in W, the diode's area is in m².
func TestCorpusSizes(t *testing.T) {
	root := corpus(t)
	for _, tc := range []struct{ file, circuit, want string }{
		{"gf180mcu/gf180mcu_fd_sc_mcu7t5v0__addf_1.cdl", "gf180mcu_fd_sc_mcu7t5v0__addf_1", "M_M33 pmos VDD net9 S VNW pfet_05v0 w=1215 l=500\n"},
		{"ihp-sg13g2/sg13g2_stdcell.cdl", "sg13g2_a21o_2", "MP3 pmos X net1 VDD VDD sg13_lv_pmos w=2240 l=130 fingers=2\n"},
		{"gf180mcu/gf180mcu_fd_sc_mcu7t5v0__antenna.cdl", "gf180mcu_fd_sc_mcu7t5v0__antenna", "d0 diode VPW I diode_nd2ps_06v0 area=205200 perim=1860\n"},
	} {
		text, err := os.ReadFile(filepath.Join(root, tc.file))
		if err != nil {
			t.Fatal(err)
		}
		if got := lines(read(t, "*\n"+string(text)).Circuit(tc.circuit)); !strings.Contains(got, tc.want) {
			t.Errorf("%s: no\n%sin\n%s", tc.file, tc.want, got)
		}
	}
}

// TestSimulatorReadsSRAM lets ngspice read the whole macro as it is written from its published netlist.
func TestSimulatorReadsSRAM(t *testing.T) {
	simulatetest.Path(t)
	d, top := readSRAM(t)
	text := write(t, d, WriteOptions{Models: true, Ground: "VSS!"})
	x := "X1"
	for i := range len(top.Ports) - 1 { // without VSS!
		x += " p" + string(rune('a'+i%26)) + strings.Repeat("x", i/26)
	}
	accept(t, text+"\n"+x+" "+nameOfLast(text)+"\nV1 zz 0 1\nR1 zz 0 1k\n", "echo read")
}

func BenchmarkRead(b *testing.B) {
	text, err := os.ReadFile(filepath.Join(corpus(b), sram))
	if err != nil {
		b.Fatal(err)
	}
	b.Run("cell=sram", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		for b.Loop() {
			if _, err := Read("sram.cdl", bytes.NewReader(text), ReadOptions{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkWrite(b *testing.B) {
	d, top := readSRAM(b)
	flat, err := netlist.Flatten(d, top)
	if err != nil {
		b.Fatal(err)
	}
	b.Run("cell=sram/flat", func(b *testing.B) {
		for b.Loop() {
			var out bytes.Buffer
			if err := Write(&out, &netlist.Design{Circuits: []*netlist.Circuit{flat}}, WriteOptions{Places: true}); err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(out.Len()))
		}
	})
}

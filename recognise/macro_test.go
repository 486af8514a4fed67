package recognise

import (
	"path/filepath"
	"testing"

	"undermetal/netlist"
)

// The published SRAM macro holds 2,048 bit cells: 256 words of 8 bits, says its name. Its netlist has dummy cells and others at the edges
// beside them, which may be memory cells by their circuit, too.
func TestPublishedMacro(t *testing.T) {
	d := readFile(t, filepath.Join(corpus(t), "ihp-sg13g2", "RM_IHPSG13_1P_256x8_c3_bm_bist.cdl"))
	c, err := netlist.Flatten(d, d.Circuit("RM_IHPSG13_1P_256x8_c3_bm_bist"))
	if err != nil {
		t.Fatal(err)
	}
	r := find(t, c, Options{Missing: 1})
	count := map[string]int{}
	explained := 0
	for _, f := range r.Fits {
		count[f.Pattern.Name]++
		for _, m := range f.Members {
			explained += 1 + len(m.Fingers)
		}
	}
	t.Logf("%d of %d devices explained: %v", explained, len(c.Devices), count)
	for _, n := range r.Supply {
		t.Log("supply ", c.Nets[n].Name)
	}
	for _, n := range r.Ground {
		t.Log("ground ", c.Nets[n].Name)
	}
	if count["sram_6t"] != 2048 {
		t.Errorf("%d memory cells, want 2048", count["sram_6t"])
	}
	for _, f := range r.Partial { // nothing is missing from what is published
		t.Errorf("%s, %.1f db, missing %v, too many %v", f.Pattern.Name, f.Weight, f.Missing, f.Extra)
	}
}

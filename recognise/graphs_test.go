package recognise

import (
	"cmp"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"undermetal/netlist"
	"undermetal/recognise/library"
	"undermetal/recognise/parts"
)

// graphDevice is [name, type, drain, gate, source] of the reference file, bulk left out.
type graphDevice [5]string

func circuitOf(ds []graphDevice) (*netlist.Circuit, map[string]netlist.Net) {
	c := &netlist.Circuit{Name: "top"}
	nets := map[string]netlist.Net{}
	net := func(name string) netlist.Net {
		if _, ok := nets[name]; !ok {
			nets[name] = netlist.Net(len(c.Nets))
			c.Nets = append(c.Nets, netlist.NetInfo{Name: name})
		}
		return nets[name]
	}
	for _, d := range ds {
		k := netlist.NMOS
		if d[1] == "p" {
			k = netlist.PMOS
		}
		c.Devices = append(c.Devices, netlist.Device{Name: d[0], Kind: k, Model: d[1],
			Terminals: [4]netlist.Net{net(d[2]), net(d[3]), net(d[4]), netlist.NoNet}})
	}
	return c, nets
}

// maps counts all ways to lay a pattern on a circuit, and the sets of devices they take.
func maps(t *testing.T, p *library.Pattern, c *netlist.Circuit) (n, sets int) {
	t.Helper()
	ix := newIndex(parts.New(c, parts.Known{}))
	pl, err := newPlan(p, false)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	_, err = ix.run(t.Context(), pl, make([]bool, len(ix.g.Parts)), func(s *search) {
		n++
		key, _ := json.Marshal(sortedParts(nil, s.parts))
		seen[string(key)] = true
	})
	if err != nil {
		t.Fatal(err)
	}
	return n, len(seen)
}

// The counts are those of an independent program (a general graph library), kept with the reference values beside the corpus; the
// rules are those of the file's note.
func TestReferenceCounts(t *testing.T) {
	text, err := os.ReadFile(filepath.Join(corpus(t), "..", "references", "graphs.json"))
	if err != nil {
		t.Skip(err)
	}
	var file struct {
		Netlists map[string][]graphDevice
		Patterns map[string]struct {
			Devices []graphDevice
			Ports   []string
		}
		PatternCounts map[string]map[string][2]int `json:"pattern_counts"`
	}
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	checked := 0
	for target, counts := range file.PatternCounts {
		c, _ := circuitOf(file.Netlists[target])
		for name, want := range counts {
			ref := file.Patterns[name]
			pc, nets := circuitOf(ref.Devices)
			p := &library.Pattern{Name: name, Circuit: pc}
			ports := slices.Clone(ref.Ports)
			slices.SortFunc(ports, cmp.Compare)
			for _, port := range ports {
				role := library.Any
				switch port {
				case "vdd":
					role = library.Supply
				case "vss":
					role = library.Ground
				}
				p.Ports = append(p.Ports, library.Port{Name: port, Role: role})
				pc.Ports = append(pc.Ports, nets[port])
			}
			n, sets := maps(t, p, c)
			if n != want[0] || sets != want[1] {
				t.Errorf("%s in %s: %d ways on %d sets of devices, want %d on %d", name, target, n, sets, want[0], want[1])
			}
			checked++
		}
	}
	if checked < 20 {
		t.Errorf("only %d counts were compared", checked)
	}
}

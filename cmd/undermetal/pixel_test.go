package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"undermetal/netlist"
	"undermetal/spice"
	"undermetal/testdata/pixel"
)

// walked is a pixel.dossier in the current folder, made by the commands of the README's walk-through, and the pixel.sp of it.
func walked(t *testing.T) {
	t.Helper()
	_, part, ok := strings.Cut(readme(t), "## One pixel, from two photographs\n")
	if !ok {
		t.Fatal("the README has no walk-through")
	}
	part, _, _ = strings.Cut(part, "\n## ")
	asInClone(t)
	for _, c := range readmeCalls(part) {
		c.run(t)
	}
	must(t, "extract pixel.dossier --spice pixel.sp --models")
}

// TestPixelWalkThrough: what the README's walk-through leads to is the circuit that was drawn.
func TestPixelWalkThrough(t *testing.T) {
	walked(t)
	t.Run("nets", func(t *testing.T) {
		text, err := os.ReadFile("pixel.sp")
		if err != nil {
			t.Fatal(err)
		}
		got, want := terminals(t, "pixel.sp", text), terminals(t, "truth.sp", pixel.Truth)
		if !slices.Equal(got, want) {
			t.Errorf("extracted\n%s\ndrawn\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
		}
		if out := must(t, "compare pixel.sp testdata/pixel/truth.sp --tolerance 15%"); !strings.Contains(out, "the same circuit: 4 devices matched") {
			t.Error(out)
		}
	})
	t.Run("sizes", checkPixelSizes)
	t.Run("healed", func(t *testing.T) { // what closes a gap between slanted pieces comes from where these do
		shapes := shapesOf(t, "pixel.dossier")
		last := shapes[len(shapes)-1]
		if last.Method != "heal" || last.Shot != shapes[0].Shot || last.SigmaNm != shapes[0].SigmaNm || last.Shot == 0 {
			t.Errorf("%+v, between shapes like %+v", last, shapes[0])
		}
	})
	t.Run("short of the gate", func(t *testing.T) { // before that the select line ends short of its gate, which comparing says
		must(t, "undo pixel.dossier")
		out := must(t, "compare pixel.dossier testdata/pixel/truth.sp --tolerance 15%")
		if want := "names differ: SEL reaches no device in pixel.dossier, and does in testdata/pixel/truth.sp; what is joined like it there is on poly at "; !strings.Contains(out, want) {
			t.Errorf("got %q, which lacks %q", out, want)
		}
		must(t, "redo pixel.dossier")
	})
	t.Run("simulator", func(t *testing.T) { simulatePixel(t, needs(t, "ngspice")) })
}

// terminals lists the devices of a netlist by model and the names of their nets, source and drain in the order of names. The
// net between follower and select has no name in the drawing: whatever it is called, it stands as MID.
func terminals(t *testing.T, name string, text []byte) (list []string) {
	t.Helper()
	design, err := spice.Read(name, bytes.NewReader(text), spice.ReadOptions{Polarity: spice.PolarityByName})
	if err != nil {
		t.Fatal(err)
	}
	c := design.Circuits[0]
	port := map[netlist.Net]bool{}
	for _, p := range c.Ports {
		port[p] = true
	}
	for i := range c.Devices {
		d := &c.Devices[i]
		var names []string
		for k := range d.Kind.TerminalNames() {
			n := d.Terminals[k]
			switch name := c.Nets[n].Name; {
			case port[n] || name == "PD": // which is a port where it is labelled
				names = append(names, name)
			default:
				names = append(names, "MID")
			}
		}
		if d.Kind.IsMOS() && names[netlist.Source] < names[netlist.Drain] {
			names[netlist.Source], names[netlist.Drain] = names[netlist.Drain], names[netlist.Source]
		}
		list = append(list, fmt.Sprint(d.Model, names))
	}
	slices.Sort(list)
	return list
}

// checkPixelSizes holds W and L against what was drawn, by the uncertainty that the JSON states, and this against what it is
// made of: an edge is good to 1 px of 16.5 nm, a length lies between two, and the pitch, 8.00 ± 0.02 µm, is known to 0.25 %. The
// marks on it, good to a pixel, add √2 px of 485 px, 0.29 %: together 0.38 %. What the control points leave is below 0.1 %.
func checkPixelSizes(t *testing.T) {
	var c struct {
		Nets []struct {
			ID, Name string
			Open     bool
		}
		Devices []struct {
			Kind      string
			Terminals map[string]string
			W         float64   `json:"w_nm"`
			L         float64   `json:"l_nm"`
			Sigma     jsonSigma `json:"sigma"`
			SigmaW    jsonSigma `json:"sigma_w"`
			SigmaL    jsonSigma `json:"sigma_l"`
			Shots     []string
		}
	}
	if err := json.Unmarshal([]byte(must(t, "extract pixel.dossier --json -")), &c); err != nil {
		t.Fatal(err)
	}
	names := map[string]string{}
	for _, n := range c.Nets {
		names[n.ID] = n.Name
		if line := slices.Contains([]string{"RST", "SEL", "VDD", "COL"}, n.Name); n.Open != line {
			t.Errorf("net %q: open %t, but the lines leave the pixel and nothing else does", n.Name, n.Open)
		}
	}
	found := 0
	for _, tr := range pixel.Transistors {
		for _, d := range c.Devices {
			if names[d.Terminals["g"]] != tr.Gate {
				continue
			}
			found++
			for _, v := range []struct {
				what      string
				got, want float64
				sigma     jsonSigma
			}{{"W", d.W, tr.W, d.SigmaW}, {"L", d.L, tr.L, d.SigmaL}} {
				whole := math.Hypot(v.sigma.Edge, v.sigma.Scale)
				if math.Abs(v.got-v.want) > 2*whole {
					t.Errorf("%s: %s = %.1f nm, drawn %g, 2 σ = %.1f", tr.Name, v.what, v.got, v.want, 2*whole)
				}
				if math.Abs(v.sigma.Edge-math.Sqrt2*16.5) > 0.1 || math.Abs(v.sigma.Scale/v.got-0.0038) > 0.0002 || v.sigma.Bias != 0 {
					t.Errorf("%s: the uncertainty of %s is %+v", tr.Name, v.what, v.sigma)
				}
			}
			if want := (jsonSigma{max(d.SigmaW.Edge, d.SigmaL.Edge), 0, max(d.SigmaW.Scale, d.SigmaL.Scale)}); d.Sigma != want {
				t.Errorf("%s: sigma %+v, want the larger of each part %+v", tr.Name, d.Sigma, want)
			}
			if !slices.Equal(d.Shots, []string{"stripped"}) {
				t.Errorf("%s: traced over %v; gate and diffusion are in the stripped photograph", tr.Name, d.Shots)
			}
		}
	}
	if found != 3 || len(c.Devices) != 4 {
		t.Errorf("%d of the three transistors found, %d devices", found, len(c.Devices))
	}
}

// simulatePixel lets ngspice work out the extracted netlist and the drawn one on the same bench: reset and select on, a load
// on the column. With the models' threshold of 0 the column follows the supply less the follower's overdrive; how far below
// depends on W/L of all three, so that the voltages agree as well as W and L do: within 0.1 V.
func simulatePixel(t *testing.T, ngspice string) {
	extracted, err := os.ReadFile("pixel.sp")
	if err != nil {
		t.Fatal(err)
	}
	ports := regexp.MustCompile(`(?m)^\.subckt die (.*)$`).FindStringSubmatch(string(extracted))
	if ports == nil {
		t.Fatalf("no subcircuit in\n%s", extracted)
	}
	call := strings.NewReplacer("PD", "pd1", "COL", "col1", "VSS", "0").Replace(ports[1])
	deck := "* one bench, two pixels\n" + string(extracted) + string(pixel.Truth) + `
X1 ` + call + ` die
X2 RST SEL VDD col2 0 pixel
V1 VDD 0 5
V2 RST 0 5
V3 SEL 0 5
I1 col1 0 10u
I2 col2 0 10u
.control
op
print v(col1) v(col2)
quit 0
.endc
.end
`
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "deck.sp"), []byte(deck), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(ngspice, "-n", "-b", "deck.sp")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	text := strings.ToLower(string(out))
	if err != nil || strings.Contains(text, "error") || strings.Contains(text, "warning") {
		t.Fatalf("ngspice: %v\n%s", err, out)
	}
	var v [2]float64
	for i := range v {
		m := regexp.MustCompile(fmt.Sprintf(`(?m)^v\(col%d\) = ([-+.0-9e]+)`, i+1)).FindStringSubmatch(text)
		if m == nil {
			t.Fatalf("ngspice printed no v(col%d)\n%s", i+1, out)
		}
		if v[i], err = strconv.ParseFloat(m[1], 64); err != nil {
			t.Fatal(err)
		}
	}
	if !(v[1] > 1 && v[1] < 5) || math.Abs(v[0]-v[1]) > 0.1 {
		t.Errorf("the column is at %g V, of the drawn pixel at %g V", v[0], v[1])
	}
}

// TestScaleUnknown: where no photograph is calibrated, a warning says what is not in the uncertainty of W and L.
func TestScaleUnknown(t *testing.T) {
	asInClone(t)
	for _, call := range []string{"new k.dossier --stack testdata/pixel/pixel.stack.toml", "shot add k.dossier testdata/pixel/stripped.png",
		"shot register k.dossier stripped --points testdata/pixel/stripped.csv", "trace import k.dossier testdata/pixel/stripped.svg --over stripped"} {
		must(t, call)
	}
	const want = "warning: scale-unknown: W and L from stripped: no photograph is calibrated that has its place by control points: how well the lengths between the control points are known is not in the uncertainty\n"
	var out, errs bytes.Buffer
	if status := run([]string{"extract", "k.dossier"}, &out, &errs); status != exitDone || strings.Count(errs.String(), want) != 1 {
		t.Errorf("exit status %d\n%s", status, errs.String())
	}
}

// TestAreaOfLayers: areas on several layers are one edit.
func TestAreaOfLayers(t *testing.T) {
	t.Chdir(t.TempDir())
	must(t, "new k.dossier --stack cmos-1p1m")
	if out := must(t, "trace area k.dossier poly metal1 --rect 0,0,8,4"); out != "poly: 32 µm² from (0, 0) µm to (8, 4) µm\nmetal1: 32 µm² from (0, 0) µm to (8, 4) µm\n" {
		t.Error(out)
	}
	if out := must(t, "trace area k.dossier poly metal1 --remove"); out != "poly: 1 traced area removed: it counts as looked at everywhere\nmetal1: 1 traced area removed: it counts as looked at everywhere\n" {
		t.Error(out)
	}
	must(t, "undo k.dossier")
	before := must(t, "trace area k.dossier")
	var out, errs bytes.Buffer
	for call, want := range map[string]string{
		"trace area k.dossier poly contact --remove":      "k.dossier: contact has no traced area to remove",
		"trace area k.dossier poly tin --rect 0,0,1,1":    `area: there is no layer "tin"`,
		"trace area k.dossier poly metal1 --rect 0,0,0,1": "a rectangle without area",
	} {
		errs.Reset()
		if status := run(strings.Fields(call), &out, &errs); status == exitDone || !strings.Contains(errs.String(), want) {
			t.Errorf("%s: exit status %d\n%s", call, status, errs.String())
		}
	}
	if after := must(t, "trace area k.dossier"); after != before || strings.Count(before, "32 µm²") != 2 {
		t.Errorf("before\n%s\nafter\n%s", before, after)
	}
}

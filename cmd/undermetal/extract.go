package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"undermetal/layout/shot"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise"
	"undermetal/spice"
)

// extractFlags are the flags of undermetal extract.
type extractFlags struct {
	inputFlags
	top, spice, json, ground        string
	preset                          string
	models, simple, asDrawn, groups bool
	bias                            []string
}

func newExtract() *cobra.Command {
	var f extractFlags
	c := &cobra.Command{
		Use:   "extract INPUT",
		Short: "turn a drawing into devices and nets",
		Long: `extract reads what was traced in a dossier, or a drawing (GDSII, SVG, GeoJSON, told by its content) with the stack that says
what its layers are, and finds the transistors, diodes and nets. It prints a summary, with pads and what protects them, fuses, dummies
and photodiodes; --spice and --json write the circuit.
Warnings go to standard error.

W is half of a channel's edge with source and drain, L its area over W. Where the gate is bent, closed or tapered that is a
rough figure, and so are the squares of a bent resistor: corners count as whole squares. There the W/L, and the squares, are
solved for by Laplace's equation in the outline. The summary and the JSON (w_over_l) give them; the netlist has L as drawn and W
= L times W/L, so that a simulator gets the right current, and the simple W in the comment. --simple leaves that out.

--groups makes the netlist hierarchical: what undermetal recognise finds whole becomes a subcircuit with the pattern's names for its ports,
an array one with an instance for each member. What differs in size is a subcircuit of its own. Flat again it is the same circuit;
places, uncertainties and questions stand beside devices that are in no subcircuit only.

How uncertain sizes are follows from what a dossier says of edges and scales, and of how far all edges of a layer may lie off
alike in a photograph (shot set --bias). --bias says the latter for this call, for all photographs, instead of what the dossier
says: poly=20nm how uncertain it is, as one standard deviation; poly=12±5nm that edges really lie 12 nm further out than they
were drawn. By that sizes are corrected, W and L by twice as much; what is drawn stays, and so do areas and perimeters of sources
and drains. How uncertain all of them are the JSON gives (sigma_w, sigma_as_um2 and so on), of areas and perimeters of sources and drains
without --simple.

Where no rule of the stack tells whether a transistor is n or p, or a diffusion is far larger than its gates and contacts need, the
reading that leads is followed, if it is twice as probable as the next: the comment in the netlist and a warning name the question
and its odds, and undermetal questions tells why and takes your answer. Plates stay transistors, and nets as they are drawn, until
you say otherwise. --as-drawn follows nothing that nobody has settled on.

For a simulator the netlist wants model cards. --preset adds level-1 cards as undermetal simulate takes them: those of a preset
(simulate --preset show lists their figures and sources), or nearest, the one whose shortest gate is nearest; what the stack states of its
process comes first. They say how a circuit of its kind works, not how this one does. --models adds empty cards instead, with the
simulator's defaults, with which no figure means anything.

Of an SVG drawing --um-per-unit says how large a unit is, and --map what belongs to which layer, as for trace import; a
group that is called as a layer is that layer.`,
		Example: `  undermetal extract kiln.dossier --spice kiln.sp --preset nearest
  undermetal extract cell.gds --stack process.stack.toml --spice cell.sp
  undermetal extract pixel.svg --stack cmos-1p2m --um-per-unit 0.05 --map lime=metal1
  undermetal extract kiln.dossier --bias poly=20nm,diffusion=30nm --json -
  undermetal extract imager.gds --stack process.stack.toml --spice imager.sp --groups
  undermetal extract library.gds --stack process.stack.toml --top INV --json -`,
		Args: exactly(1, "one dossier or drawing"),
		RunE: func(c *cobra.Command, args []string) error { return doExtract(c, args[0], &f) },
	}
	f.inputFlags.flags(c)
	c.Flags().StringVar(&f.stackName, "stack", "", "stack file, or the name of a built-in stack")
	c.Flags().StringVar(&f.top, "top", "", "the cell to extract; must be given where several are placed by no other")
	c.Flags().StringVar(&f.spice, "spice", "", "write a SPICE netlist to this file, - for standard output")
	c.Flags().StringVar(&f.json, "json", "", "write the circuit as JSON to this file, - for standard output")
	c.Flags().BoolVar(&f.models, "models", false, "add empty .model cards, so that a simulator reads the netlist with its own defaults")
	c.Flags().StringVar(&f.preset, "preset", "", "add level-1 .model cards of this preset: "+strings.Join(spice.PresetNames(), ", ")+", or nearest")
	c.Flags().StringVar(&f.ground, "ground", "", "the net that becomes node 0")
	c.Flags().BoolVar(&f.asDrawn, "as-drawn", false, "follow no reading that nobody has settled on")
	c.Flags().BoolVar(&f.groups, "groups", false, "make subcircuits of what is recognised, in the netlist that --spice writes")
	c.Flags().BoolVar(&f.simple, "simple", false, "do not solve for the W/L of bent gates and the squares of bent resistors")
	c.Flags().StringSliceVar(&f.bias, "bias", nil, "how far all edges of a layer lie off alike, as LAYER=NM (uncertain by that) or LAYER=NM±NM (known), several with commas")
	return c
}

func doExtract(c *cobra.Command, name string, f *extractFlags) error {
	if f.spice == "-" && f.json == "-" {
		return usagef("--spice and --json cannot both go to standard output\n    give one of them a file name")
	}
	for _, out := range []string{f.spice, f.json} {
		if sameFile(out, name) || sameFile(out, f.stackName) {
			return usagef("%s would be overwritten by the result\n    give another file name", out)
		}
	}
	if f.spice != "" && f.spice == f.json {
		return usagef("--spice and --json name the same file %s\n    give each its own", f.spice)
	}
	if f.spice == "" && (f.ground != "" || f.models || f.groups || f.preset != "") {
		return usagef("--ground, --groups, --models and --preset change the netlist that --spice writes\n    add --spice FILE, or --spice - for standard output")
	}
	if f.preset != "" && f.models {
		return usagef("--models adds empty cards, --preset ones with figures: give one of them")
	}
	if f.preset != "" && f.preset != nearestPreset {
		if _, err := spice.Preset(f.preset); err != nil {
			return usagef("--preset: %v, or %s", err, nearestPreset)
		}
	}
	if err := f.check(c); err != nil {
		return err
	}
	in, err := openInput(name)
	if err != nil {
		return err
	}
	defer in.Close()
	d, err := loadDrawing(c, in, &f.inputFlags, f.top)
	if err != nil {
		return err
	}
	if err := f.checkUsed(c); err != nil {
		return err
	}
	if d.bias, err = parseBias(f.bias, d.stack); err != nil {
		return err
	}
	how := wanted{solve: solveSizes, asDrawn: f.asDrawn, junctions: f.json != ""}
	switch {
	case f.simple:
		how.solve = solveNothing
	case d.traced != nil || len(d.bias) > 0:
		how.solve = solveSigmas
	}
	read, err := followReadings(c, d, how)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	res, sol, about, told := read.res, read.sol, read.about, read.told
	sizes := d.sizes(res, sol)
	if err := printWarnings(c.ErrOrStderr(), res.Warnings); err != nil {
		return err
	}
	if len(res.Circuit.Devices) == 0 {
		if err := printNoDevice(c.ErrOrStderr(), name, d, res); err != nil {
			return err
		}
	}
	if _, err := spice.NetNames(res.Circuit, f.ground); err != nil { // before anything is printed
		return fmt.Errorf("%s: %w", name, err)
	}
	replaced := f.spice != "-" && sizeOf(f.spice) > 0
	if f.spice != "" {
		var groups *recognise.Grouped
		if f.groups {
			if groups, err = groupCircuit(c, name, res.Circuit, about); err != nil {
				return err
			}
		}
		opt := spice.WriteOptions{Models: f.models, Process: f.process(res.Circuit, d.stack), Ground: f.ground}
		if err := writeTo(c, f.spice, func(w io.Writer) error { return writeSPICE(w, res, groups, sizes, about, opt) }); err != nil {
			return err
		}
	}
	if f.json != "" {
		if err := writeTo(c, f.json, func(w io.Writer) error { return writeJSON(w, res, sizes, sol, d, about, told) }); err != nil {
			return err
		}
	}
	if f.spice == "-" || f.json == "-" {
		return nil
	}
	if err := printSummary(c.OutOrStdout(), res.Circuit, sizes, sol, d.corrected > 0); err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	printRoles(p, res, told)
	if replaced {
		p.f("%s: replaced\n", f.spice)
	}
	return p.err
}

// sizeOf is the size in bytes of a regular file; 0 where there is none.
func sizeOf(name string) int64 {
	if info, err := os.Stat(name); err == nil && info.Mode().IsRegular() {
		return info.Size()
	}
	return 0
}

// mostWarnings is how many warnings of one code are printed; the JSON has them all.
const mostWarnings = 5

func printWarnings(w io.Writer, warnings []extract.Warning) error {
	count := map[string]int{}
	for _, x := range warnings {
		count[x.Code]++
	}
	p := &printer{w: w}
	seen := map[string]int{}
	for _, x := range warnings {
		switch seen[x.Code]++; {
		case seen[x.Code] == mostWarnings+1:
			p.f("warning: %s: %d more of this kind\n", x.Code, count[x.Code]-mostWarnings)
		case seen[x.Code] > mostWarnings:
		case x.Layer == "":
			p.f("warning: %s: %s\n", x.Code, x.Text)
		default:
			p.f("warning: %s: %s (%s, at %.3f, %.3f µm)\n", x.Code, x.Text, x.Layer, um(float64(x.X)), um(float64(x.Y)))
		}
	}
	return p.err
}

// size is what devices are counted by.
type size struct {
	kind  netlist.Kind
	model string
	w, l  float64 // µm, or area µm² and perimeter µm for a diode or a capacitor
	value float64 // ohm or farad; 0 where unknown
	ratio float64 // effective W/L, or squares; 0 where W and L say it
	// The standard uncertainties of W and L in µm.
	sigmaW, sigmaL float64
	sigmaRatio     float64 // of ratio
}

// printSummary prints devices by kind and size, and what is known of the nets. uncertain and sol may be nil; corrected says that
// biases were.
func printSummary(w io.Writer, c *netlist.Circuit, uncertain []measure.Size, sol *measure.Solution, corrected bool) error {
	count := map[size]int{}
	for i := range c.Devices {
		d := &c.Devices[i]
		s := size{kind: d.Kind, model: d.Model, w: um(d.W), l: um(d.L)}
		if uncertain != nil {
			s.sigmaW, s.sigmaL = um(uncertain[i].W.Combined()), um(uncertain[i].L.Combined())
		}
		if d.Kind == netlist.Diode || d.Kind == netlist.Capacitor {
			s.w, s.l = d.Area/1e6, um(d.Perim)
		}
		if !math.IsNaN(d.Value) {
			s.value = sixDigits(d.Value)
		}
		if d.Ratio > 0 {
			s.ratio = sixDigits(d.Ratio)
			if uncertain != nil {
				s.sigmaRatio = sixDigits(uncertain[i].Ratio.Combined())
			}
			if d.Kind == netlist.Resistor {
				s.ratio, s.sigmaRatio = sixDigits(1/d.Ratio), sixDigits(s.sigmaRatio/d.Ratio/d.Ratio)
			}
		}
		count[s]++
	}
	sizes := make([]size, 0, len(count))
	for s := range count {
		sizes = append(sizes, s)
	}
	slices.SortFunc(sizes, func(a, b size) int {
		return cmp.Or(cmp.Compare(a.kind, b.kind), cmp.Compare(a.model, b.model), cmp.Compare(count[b], count[a]),
			cmp.Compare(a.w, b.w), cmp.Compare(a.l, b.l), cmp.Compare(a.value, b.value), cmp.Compare(a.ratio, b.ratio))
	})
	p := &printer{w: w}
	p.f("%s: %s, %s\n", c.Name, counted(len(c.Devices), "device"), counted(len(c.Nets), "net"))
	if len(sizes) > 0 {
		p.f("\n")
	}
	const most = 20
	for i, s := range sizes {
		if i == most {
			p.f("%8s  %d more sizes\n", "", len(sizes)-most)
			break
		}
		switch s.kind {
		case netlist.Diode:
			p.f("%8d  %-6s %-12s area %.3f µm², perimeter %.3f µm\n", count[s], s.kind, s.model, s.w, s.l)
		case netlist.Capacitor:
			p.f("%8d  %-6s %-12s %s, area %.3f µm², perimeter %.3f µm\n", count[s], s.kind, s.model, withPrefix(s.value, "F"), s.w, s.l)
		case netlist.Resistor:
			p.f("%8d  %-6s %-12s %s, W %.3f µm, L %.3f µm%s\n", count[s], s.kind, s.model, withPrefix(s.value, "ohm"), s.w, s.l, s.solved("squares "))
		default:
			p.f("%8d  %-6s %-12s W %s, L %s%s\n", count[s], s.kind, s.model, length(s.w, s.sigmaW), length(s.l, s.sigmaL), s.solved("effective W/L "))
		}
	}
	if sol != nil && sol.Solved > 0 {
		p.f("%8s  effective W/L and squares are solved for by Laplace's equation in the outline, to %.0e of them; W and L beside them are the simple ones\n",
			"", slices.Max(sol.Errors))
	}
	if slices.ContainsFunc(sizes, func(s size) bool { return s.sigmaW > 0 || s.sigmaL > 0 || s.sigmaRatio > 0 }) {
		p.f("%8s  ± is one standard uncertainty\n", "")
	}
	if corrected {
		p.f("%8s  sizes are corrected by what is known of edges that lie off alike (--bias)\n", "")
	}
	named, open := 0, 0
	for i := range c.Nets {
		if c.Nets[i].Name != "" {
			named++
		}
		if c.Nets[i].Open {
			open++
		}
	}
	if len(sizes) > 0 {
		p.f("\n")
	}
	p.f("%8d  nets with a label, %d of them ports\n", named, len(c.Ports))
	if idle := idleNames(c); len(c.Devices) > 0 && len(idle) > 0 {
		p.f("%8d  of these touch no device: %s\n", len(idle), someNames(idle))
	}
	p.f("%8d  nets without\n", len(c.Nets)-named)
	if open > 0 {
		p.f("%8d  nets go on outside the traced area\n", open)
	}
	return p.err
}

// sixDigits rounds: sums differ in last bits.
func sixDigits(v float64) float64 {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return v
}

// solved says what was solved for, with a comma before it; nothing where W and L say it.
func (s size) solved(what string) string {
	switch {
	case s.ratio == 0:
		return ""
	case s.sigmaRatio > 0:
		return ", " + what + shot.Uncertain(s.ratio, s.sigmaRatio)
	}
	return fmt.Sprintf(", %s%.4g", what, s.ratio)
}

// withPrefix writes a value to four digits, with the prefix of its unit; 0 stands for unknown.
func withPrefix(v float64, unit string) string {
	if v == 0 {
		return "value unknown"
	}
	prefixes := []string{"a", "f", "p", "n", "µ", "m", "", "k", "M", "G"}
	i := min(max(6+int(math.Floor(math.Log10(v)/3)), 0), len(prefixes)-1)
	return fmt.Sprintf("%.4g %s%s", v/math.Pow(1000, float64(i-6)), prefixes[i], unit)
}

// length is a length in µm, with its standard uncertainty and the digits that this leaves, where there is one.
func length(v, sigma float64) string {
	if sigma <= 0 {
		return fmt.Sprintf("%.3f µm", v)
	}
	return shot.Uncertain(v, sigma) + " µm"
}

// printer keeps the first error of many prints.
type printer struct {
	w   io.Writer
	err error
}

// f prints; texts among args come from files of strangers, and are freed from what a terminal would obey.
func (p *printer) f(format string, args ...any) {
	for i, a := range args {
		if s, ok := a.(string); ok {
			args[i] = harmless(s, "")
		}
	}
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}

// harmless replaces the control characters of a text, but those to keep.
func harmless(s, keep string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && !strings.ContainsRune(keep, r) {
			return unicode.ReplacementChar
		}
		return r
	}, s)
}

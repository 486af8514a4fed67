package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

// traceFlags are the flags that trace check and trace heal have in common.
type traceFlags struct {
	tolerance float64 // nm
	layers    []string
}

func (f *traceFlags) flags(c *cobra.Command) {
	c.Flags().Var(quantity{&f.tolerance, "µm"}, "tolerance", "lengths up to this are suspicious, in µm; by default 2 pixels of the photographs, else a quarter of the stack's min_feature_nm")
	c.Flags().StringArrayVar(&f.layers, "layer", nil, "look at this layer only; may be given several times")
}

// checkFlags are the flags of undermetal trace check.
type checkFlags struct {
	traceFlags
	stack, top, json string
}

func newTraceCheck() *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use:   "check DOSSIER|INPUT",
		Short: "list what a tracing by hand easily gets wrong",
		Long: `check looks at what was traced in a dossier, or at a drawing with --stack, and lists what deserves a look. It changes
nothing, and finding something is no failure: the exit status is 0.

  near-miss          two pieces of one conductor, on different nets, closer than the tolerance; trace heal joins them
  near-overlap       two shapes that are one net only by a strip narrower than the tolerance
  sliver             a piece of a layer narrower than the tolerance everywhere
  contact-on-none    a contact over none of the conductors that it could join
  contact-on-one     a contact over one of them only
  gate-ends-inside   a gate whose end lies inside the diffusion, so that it does not split it
  short-end-cap      a gate that passes the edge of the diffusion by less than the tolerance
  crosses-itself     an outline that crosses itself
  odd-outline        one that touches itself, or has another fault
  off-shot           a shape beyond the photograph that it was traced over
  pad-without-label  a bond pad on a net that has no label
  label-on-nothing   a label where nothing of its layer is a net
  equal-labels       equal labels on nets that nothing joins
  two-names          different labels on one net

Without --tolerance it is 2 pixels of the coarsest photograph that something was traced over, or of the coarsest that has a
scale; where there is none, a quarter of the stack's min_feature_nm. A place that looks the same in all placements of a cell
is listed once, with their number, and so are contacts to a layer on which nothing is drawn. What there is least of comes first. Places are in µm of the frame.

--json prints a list of {"code", "text", "layer", "at", "gap_nm", "path", "count"}; --json=FILE writes it to a file.`,
		Example: `  undermetal trace check kiln.dossier
  undermetal trace check kiln.dossier --tolerance 0.2um --layer metal1 --json -
  undermetal trace check cell.gds --stack process.stack.toml --tolerance 20nm`,
		Args: jsonOr(&f.json, exactly(1, "one dossier or drawing")),
		RunE: func(c *cobra.Command, args []string) error { return doTraceCheck(c, args[0], &f) },
	}
	f.flags(c)
	c.Flags().StringVar(&f.stack, "stack", "", "stack file, or the name of a built-in stack")
	c.Flags().StringVar(&f.top, "top", "", "the cell to look at; must be given where several are placed by no other")
	c.Flags().StringVar(&f.json, "json", "", "print the findings as JSON, or write them to a file with --json=FILE")
	c.Flags().Lookup("json").NoOptDefVal = "-"
	return c
}

// jsonOr takes the - of "--json -", which stands behind a flag whose value may be left out, for that value.
func jsonOr(name *string, rest cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if n := len(args); n > 1 && *name == "-" {
			if args[n-1] == "-" {
				return rest(c, args[:n-1])
			}
			return usagef("%s: %s is one too many\n    a file for the findings is given as --json=FILE", c.CommandPath(), harmless(args[n-1], ""))
		}
		return rest(c, args)
	}
}

func doTraceCheck(c *cobra.Command, name string, f *checkFlags) error {
	if f.json != "" && f.json != "-" && (sameFile(f.json, name) || sameFile(f.json, f.stack)) {
		return usagef("%s would be overwritten by the result\n    give another file name", f.json)
	}
	in, err := openInput(name)
	if err != nil {
		return err
	}
	defer in.Close()
	var d *drawing
	var opt check.Options
	var basis string
	if in.format == dossierFormat {
		d, opt, basis, err = f.ofDossier(c, name)
	} else if d, err = loadDrawing(c, in, &inputFlags{stackName: f.stack}, f.top); err == nil {
		opt.ToleranceNm, basis, err = f.toleranceOf(c, d.stack, nil)
	}
	if err != nil {
		return err
	}
	if opt.Layers, err = f.layersOf(d.stack); err != nil {
		return err
	}
	b := newBar(c, "checking "+d.top.Name)
	opt.Progress = b.set
	found, err := check.Run(c.Context(), d.lib, d.top, d.stack, opt)
	b.end()
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if f.json != "" {
		return writeTo(c, f.json, func(w io.Writer) error { return writeFindings(w, found, d.stack) })
	}
	return printFindings(c.OutOrStdout(), d.top.Name, found, d.stack, opt.ToleranceNm, basis)
}

// ofDossier reads what was traced in a dossier, and which photographs it was traced over.
func (f *checkFlags) ofDossier(c *cobra.Command, name string) (d *drawing, opt check.Options, basis string, err error) {
	if f.stack != "" {
		return nil, opt, "", usagef("%s has a stack of its own: leave --stack out\n    undermetal stack set %s %s replaces it", name, name, f.stack)
	}
	err = readDossier(c, name, func(dos *dossier.Dossier) error {
		return dos.Moment(func(m dossier.Moment) error {
			st, err := m.Stack()
			if err != nil {
				return err
			}
			lib, err := m.Library()
			if err != nil {
				return err
			}
			d = &drawing{lib: lib, top: lib.Cells[0], stack: st}
			if f.top != "" {
				if d.top, err = pickTop(name, lib, f.top); err != nil {
					return err
				}
			}
			over, err := shared.ReadOver(m)
			if err != nil {
				return err
			}
			opt.ToleranceNm, basis, err = f.toleranceOf(c, st, over)
			if d.top == lib.Cells[0] {
				opt.Shots, opt.Over, opt.Healed = over.Shots, over.Of, over.IsHealed
			}
			return err
		})
	})
	return d, opt, basis, err
}

// layersOf returns the layers that were asked for by name.
func (f *traceFlags) layersOf(st *stack.Stack) (layers []layout.Layer, err error) {
	names := st.LayerNames()
	for _, name := range f.layers {
		k := slices.Index(names, name)
		if k < 0 {
			return nil, usagef("--layer %s: there is no such layer\n    the stack has %s", name, strings.Join(names, ", "))
		}
		layers = append(layers, layout.Layer(k))
	}
	return layers, nil
}

// toleranceOf returns the tolerance in nm, and where it comes from.
func (f *traceFlags) toleranceOf(c *cobra.Command, st *stack.Stack, over *shared.Over) (int, string, error) {
	if c.Flags().Changed("tolerance") {
		if !(f.tolerance >= 0.001 && f.tolerance <= 1e6) {
			return 0, "", usagef("--tolerance %g µm: give one from 0.001 to 1000000 µm", f.tolerance)
		}
		return int(math.Round(f.tolerance * 1000)), "as given", nil
	}
	if nm, basis := over.Tolerance(st); nm > 0 {
		return nm, basis, nil
	}
	return 0, "", usagef("nothing says how well this was traced\n    give --tolerance, as in --tolerance 0.2um; a calibrated photograph or the stack's min_feature_nm would say it too")
}

// tracing is one state of a dossier, or an edit under way.
type tracing interface {
	Library() (*layout.Library, error)
	shared.Tracing
}

// layerName is the name of a layer of findings.
func layerName(st *stack.Stack, l layout.Layer) string {
	if l == st.SubstrateLayer() {
		return "substrate"
	}
	return st.Layers[l].Name
}

// mostFindings is how many findings of one code are printed; the JSON has them all.
const mostFindings = 40

// printFindings prints a table and how many there are of each code.
func printFindings(w io.Writer, name string, found []check.Finding, st *stack.Stack, tolerance int, basis string) error {
	p := &printer{w: w}
	p.f("%s: tolerance %g µm, %s\n\n", name, um(float64(tolerance)), basis)
	seen, places := map[string]int{}, map[string]int{}
	for _, f := range found {
		places[f.Code] += f.Count
	}
	if len(found) > 0 {
		p.f("%-17s  %-10s  %17s  %8s\n", "code", "layer", "place, µm", "gap, µm")
	}
	shown := map[string]int{}
	codes := slices.Clone(check.Codes) // what there is least of comes first
	slices.SortStableFunc(codes, func(a, b string) int { return places[a] - places[b] })
	found = slices.Clone(found)
	slices.SortStableFunc(found, func(a, b check.Finding) int { return slices.Index(codes, a.Code) - slices.Index(codes, b.Code) })
	for _, f := range found {
		if shown[f.Code]++; shown[f.Code] > mostFindings {
			continue
		}
		gap := ""
		if f.HasGap {
			gap = fmt.Sprintf("%.3f", um(float64(f.Gap)))
		}
		p.f("%-17s  %-10s  %17s  %8s  %s", f.Code, layerName(st, f.Layer), fmt.Sprintf("%.3f, %.3f", um(float64(f.At.X)), um(float64(f.At.Y))), gap, f.Text)
		if f.Count > 1 && !f.All {
			p.f(" (%d places alike)", f.Count)
		}
		if f.Path != "" {
			p.f(" [in %s]", f.Path)
		}
		p.f("\n")
	}
	for _, f := range found {
		seen[f.Code]++
	}
	var sums []string
	for _, code := range codes {
		if n := shown[code] - mostFindings; n > 0 {
			p.f("%-17s  %d more like these; --json has all\n", code, n)
		}
		if places[code] > 0 {
			sums = append(sums, fmt.Sprintf("%d %s", places[code], code))
		}
	}
	if len(sums) == 0 {
		p.f("nothing found\n")
	} else {
		p.f("\n%s\n", strings.Join(sums, ", "))
	}
	return p.err
}

// jsonFinding is a finding as trace check --json gives it. These names are kept.
type jsonFinding struct {
	Code  string     `json:"code"`
	Text  string     `json:"text"`
	Layer string     `json:"layer"`
	At    [2]float64 `json:"at"`
	GapNm *int       `json:"gap_nm"` // null where there is none
	Path  string     `json:"path"`
	Count int        `json:"count"`
}

func writeFindings(w io.Writer, found []check.Finding, st *stack.Stack) error {
	out := make([]jsonFinding, len(found))
	for i, f := range found {
		out[i] = jsonFinding{Code: f.Code, Text: f.Text, Layer: layerName(st, f.Layer), At: place(f.At.X, f.At.Y), Path: f.Path, Count: f.Count}
		if f.HasGap {
			out[i].GapNm = &found[i].Gap
		}
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(out)
}

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/netlist"
	"undermetal/netlist/compare"
	"undermetal/spice"
)

// errDiffer says that two circuits are not the same; all there is to say has been printed.
var errDiffer = errors.New("the circuits differ")

type compareFlags struct {
	inputFlags
	top, topB, tolerance string
	series, bulk, json   bool
	all                  bool
}

func newCompare() *cobra.Command {
	var f compareFlags
	c := &cobra.Command{
		Use:   "compare A B",
		Short: "say whether two circuits are the same, and if not, where not",
		Long: `compare reads two drawings (dossiers, GDSII, SVG, GeoJSON) or netlists and says whether they are the same circuit: up to names, with source and drain
interchangeable and parallel transistors taken together. What is bent in a drawing matches by its W and L as drawn or by its effective W/L (see
extract). Exit status 0: the same, 1: they differ.
Where they are the same, but ports (of drawings: nets with a label) have other names there, a second line says so; and so is
a port that reaches no device in one of them, as where a line ends short of its gate.

--tolerance is a length, such as 1nm or 0.05um, or a share, such as 15%; of what a hand traced take a share. A length is about W and L alone; areas and perimeters of diodes, and the values of
resistors and the like, agree within 0.1 %. A share is about all of them, where it is more than 0.1 % of these.`,
		Example: `  undermetal compare cell.sp published.cdl --top CELL
  undermetal compare cell.gds published.cdl --stack process.stack.toml --top CELL --top-b CELL`,
		Args: exactly(2, "two circuits"),
		RunE: func(c *cobra.Command, args []string) error { return doCompare(c, args[0], args[1], &f) },
	}
	f.inputFlags.flags(c)
	c.Flags().StringVar(&f.stackName, "stack", "", "stack file or built-in stack: what the layers of drawings are, and which models are n or p")
	c.Flags().StringVar(&f.top, "top", "", "the cell or circuit of A, and of B where --top-b is not given")
	c.Flags().StringVar(&f.topB, "top-b", "", "the cell or circuit of B")
	c.Flags().StringVar(&f.tolerance, "tolerance", "1nm", "how far W and L may differ, as 1nm or 1%; the latter is for area and perimeter of diodes, too")
	c.Flags().BoolVar(&f.all, "all", false, "list all differences, not only the first")
	c.Flags().BoolVar(&f.series, "series", false, "allow another order of transistors in series")
	c.Flags().BoolVar(&f.bulk, "bulk", false, "hold bulk nets against each other by name too, not by structure only")
	c.Flags().BoolVar(&f.json, "json", false, "print the result as JSON")
	return c
}

func doCompare(c *cobra.Command, nameA, nameB string, f *compareFlags) error {
	opt := compare.DefaultOptions()
	opt.Series, opt.BulkByName = f.series, f.bulk
	if err := parseTolerance(f.tolerance, &opt); err != nil {
		return err
	}
	if err := f.check(c); err != nil {
		return err
	}
	a, err := loadCircuit(c, nameA, &f.inputFlags, f.top)
	if err != nil {
		return err
	}
	topB := f.topB
	if topB == "" {
		topB = f.top
	}
	b, err := loadCircuit(c, nameB, &f.inputFlags, topB)
	if err != nil {
		return err
	}
	if err := f.checkUsed(c); err != nil {
		return err
	}
	wait := newClock(c, fmt.Sprintf("comparing %s with %d", counted(len(a.Devices), "device"), len(b.Devices)))
	res, err := compare.Compare(c.Context(), a, b, opt)
	wait.end()
	if err != nil {
		return err
	}
	res.Renamed = slices.DeleteFunc(res.Renamed, asWritten(a, b))
	if f.json {
		err = printCompareJSON(c.OutOrStdout(), res)
	} else {
		err = printCompare(c.OutOrStdout(), res, f.all)
		if err == nil {
			err = printBare(c.OutOrStdout(), res, [2]*netlist.Circuit{a, b}, [2]string{nameA, nameB})
		}
	}
	if err == nil && !res.Same {
		return errDiffer
	}
	return err
}

// asWritten returns what tells whether one of two names is the other as a netlist is written with it, which keeps some names
// and characters for other things.
func asWritten(a, b *netlist.Circuit) func(compare.Renamed) bool {
	var written [2][]string // of circuits that can be written
	for k, c := range []*netlist.Circuit{a, b} {
		written[k], _ = spice.NetNames(c, "")
	}
	return func(r compare.Renamed) bool {
		is := func(k int, other string) bool {
			return written[k] != nil && strings.EqualFold(written[k][r.Nets[k]], other)
		}
		return is(0, r.B) || is(1, r.A)
	}
}

// parseTolerance reads a share, or a length with its unit.
func parseTolerance(s string, opt *compare.Options) error {
	number, share := strings.CutSuffix(s, "%")
	v, err := finite(number)
	if !share {
		if _, bare := finite(s); bare == nil { // which unit would it be?
			err = strconv.ErrSyntax
		} else {
			v, err = parseQuantity(s, "nm")
		}
	}
	if err != nil || v < 0 {
		return usagef("--tolerance %s: write a length or a share that is not negative, such as 1nm, 0.05um or 1%%", s)
	}
	opt.ToleranceNm, opt.ToleranceRel = 0, 0
	if share {
		opt.ToleranceRel = v / 100
	} else {
		opt.ToleranceNm = v
	}
	return nil
}

// mostDifferences are listed without --all.
const mostDifferences = 20

func printCompare(w io.Writer, res *compare.Result, all bool) error {
	p := &printer{w: w}
	if res.Same {
		p.f("the same circuit: %s matched\n", counted(res.Matched, "device"))
		if len(res.Renamed) > 0 {
			var names []string
			for _, r := range res.Renamed {
				names = append(names, fmt.Sprintf("%s is %s there", r.A, r.B))
			}
			p.f("names differ: %s\n", someNames(names))
		}
		return p.err
	}
	n := len(res.Differences)
	p.f("not the same circuit: %s matched, %s\n", counted(res.Matched, "device"), counted(n, "difference"))
	for i, d := range res.Differences {
		if i == mostDifferences && n > i+1 && !all {
			p.f("  and %d more: --all lists them\n", n-i)
			break
		}
		p.f("  %s\n", d.Text)
	}
	if !slices.ContainsFunc(res.Differences, func(d compare.Difference) bool { return d.Kind != "size" && d.Kind != "more" }) {
		p.f("devices are joined alike, only sizes differ: --tolerance says how far they may, as in --tolerance 10%%\n")
	}
	return p.err
}

// printBare says which names lie on no device in one circuit, and on some in the other.
func printBare(w io.Writer, res *compare.Result, circuits [2]*netlist.Circuit, names [2]string) error {
	p := &printer{w: w}
	for _, x := range res.Bare {
		k := strings.Index("AB", x.In)
		p.f("names differ: %s reaches no device in %s, and does in %s", x.Name, names[k], names[1-k])
		if x.Stand != netlist.NoNet {
			n := &circuits[k].Nets[x.Stand]
			switch {
			case n.Name != "" && n.Layer == "":
				p.f("; what is joined like it there is %s", n.Name)
			case n.Layer != "":
				p.f("; what is joined like it there is on %s at %.3f, %.3f µm", n.Layer, um(float64(n.At.X)), um(float64(n.At.Y)))
			}
		}
		p.f("\n")
	}
	return p.err
}

type jsonCompare struct {
	Version     int              `json:"version"`
	Same        bool             `json:"same"`
	Matched     int              `json:"matched"`
	Differences []jsonDifference `json:"differences"`
	Renamed     []jsonRenamed    `json:"renamed"`
	Bare        []jsonBare       `json:"bare"`
}

// jsonBare is a name that lies on no device in one circuit, "A" or "B", and on some in the other.
type jsonBare struct {
	Name string `json:"name"`
	In   string `json:"in"`
}

type jsonRenamed struct {
	A string `json:"a"`
	B string `json:"b"`
}

type jsonDifference struct {
	Kind string      `json:"kind"`
	Text string      `json:"text"`
	A    string      `json:"a"`
	B    string      `json:"b"`
	At   *[2]float64 `json:"at"`
}

func printCompareJSON(w io.Writer, res *compare.Result) error {
	out := jsonCompare{Version: jsonVersion, Same: res.Same, Matched: res.Matched, Differences: []jsonDifference{}, Renamed: []jsonRenamed{}, Bare: []jsonBare{}}
	for _, x := range res.Bare {
		out.Bare = append(out.Bare, jsonBare{x.Name, x.In})
	}
	for _, r := range res.Renamed {
		out.Renamed = append(out.Renamed, jsonRenamed{r.A, r.B})
	}
	for _, d := range res.Differences {
		j := jsonDifference{Kind: d.Kind, Text: d.Text, A: d.A, B: d.B}
		if d.At != nil {
			at := place(d.At.X, d.At.Y)
			j.At = &at
		}
		out.Differences = append(out.Differences, j)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	if err := enc.Encode(out); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}

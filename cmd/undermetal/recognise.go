package main

import (
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/recognise"
	"undermetal/recognise/library"
)

// recogniseFlags are the flags of undermetal recognise.
type recogniseFlags struct {
	inputFlags
	top, show, json, patterns string
	missing                   int
	all                       bool
}

func newRecognise() *cobra.Command {
	var f recogniseFlags
	c := &cobra.Command{
		Use:   "recognise INPUT",
		Short: "say what groups of devices are",
		Long: `recognise proposes what groups of devices of a circuit are: pixels and what reads them, mirrors, amplifiers, pumps, gates, latches,
memory cells. INPUT is a dossier, a drawing with --stack, or a SPICE netlist. Equal fits on a lattice become one array, with the nets of its
rows and columns, and the members that are not like the others. Fits that lack a piece, or have one too many, are listed apart, the likeliest
first, with where to look for it; up to --missing pieces. Weights are decibans: ten times the logarithm of how much less likely devices
joined by chance would come out like that. Of fits that lack something they are odds, 10 dB for ten to one: how many unexplained devices
there are to choose from counts against them, and whole fits of the pattern elsewhere in the circuit count for them.

--show ID tells one in full. An ID may be cut short. It stays the same as long as the pattern is found in the same place; of a
netlist without places it goes by the names of devices.

--patterns DIR adds patterns of your own, a SPICE subcircuit a file with a header as those in the library have; one that has the name of
one of the library takes its place. What is wrong with a file is told, and the file left out.`,
		Example: `  undermetal recognise kiln.dossier
  undermetal recognise kiln.dossier --show kqxw
  undermetal recognise cell.gds --stack process.stack.toml --json -
  undermetal recognise macro.cdl --missing 0 --patterns my-patterns`,
		Args: jsonOr(&f.json, exactly(1, "one dossier, drawing or SPICE netlist")),
		RunE: func(c *cobra.Command, args []string) error { return doRecognise(c, args[0], &f) },
	}
	f.inputFlags.flags(c)
	p := c.Flags()
	p.StringVar(&f.stackName, "stack", "", "stack file, or the name of a built-in stack")
	p.StringVar(&f.top, "top", "", "the cell or circuit; must be given where several are placed by no other")
	p.StringVar(&f.show, "show", "", "tell the suggestion with this ID in full")
	p.IntVar(&f.missing, "missing", 1, "how many pieces a fit may lack, or have too many: 0 to 2")
	p.StringVar(&f.patterns, "patterns", "", "folder with patterns of your own; for questions they are no evidence")
	p.BoolVar(&f.all, "all", false, "list every suggestion by itself")
	p.StringVar(&f.json, "json", "", "print the suggestions as JSON, or write them to a file with --json=FILE")
	p.Lookup("json").NoOptDefVal = "-"
	return c
}

// recognised is a circuit with what was recognised in it.
type recognised struct {
	name      string
	circuit   *netlist.Circuit
	extracted bool // it has places, and ids as extract --json gives them
	devices   []string
	nets      []string
	about     []aboutDevice // by device; nil: nothing was asked
	looked    func(geom.Point) bool
	res       *recognise.Result
	all       []recognise.Suggestion
	short     []string
	id        map[*recognise.Fit]int // which suggestion tells of a fit by itself
}

func doRecognise(c *cobra.Command, name string, f *recogniseFlags) error {
	switch {
	case f.missing < 0 || f.missing > 2:
		return usagef("--missing %d: from 0 to 2 pieces may be missing", f.missing)
	case f.show != "" && f.json != "":
		return usagef("--json tells all suggestions: leave --show out")
	case f.json != "" && f.json != "-" && (sameFile(f.json, name) || sameFile(f.json, f.stackName)):
		return usagef("%s would be overwritten by the result\n    give another file name", f.json)
	}
	if err := f.check(c); err != nil {
		return err
	}
	patterns, err := readPatterns(c, f.patterns)
	if err != nil {
		return err
	}
	r, err := loadToRecognise(c, name, &f.inputFlags, f.top)
	if err != nil {
		return err
	}
	if err := f.checkUsed(c); err != nil {
		return err
	}
	if err := r.find(c, recognise.Options{Patterns: patterns, Missing: f.missing, Looked: r.looked}); err != nil {
		return err
	}
	switch {
	case f.json != "":
		return writeTo(c, f.json, func(w io.Writer) error { return r.writeJSON(w) })
	case f.show != "":
		i, err := r.called("--show", f.show)
		if err != nil {
			return err
		}
		p := &printer{w: c.OutOrStdout()}
		r.show(p, i)
		if p.err != nil {
			return p.err
		}
		return r.draw(c, i)
	}
	return r.list(c.OutOrStdout(), f.all)
}

// readPatterns returns the patterns of the library with those of a user's folder, and tells of files that are none.
func readPatterns(c *cobra.Command, dir string) ([]*library.Pattern, error) {
	if dir == "" {
		return nil, nil
	}
	if info, err := os.Stat(dir); err != nil {
		return nil, inputError(dir, err)
	} else if !info.IsDir() {
		return nil, usagef("--patterns %s is a file: give the folder that it lies in", dir)
	}
	own, faults := library.Load(os.DirFS(dir))
	p := &printer{w: c.ErrOrStderr()}
	for _, x := range faults {
		p.f("%s\n", strings.TrimSuffix(dir, "/")+"/"+strings.ReplaceAll(x.String(), "\n    ", "; ")+"; left out")
	}
	replaced := map[string]bool{}
	for _, x := range own {
		replaced[strings.ToLower(x.Name)] = true
	}
	all := own
	for _, x := range library.Embedded() {
		if !replaced[strings.ToLower(x.Name)] {
			all = append(all, x)
		}
	}
	return all, p.err
}

// loadToRecognise reads a dossier, a drawing or a netlist as a flat circuit with ids.
func loadToRecognise(c *cobra.Command, name string, f *inputFlags, top string) (*recognised, error) {
	in, err := openInput(name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	r := &recognised{name: name}
	if in.format == spiceFormat {
		if r.circuit, err = loadCircuit(c, name, f, top); err != nil {
			return nil, err
		}
		for i := range r.circuit.Devices {
			r.devices = append(r.devices, r.circuit.Devices[i].Name)
		}
		r.nets = netIDs(r.circuit)
		return r, nil
	}
	d, err := loadDrawing(c, in, f, top)
	if err != nil {
		return nil, err
	}
	read, err := followReadings(c, d, wanted{solve: solveNothing})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	r.extracted, r.circuit, r.about = true, read.res.Circuit, read.about
	r.devices, r.nets = deviceIDs(r.circuit, read.res.Paths()), netIDs(r.circuit)
	r.looked = recognise.LookedAt(d.lib.Traced)
	return r, printWarnings(c.ErrOrStderr(), read.res.Warnings)
}

// find recognises, with a progress bar.
func (r *recognised) find(c *cobra.Command, opt recognise.Options) error {
	b := newBar(c, "recognising "+r.circuit.Name)
	defer b.end()
	opt.Progress = func(done float64) { b.set(int(done*1000), 1000) }
	var err error
	if r.res, err = recognise.Find(c.Context(), r.circuit, opt); err != nil {
		return fmt.Errorf("%s: %w", r.name, err)
	}
	r.all = recognise.Suggestions(r.circuit, r.res)
	ids := make([]string, len(r.all))
	r.id = map[*recognise.Fit]int{}
	for i := range r.all {
		ids[i] = r.all[i].ID
		if r.all[i].Array == nil {
			r.id[r.all[i].Fit] = i
		}
	}
	r.short = shortened(ids)
	return c.Context().Err()
}

// called returns the one suggestion that a flag's text names.
func (r *recognised) called(flag, text string) (int, error) {
	var found []int
	var names []string
	for i := range r.all {
		if r.all[i].ID == text {
			return i, nil
		}
		if strings.HasPrefix(shortID(r.all[i].ID), text) || strings.HasPrefix(r.all[i].ID, text) {
			found = append(found, i)
			names = append(names, fmt.Sprintf("%s (%s)", r.short[i], r.all[i].ID))
		}
	}
	switch len(found) {
	case 0:
		return 0, noSuggestion{fmt.Errorf("%s: %s %s: there is no such suggestion\n    undermetal recognise %s --all lists them", r.name, flag, harmless(text, ""), word(r.name))}
	case 1:
		return found[0], nil
	}
	return 0, fmt.Errorf("%s: %s %s is the beginning of %d suggestions\n    more letters tell them apart: %s", r.name, flag, harmless(text, ""), len(found), harmless(someNames(names), ""))
}

// noSuggestion says that nothing is called so.
type noSuggestion struct{ error }

// net calls a net as people do: by its name, else by its id.
func (r *recognised) net(n netlist.Net) string {
	switch {
	case n == netlist.NoNet:
		return "nothing"
	case r.circuit.Nets[n].Name != "":
		return r.circuit.Nets[n].Name
	}
	return r.nets[n]
}

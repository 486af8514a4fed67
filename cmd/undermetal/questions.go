package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/netlist/check"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise/question"
)

// questionsFlags are the flags of undermetal questions.
type questionsFlags struct {
	inputFlags
	traceFlags
	top, show, picture, json string
	kinds, priors            []string
	answers                  []string
	withdraw                 []string
	note                     string
	all, force, here         bool
}

func newQuestions() *cobra.Command {
	var f questionsFlags
	c := &cobra.Command{
		Use:   "questions INPUT",
		Short: "ask where a drawing has more than one plausible reading",
		Long: `questions extracts what was traced in a dossier, or a drawing with --stack, and lists where it has more than one
plausible reading: transistor or capacitor, n or p, photodiode, wire or resistor, gaps, contacts, floating gates, bulks,
sizes out of family. The worst come first: those that are most uncertain and touch the most devices. Odds are told in words
and in decibans (dB, ten times the logarithm of the odds). What the evidence has decided, 100:1 or better, is listed with
--all; but a gate with one net on all diffusion beside it is listed whatever the odds, until you answer. Places are in µm of
the frame; a question of a cell is one for all its placements that look alike.

--show ID tells one in full: its readings, what speaks for and against, what was not looked at and which look promises most.
An ID may be cut short. --picture draws the place: the photographs there with the tracing over them, two of them side by
side where two are registered, or the tracing alone.

--answer ID=READING settles one in a dossier, as one edit that undermetal undo takes back; extract follows it. It is kept
with the cell that the structure is drawn in, and holds for all its placements; what was drawn several times, turned or mirrored or as it
is, is one question, and its answer is kept in each place. --here keeps it for the place that is told alone. --withdraw ID takes all
answers to a question back; where it has several, --show tells what each is called by (v3), and --withdraw v3 takes back one.

--prior READING=DB says what you believe of a reading before anything is looked at, in dB, instead of the table's figure.`,
		Example: `  undermetal questions kiln.dossier
  undermetal questions kiln.dossier --show kqxw --picture place.png
  undermetal questions kiln.dossier --answer kqxw=capacitor --note "the far side was looked at"
  undermetal questions kiln.dossier --withdraw kqxw
  undermetal questions cell.gds --stack process.stack.toml --kind polarity --json -
  undermetal questions kiln.dossier --prior capacitor=-3`,
		Args: jsonOr(&f.json, exactly(1, "one dossier or drawing")),
		RunE: func(c *cobra.Command, args []string) error { return doQuestions(c, args[0], &f) },
	}
	f.inputFlags.flags(c)
	p := c.Flags()
	p.StringVar(&f.stackName, "stack", "", "stack file, or the name of a built-in stack")
	p.StringVar(&f.top, "top", "", "the cell to look at; must be given where several are placed by no other")
	p.Var(quantity{&f.tolerance, "µm"}, "tolerance", "gaps up to this are asked about, in µm; by default as for trace check")
	p.StringArrayVar(&f.kinds, "kind", nil, "this kind of question only; may be given several times")
	p.BoolVar(&f.all, "all", false, "also what the evidence has decided")
	p.StringArrayVar(&f.priors, "prior", nil, "READING=DB: what is believed of a reading beforehand; may be given several times")
	p.StringVar(&f.show, "show", "", "tell the question with this ID in full")
	p.StringVar(&f.picture, "picture", "", "with --show: draw the place to this PNG file")
	p.BoolVar(&f.force, "force", false, "replace the picture's file where it is there already")
	p.StringArrayVar(&f.answers, "answer", nil, "ID=READING: settle a question; may be given several times")
	p.BoolVar(&f.here, "here", false, "with --answer: for this place alone, not for all placements of its cell")
	p.StringVar(&f.note, "note", "", "with --answer: a remark to keep with it")
	p.StringArrayVar(&f.withdraw, "withdraw", nil, "take back the answers to the question with this ID, or one answer; may be given several times")
	p.StringVar(&f.json, "json", "", "print the questions as JSON, or write them to a file with --json=FILE")
	p.Lookup("json").NoOptDefVal = "-"
	return c
}

// checkCall returns an error where flags do not go together.
func (f *questionsFlags) checkCall(c *cobra.Command, name string) error {
	for _, out := range []string{f.json, f.picture} {
		if out != "" && out != "-" && (sameFile(out, name) || sameFile(out, f.stackName)) {
			return usagef("%s would be overwritten by the result\n    give another file name", out)
		}
	}
	edits := len(f.answers)+len(f.withdraw) > 0
	switch given := given(c, []string{"show", "json", "picture"}); {
	case edits && len(given) > 0:
		return usagef("--answer and --withdraw change the dossier: leave --%s out, and give it in a call of its own", given[0])
	case f.show != "" && f.json != "":
		return usagef("--json tells all questions: leave --show out")
	case f.picture != "" && f.show == "":
		return usagef("--picture draws the place of one question: --show ID says which")
	case len(f.answers) == 0 && (f.note != "" || f.here):
		return usagef("--note and --here belong to an answer: add --answer ID=READING")
	}
	for _, k := range f.kinds {
		if !slices.Contains(question.Kinds(), k) {
			return usagef("--kind %s: there is no such kind\n    there are %s", k, strings.Join(question.Kinds(), ", "))
		}
	}
	return f.check(c)
}

// prior returns what the user believes, by kind and reading.
func (f *questionsFlags) prior() (map[string]map[string]float64, error) {
	prior := map[string]map[string]float64{}
	for _, text := range f.priors {
		reading, figure, ok := strings.Cut(text, "=")
		db, err := finite(strings.TrimSpace(figure))
		if !ok || err != nil || db < -200 || db > 200 {
			return nil, usagef("--prior %s: give a reading and its decibans, from -200 to 200, as in --prior capacitor=-3", text)
		}
		found := false
		for _, kind := range question.Kinds() {
			if !slices.Contains(question.Readings(kind), reading) || len(f.kinds) > 0 && !slices.Contains(f.kinds, kind) {
				continue
			}
			if found = true; prior[kind] == nil {
				prior[kind] = map[string]float64{}
			}
			prior[kind][reading] = db
		}
		if !found {
			var all []string
			for _, kind := range question.Kinds() {
				if len(f.kinds) == 0 || slices.Contains(f.kinds, kind) {
					all = append(all, question.Readings(kind)...)
				}
			}
			slices.Sort(all)
			return nil, usagef("--prior %s: no question has the reading %q\n    there are %s", text, reading, strings.Join(slices.Compact(all), ", "))
		}
	}
	return prior, nil
}

// asking is a drawing with its questions.
type asking struct {
	name    string
	d       *drawing
	res     *extract.Result // as drawn, and solved
	solve   solving
	sizes   []measure.Size
	qs      []question.Question // all, the worst first
	short   []string
	devices []string // ids
	nets    []string // ids
	prior   map[string]map[string]float64
	basis   string // of the tolerance; empty: no gaps were looked for, as missing says
	missing string
	notes   []string // by extract.Result.Verdicts: the remark that it was given with
	kept    []shared.Kept
}

// checkedKinds are the kinds of question that findings of netlist/check lead to.
var checkedKinds = []string{question.NearMiss, question.Contact, question.SuppliesShorted}

// ask extracts a drawing and asks.
func (f *questionsFlags) ask(c *cobra.Command, name string, d *drawing, over *shared.Over) (*asking, error) {
	a := &asking{name: name, d: d}
	var err error
	if a.prior, err = f.prior(); err != nil {
		return nil, err
	}
	var found []check.Finding
	if len(f.kinds) == 0 || slices.ContainsFunc(f.kinds, func(k string) bool { return slices.Contains(checkedKinds, k) }) {
		if found, err = f.findings(c, a, over); err != nil {
			return nil, err
		}
	}
	a.solve = solveSizes
	if d.traced != nil {
		a.solve = solveSigmas
	}
	if a.res, err = extractOnly(c, d, extract.Options{Outlines: true, Facts: true}); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	sol, err := solveAll(c, a.res, a.solve)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	a.sizes = d.sizes(a.res, sol)
	b := newBar(c, "asking about "+d.top.Name)
	a.qs, err = question.Ask(c.Context(), a.res, d.stack, found, question.Options{Prior: a.prior, Traced: d.lib.Traced, Kinds: f.kinds, All: true, Progress: b.set})
	b.end()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	a.short = shortIDs(a.qs)
	a.nets = netIDs(a.res.Circuit)
	leads, err := leadsOf(c, d, a.res)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	a.devices = idsWithLeads(a.res, leads)
	a.findShots()
	return a, c.Context().Err()
}

// findings looks for gaps and contacts; without a tolerance it does not.
func (f *questionsFlags) findings(c *cobra.Command, a *asking, over *shared.Over) ([]check.Finding, error) {
	tolerance, basis, err := f.toleranceOf(c, a.d.stack, over)
	if err != nil {
		if c.Flags().Changed("tolerance") {
			return nil, err
		}
		a.missing = "gaps and contacts were not looked at: nothing says how well this was traced; --tolerance 0.2um would"
		return nil, nil
	}
	a.basis = fmt.Sprintf("gaps up to %g µm, %s", um(float64(tolerance)), basis)
	b := newBar(c, "checking "+a.d.top.Name)
	defer b.end()
	found, err := check.Run(c.Context(), a.d.lib, a.d.top, a.d.stack, check.Options{ToleranceNm: tolerance, Progress: b.set})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", a.name, err)
	}
	return slices.Clip(append([]check.Finding{}, found...)), nil // not nil: somebody has looked
}

// findShots says of each question over which photographs what it is about was traced, by name.
func (a *asking) findShots() {
	t := a.d.traced
	if t == nil {
		return
	}
	places := make([]layout.Place, len(a.qs))
	for i := range a.qs {
		places[i] = layout.Place{Layer: a.qs[i].On(), At: a.qs[i].At}
	}
	for i, drawn := range a.res.Drawn(places) {
		q := &a.qs[i]
		used := make([]bool, len(t.names))
		if slices.Contains(ofDevices, q.Kind) {
			for _, d := range q.Devices {
				for _, k := range a.sizes[d].Shots {
					used[k] = true
				}
			}
		}
		if o := t.origins[drawn.Shape]; o != nil {
			if k, ok := t.number[o.Shot]; ok {
				used[k] = true
			}
		}
		for k, u := range used {
			if u {
				q.Shots = append(q.Shots, t.names[k])
			}
		}
	}
}

func doQuestions(c *cobra.Command, name string, f *questionsFlags) error {
	if err := f.checkCall(c, name); err != nil {
		return err
	}
	in, err := openInput(name)
	if err != nil {
		return err
	}
	defer in.Close()
	isDossier := in.format == dossierFormat
	if isDossier && f.stackName != "" {
		return usagef("%s has a stack of its own: leave --stack out\n    undermetal stack set %s %s replaces it", name, name, f.stackName)
	}
	if len(f.answers)+len(f.withdraw) > 0 {
		if !isDossier {
			return usagef("%s is a drawing: answers are kept in a dossier\n    undermetal new NAME.dossier --stack STACK, then undermetal trace import NAME.dossier %s makes one of it", name, word(name))
		}
		return editDossier(c, name, func(dos *dossier.Dossier) error { return f.answerAll(c, name, dos) })
	}
	if isDossier {
		return readDossier(c, name, func(dos *dossier.Dossier) error {
			a, err := f.askDossier(c, name, dos)
			if err != nil {
				return err
			}
			return f.tell(c, a, dos)
		})
	}
	d, err := loadDrawing(c, in, &f.inputFlags, f.top)
	if err != nil {
		return err
	}
	if err := f.checkUsed(c); err != nil {
		return err
	}
	a, err := f.ask(c, name, d, nil)
	if err != nil {
		return err
	}
	return f.tell(c, a, nil)
}

// askDossier asks about what was traced in a dossier.
func (f *questionsFlags) askDossier(c *cobra.Command, name string, dos *dossier.Dossier) (*asking, error) {
	d, err := tracingOf(dos, name, f.top)
	if err != nil {
		return nil, err
	}
	if err := f.checkUsed(c); err != nil {
		return nil, err
	}
	over, err := shared.ReadOver(dos)
	if err != nil {
		return nil, err
	}
	return f.ask(c, name, d, over)
}

// tell prints what was asked for. dos is nil where the input is no dossier.
func (f *questionsFlags) tell(c *cobra.Command, a *asking, dos *dossier.Dossier) error {
	switch {
	case f.json != "":
		return writeTo(c, f.json, func(w io.Writer) error { return a.writeJSON(w, f.all) })
	case f.show != "":
		if err := a.readNotes(dos); err != nil {
			return err
		}
		return f.showOne(c, a, dos)
	}
	return a.list(c.OutOrStdout(), f, dos)
}

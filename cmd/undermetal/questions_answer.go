package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
)

// answering is what is to be stored or taken back, and what is said of it.
type answering struct {
	set    []dossier.Verdict // those with an ID stand in for what it had
	remove []int64
	says   []string
	what   string // for the journal
}

// answerAll keeps answers, or takes them back, and says what changes in the circuit.
func (f *questionsFlags) answerAll(c *cobra.Command, name string, dos *dossier.Dossier) error {
	if err := oneLine("note", f.note); err != nil {
		return err
	}
	a, err := f.askDossier(c, name, dos)
	if err != nil {
		return err
	}
	plan, err := f.planAnswers(a, dos)
	if err != nil {
		return err
	}
	err = dos.Edit(c.Context(), plan.what, func(tx *dossier.Tx) error {
		for _, id := range plan.remove {
			if err := tx.RemoveVerdict(id); err != nil {
				return err
			}
		}
		for i := range plan.set {
			v := &plan.set[i]
			step := tx.SetVerdict
			if v.ID == 0 {
				step = tx.AddVerdict
			}
			if err := step(v); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	before, err := withLeads(c, a.d, a.res)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p := &printer{w: c.OutOrStdout()}
	for _, s := range plan.says {
		p.f("%s\n", s)
	}
	p.f("undermetal undo %s takes it back\n", word(name))
	d, err := tracingOf(dos, name, f.top)
	if err != nil {
		return err
	}
	read, err := followReadings(c, d, wanted{solve: solveSizes})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	after := read.res
	printChange(p, before.Circuit, after.Circuit)
	printUnknown(p, plan.set, after.Circuit)
	var about []extract.Warning
	for _, w := range after.Warnings {
		if strings.HasPrefix(w.Code, "verdict-") || w.Code == "plate-on-two-nets" || w.Code == "wire-in-pieces" {
			about = append(about, w)
		}
	}
	if p.err != nil {
		return p.err
	}
	return printWarnings(c.ErrOrStderr(), about)
}

// planAnswers finds out what is to be stored, before anything is.
func (f *questionsFlags) planAnswers(a *asking, dos *dossier.Dossier) (*answering, error) {
	verdicts, err := dos.Verdicts()
	if err != nil {
		return nil, err
	}
	cells, err := dos.Cells()
	if err != nil {
		return nil, err
	}
	stored := a.stored(verdicts, cells)
	plan := &answering{}
	done := map[int]bool{}
	for _, text := range f.answers {
		id, reading, ok := strings.Cut(text, "=")
		if !ok || reading == "" {
			return nil, usagef("--answer %s: give a question and a reading, as in --answer kqxw=capacitor", text)
		}
		i, err := a.find("--answer", id)
		if err != nil {
			return nil, err
		}
		if done[i] {
			return nil, usagef("--answer %s: this question is answered twice in one call", text)
		}
		done[i] = true
		word, err := a.wordFor(&a.qs[i], reading)
		if err != nil {
			return nil, fmt.Errorf("%s: --answer %s: %w", a.name, text, err)
		}
		plan.answer(f, a, i, word, stored, cells)
	}
	for _, text := range f.withdraw {
		if err := plan.withdraw(a, text, stored, done); err != nil {
			return nil, err
		}
	}
	plan.what = "answer " + counted(len(f.answers), "question")
	switch {
	case len(f.answers) == 0:
		plan.what = "withdraw " + counted(len(f.withdraw), "answer")
	case len(f.withdraw) > 0:
		plan.what += ", withdraw " + counted(len(f.withdraw), "answer")
	case len(f.answers) == 1 && len(plan.set) > 0:
		plan.what = "answer " + plan.set[0].Kind + ": " + plan.set[0].Reading
	}
	return plan, nil
}

// wordFor returns what is stored for a reading: the reading, or the word that extraction knows it by.
func (a *asking) wordFor(q *question.Question, reading string) (string, error) {
	readings := question.Readings(q.Kind)
	if w, ok := q.Answers[reading]; ok {
		return w, nil
	}
	switch q.Kind {
	case question.Bulk:
		if slices.ContainsFunc(a.res.Circuit.Nets, func(n netlist.NetInfo) bool { return n.Name == reading }) {
			return reading, nil
		}
		if slices.Contains(readings, reading) {
			return "", fmt.Errorf("which net that is cannot be told\n    give the name of the net, as in --answer ID=VDD")
		}
		return "", fmt.Errorf("there is neither a net nor a reading of that name\n    give the name of a net, or one of %s", strings.Join(readings, ", "))
	case question.Contact:
		if on, ok := strings.CutPrefix(reading, "lands on "); ok {
			if _, known := a.d.stack.LayerNamed(on); known {
				return reading, nil
			}
			return "", fmt.Errorf("the stack has no layer %q\n    it has %s", on, strings.Join(a.d.stack.LayerNames(), ", "))
		}
		readings = append(readings, "'lands on LAYER'")
	}
	if !slices.Contains(readings, reading) {
		return "", fmt.Errorf("a question of %s has no reading %q\n    give one of %s", q.Kind, reading, strings.Join(readings, ", "))
	}
	return reading, nil
}

// answersTo returns those of stored answers that settle a question, in any of its places.
func answersTo(q *question.Question, stored []storedVerdict) (of []*storedVerdict) {
	by := map[int]bool{}
	if q.By >= 0 {
		by[q.By] = true
	}
	for i := range q.Places {
		for _, k := range q.Places[i].By {
			by[k] = true
		}
	}
	for k := range stored {
		if slices.ContainsFunc(stored[k].used, func(u int) bool { return by[u] }) {
			of = append(of, &stored[k])
		}
	}
	return of
}

// answer adds the verdicts for question i to the plan. Those that it has get the new reading, each where it is kept; else there is one
// for each cell, and place there, that its places were drawn in.
func (plan *answering) answer(f *questionsFlags, a *asking, i int, word string, stored []storedVerdict, cells []dossier.Cell) {
	q := &a.qs[i]
	was := answersTo(q, stored)
	set := a.anchors(q, f.here, cells)
	switch {
	case f.here:
		for _, s := range was {
			if q.By < 0 || s.Cell != set[0].Cell || !slices.Contains(s.used, q.By) {
				continue
			}
			if set[0].ID == 0 {
				set[0].ID = s.ID
			} else { // the same once more
				plan.remove = append(plan.remove, s.ID)
			}
		}
	case len(was) > 0:
		set = nil
		type where struct {
			cell  int64
			layer string
			at    geom.Point
		}
		there := map[where]bool{}
		for _, s := range was {
			if k := (where{s.Cell, s.Layer, s.At}); there[k] {
				plan.remove = append(plan.remove, s.ID)
			} else {
				there[k] = true
				set = append(set, dossier.Verdict{ID: s.ID, Cell: s.Cell, Layer: s.Layer, At: s.At, Kind: s.Kind})
			}
		}
	}
	for k := range set {
		set[k].Reading, set[k].Note = word, f.note
	}
	before := ""
	if len(was) > 0 {
		before = ", was " + was[0].Reading
	}
	plan.set = append(plan.set, set...)
	plan.says = append(plan.says, fmt.Sprintf("%s: %s is %s%s (%s)", a.short[i], inWords(q.Kind), word, before, a.whereKept(set, cells)))
}

// whereKept says where answers are kept.
func (a *asking) whereKept(set []dossier.Verdict, cells []dossier.Cell) string {
	var says []string
	die := 0
	for i := range set {
		v := &set[i]
		k := slices.IndexFunc(cells, func(c dossier.Cell) bool { return c.ID == v.Cell })
		if v.Cell == dossier.Frame || k < 0 {
			if die++; die == 1 {
				says = append([]string{fmt.Sprintf("at %.3f, %.3f µm of the die", um(float64(v.At.X)), um(float64(v.At.Y)))}, says...)
			}
		} else if s := fmt.Sprintf("in cell %s, for all its placements", cells[k].Name); !slices.Contains(says, s) {
			says = append(says, s)
		}
	}
	if die > 1 {
		says[0] += fmt.Sprintf(" and in %s like it", counted(die-1, "place"))
	}
	return strings.Join(says, "; ")
}

// anchors returns where the answer to a question is kept: at its places of the cells whose drawings cover them, or of the die.
func (a *asking) anchors(q *question.Question, here bool, cells []dossier.Cell) []dossier.Verdict {
	at := []question.Anchor{{Cell: a.d.top, At: q.At}}
	if !here { // else in the cell that was looked at, which is the die unless --top names another
		at = q.Anchors(a.res, a.d.lib, a.d.top)
	}
	var out []dossier.Verdict
	for _, k := range at {
		v := dossier.Verdict{Cell: dossier.Frame, Layer: q.Layer, At: k.At, Kind: q.Kind}
		for _, c := range cells {
			if c.Name == k.Cell.Name && k.Cell != a.d.lib.Cells[0] {
				v.Cell = c.ID
			}
		}
		out = append(out, v)
	}
	return out
}

// place says where an answer is kept, and what it is called by.
func (s *storedVerdict) place() string {
	return fmt.Sprintf("%s at %.3f, %.3f µm of cell %s", s.handle(), um(float64(s.At.X)), um(float64(s.At.Y)), s.cell)
}

// withdraw adds taking back an answer to the plan. text names its question, all of whose answers are taken back, or one answer.
func (plan *answering) withdraw(a *asking, text string, stored []storedVerdict, done map[int]bool) error {
	for k := range stored {
		if s := &stored[k]; s.handle() == text {
			plan.remove = append(plan.remove, s.ID)
			plan.says = append(plan.says, fmt.Sprintf("%s: the answer %s of %s in cell %s is withdrawn", text, s.Reading, s.Kind, s.cell))
			return nil
		}
	}
	i, err := a.find("--withdraw", text)
	if err != nil {
		return err
	}
	if done[i] {
		return usagef("--withdraw %s: this question is answered or withdrawn in the same call", text)
	}
	done[i] = true
	was := answersTo(&a.qs[i], stored)
	if len(was) == 0 {
		return fmt.Errorf("%s: --withdraw %s: this question has no answer\n    undermetal questions %s lists those that have one", a.name, text, word(a.name))
	}
	says := fmt.Sprintf("%s: %s is open again, was %s", a.short[i], inWords(a.qs[i].Kind), a.qs[i].Verdict)
	if len(was) > 1 {
		says += fmt.Sprintf("; it had %s, and all are taken back:", counted(len(was), "answer"))
	}
	for _, s := range was {
		plan.remove = append(plan.remove, s.ID)
		if len(was) > 1 {
			says += "\n    " + s.place()
		}
	}
	plan.says = append(plan.says, says)
	return nil
}

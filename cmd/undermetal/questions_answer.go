package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout/dossier"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
)

// answering is what is to be stored or taken back, and what is said of it.
type answering struct {
	shared.Answering
	says []string
	what string // for the journal
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
	before, err := withLeads(c, a.d, a.res, a.solve)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if err := dos.Edit(c.Context(), plan.what, plan.Do); err != nil {
		return err
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
	read, err := followReadings(c, d, wanted{solve: a.solve})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	after := read.res
	printChange(p, before.Circuit, after.Circuit)
	printUnknown(p, plan.Set, after.Circuit)
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
	stored, cells, err := a.stored(dos)
	if err != nil {
		return nil, err
	}
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
		if err := plan.answer(f, a, i, word, stored, cells); err != nil {
			return nil, err
		}
	}
	for _, text := range f.withdraw {
		if err := plan.withdraw(a, text, stored, cells, done); err != nil {
			return nil, err
		}
	}
	plan.what = "answer " + counted(len(f.answers), "question")
	switch {
	case len(f.answers) == 0:
		plan.what = "withdraw " + counted(len(f.withdraw), "answer")
	case len(f.withdraw) > 0:
		plan.what += ", withdraw " + counted(len(f.withdraw), "answer")
	case len(f.answers) == 1 && len(plan.Set) > 0:
		plan.what = "answer " + plan.Set[0].Kind + ": " + plan.Set[0].Reading
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

// answer adds the verdicts for question i to the plan.
func (plan *answering) answer(f *questionsFlags, a *asking, i int, word string, stored []shared.Kept, cells []dossier.Cell) error {
	q := &a.qs[i]
	anchors, err := shared.Anchors(q, a.res, a.d.lib, a.d.top, cells, f.here)
	if err != nil {
		return fmt.Errorf("%s: %w", a.name, err)
	}
	set, was := plan.Answer(q, word, f.note, anchors, stored, f.here)
	if was != "" {
		was = ", was " + was
	}
	plan.says = append(plan.says, fmt.Sprintf("%s: %s is %s%s (%s)", a.short[i], inWords(q.Kind), word, was, whereKept(set, cells)))
	return nil
}

// whereKept says where answers are kept.
func whereKept(set []dossier.Verdict, cells []dossier.Cell) string {
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

// keptAt says where an answer is kept, and what it is called by.
func keptAt(s *shared.Kept) string {
	return fmt.Sprintf("%s at %.3f, %.3f µm of cell %s", handle(s), um(float64(s.At.X)), um(float64(s.At.Y)), s.In)
}

// withdraw adds taking back an answer to the plan. text names its question, all of whose answers are taken back, or one answer.
func (plan *answering) withdraw(a *asking, text string, stored []shared.Kept, cells []dossier.Cell, done map[int]bool) error {
	for k := range stored {
		if s := &stored[k]; handle(s) == text {
			plan.Remove = append(plan.Remove, s.ID)
			plan.says = append(plan.says, fmt.Sprintf("%s: the answer %s of %s in cell %s is withdrawn", text, s.Reading, s.Kind, s.In))
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
	anchors, err := shared.Anchors(&a.qs[i], a.res, a.d.lib, a.d.top, cells, false)
	if err != nil {
		return fmt.Errorf("%s: %w", a.name, err)
	}
	was := plan.Withdraw(&a.qs[i], anchors, stored)
	if len(was) == 0 {
		return fmt.Errorf("%s: --withdraw %s: this question has no answer\n    undermetal questions %s lists those that have one", a.name, text, word(a.name))
	}
	says := []string{fmt.Sprintf("%s: %s is open again, was %s", a.short[i], inWords(a.qs[i].Kind), was[0].Reading)}
	if len(was) > 1 {
		says[0] += fmt.Sprintf("; it had %s, and all are taken back:", counted(len(was), "answer"))
		for _, s := range was {
			says = append(says, "    "+keptAt(s))
		}
	}
	plan.says = append(plan.says, says...)
	return nil
}

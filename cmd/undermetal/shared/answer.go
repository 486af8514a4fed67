package shared

import (
	"slices"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/netlist/extract"
	"undermetal/recognise/question"
)

// Kept is an answer as the dossier keeps it.
type Kept struct {
	dossier.Verdict
	In   string // the cell's name, also of one that is gone
	Used []int  // its places in extract.Result.Verdicts
}

// Answers are those of a dossier, with what has become of them. res is the extraction of lib with st, all of one state of the dossier.
func Answers(verdicts []dossier.Verdict, cells []dossier.Cell, res *extract.Result, lib *layout.Library, st *stack.Stack) []Kept {
	name := map[int64]string{}
	for _, c := range cells {
		name[c.ID] = c.Name
	}
	name[dossier.Frame] = lib.Cells[0].Name
	var out []Kept
	for _, v := range verdicts {
		s := Kept{Verdict: v, In: v.Lost}
		if v.Cell != 0 {
			s.In = name[v.Cell]
		}
		for i := range res.Verdicts {
			u := &res.Verdicts[i]
			if u.Cell == s.In && u.Verdict.At == v.At && u.Kind == v.Kind && u.Reading == v.Reading && (v.Layer == "" || st.Layers[u.Layer].Name == v.Layer) {
				s.Used = append(s.Used, i)
			}
		}
		out = append(out, s)
	}
	return out
}

// Answers reports whether an answer that is kept is one to a question, which would be kept as at says.
func (s *Kept) Answers(q *question.Question, at *dossier.Verdict) bool {
	return q.By >= 0 && slices.Contains(s.Used, q.By) || s.Kind == q.Kind && s.Cell == at.Cell && s.At == at.At && s.Layer == at.Layer
}

// Anchor returns where the answer to a question is kept, without the reading: in the cell whose drawing covers its place, so that it
// holds in all its placements; here: at its place of the die. top is the cell that was extracted.
func Anchor(q *question.Question, res *extract.Result, lib *layout.Library, top *layout.Cell, cells []dossier.Cell, here bool) dossier.Verdict {
	v := dossier.Verdict{Cell: dossier.Frame, Layer: q.Layer, At: q.At, Kind: q.Kind}
	cell, at := top, q.At
	if !here { // else in the cell that was looked at, which is the die unless top is another
		cell, at = q.Anchor(res, lib, top)
	}
	for _, c := range cells {
		if c.Name == cell.Name && cell != lib.Cells[0] {
			v.Cell, v.At = c.ID, at
		}
	}
	return v
}

// Answering is what is to be stored and taken back, in one edit.
type Answering struct {
	Set    []dossier.Verdict // those with an ID stand in for what it had
	Remove []int64
}

// Answer adds the answer to a question: v, as Anchor makes it, with its reading. What was kept for it before is replaced where it
// stands; with here, only what is kept in the same cell. It returns what is stored, and the reading that it had.
func (a *Answering) Answer(q *question.Question, v dossier.Verdict, kept []Kept, here bool) (stored dossier.Verdict, was string) {
	anchor := v
	for k := range kept {
		s := &kept[k]
		if !s.Answers(q, &anchor) {
			continue
		}
		was = s.Reading
		if s.Cell == v.Cell || !here {
			if v.ID == 0 { // others are the same once more
				v.ID = s.ID
			} else {
				a.Remove = append(a.Remove, s.ID)
			}
			if s.Cell != v.Cell { // where it is kept stays
				v.Cell, v.Layer, v.At = s.Cell, s.Layer, s.At
			}
		}
	}
	a.Set = append(a.Set, v)
	return v, was
}

// Withdraw adds taking back the answers to a question; it reports whether there are any.
func (a *Answering) Withdraw(q *question.Question, anchor dossier.Verdict, kept []Kept) (found bool) {
	for k := range kept {
		if s := &kept[k]; s.Answers(q, &anchor) {
			a.Remove = append(a.Remove, s.ID)
			found = true
		}
	}
	return found
}

// Do does it, in an edit.
func (a *Answering) Do(tx *dossier.Tx) error {
	for _, id := range a.Remove {
		if err := tx.RemoveVerdict(id); err != nil {
			return err
		}
	}
	for i := range a.Set {
		v := &a.Set[i]
		step := tx.SetVerdict
		if v.ID == 0 {
			step = tx.AddVerdict
		}
		if err := step(v); err != nil {
			return err
		}
	}
	return nil
}

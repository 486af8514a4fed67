package shared

import (
	"fmt"
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

// settles reports whether the answer is what settles a question, in any of its places.
func (s *Kept) settles(q *question.Question) bool {
	by := func(k int) bool {
		return k == q.By || slices.ContainsFunc(q.Places, func(p question.Place) bool { return slices.Contains(p.By, k) })
	}
	return slices.ContainsFunc(s.Used, by)
}

// at reports whether the answer is kept where another one is or would be.
func (s *Kept) at(v *dossier.Verdict) bool {
	return s.Kind == v.Kind && s.Cell == v.Cell && s.At == v.At && (s.Layer == "" || s.Layer == v.Layer)
}

// Settling returns those of kept answers that settle a question, in any of its places.
func Settling(q *question.Question, kept []Kept) (of []*Kept) {
	for k := range kept {
		if s := &kept[k]; s.settles(q) {
			of = append(of, s)
		}
	}
	return of
}

// Anchors returns where answers to a question are kept so that they hold in all its places, without the reading: one for each cell, and
// place there, whose drawing covers them; here: one, at its first place of the die, or of top where that is another cell. top is what was
// extracted. A cell that the dossier has no more is an error.
func Anchors(q *question.Question, res *extract.Result, lib *layout.Library, top *layout.Cell, cells []dossier.Cell, here bool) ([]dossier.Verdict, error) {
	at := []question.Anchor{{Cell: top, At: q.At}}
	if !here {
		at = q.Anchors(res, lib, top)
	}
	var out []dossier.Verdict
	for _, k := range at {
		v := dossier.Verdict{Cell: dossier.Frame, Layer: q.Layer, At: k.At, Kind: q.Kind}
		if k.Cell != lib.Cells[0] {
			i := slices.IndexFunc(cells, func(c dossier.Cell) bool { return c.Name == k.Cell.Name })
			if i < 0 {
				return nil, fmt.Errorf("cell %q is gone", k.Cell.Name)
			}
			v.Cell = cells[i].ID
		}
		out = append(out, v)
	}
	return out, nil
}

// Answering is what is to be stored and taken back, in one edit.
type Answering struct {
	Set    []dossier.Verdict // those with an ID stand in for what it had
	Remove []int64
}

// Answer adds answering a question. anchors are those of Anchors. What settles the question in any of its places, or stands at an anchor
// with nothing done, gets the new reading and note where it stands; where nothing settles it, all other anchors get an answer, too. With
// here only its first place is answered, which changes what is kept for that place in the same cell and nothing else. It returns what is
// stored, and the reading that the question had; that is empty where it had none.
func (a *Answering) Answer(q *question.Question, reading, note string, anchors []dossier.Verdict, kept []Kept, here bool) (stored []dossier.Verdict, was string) {
	for _, s := range concerning(q, anchors, kept) {
		if was == "" {
			was = s.Reading
		}
		if here && (s.Cell != anchors[0].Cell || !slices.Contains(s.Used, q.By) && !s.at(&anchors[0])) {
			continue
		}
		v := dossier.Verdict{ID: s.ID, Cell: s.Cell, Layer: s.Layer, At: s.At, Kind: s.Kind}
		if here {
			v = anchors[0]
			v.ID = s.ID
		}
		if slices.ContainsFunc(stored, func(o dossier.Verdict) bool { return o.Cell == v.Cell && o.Layer == v.Layer && o.At == v.At }) {
			a.Remove = append(a.Remove, s.ID) // the same once more
			continue
		}
		stored = append(stored, v)
	}
	if len(Settling(q, kept)) == 0 || here && len(stored) == 0 {
		for _, v := range anchors {
			if !slices.ContainsFunc(stored, func(o dossier.Verdict) bool { return (&Kept{Verdict: o}).at(&v) }) {
				stored = append(stored, v)
			}
		}
	}
	for i := range stored {
		stored[i].Reading, stored[i].Note = reading, note
	}
	a.Set = append(a.Set, stored...)
	return stored, was
}

// Withdraw adds taking back all answers to a question, and returns them.
func (a *Answering) Withdraw(q *question.Question, anchors []dossier.Verdict, kept []Kept) []*Kept {
	all := concerning(q, anchors, kept)
	for _, s := range all {
		a.Remove = append(a.Remove, s.ID)
	}
	return all
}

// concerning returns what is kept for a question: first what settles it, then what stands where its answers would, with nothing done.
func concerning(q *question.Question, anchors []dossier.Verdict, kept []Kept) []*Kept {
	all := Settling(q, kept)
	for k := range kept {
		if s := &kept[k]; !s.settles(q) && slices.ContainsFunc(anchors, func(v dossier.Verdict) bool { return s.at(&v) }) {
			all = append(all, s)
		}
	}
	return all
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

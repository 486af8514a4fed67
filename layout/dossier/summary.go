package dossier

// Summary is what a dossier holds, in numbers.
type Summary struct {
	Bytes              int64 // of the file
	Stack              string
	Counts             []Count
	Undoable, Redoable int
	Last               Entry // the last edit that stands
}

// Count is how many there are of a thing.
type Count struct {
	What string
	N    int
}

// Summary counts.
func (d *Dossier) Summary() (s *Summary, err error) {
	err = d.Moment(func(m Moment) error { s, err = m.summary(); return err })
	if err == nil {
		s.Bytes, err = d.size()
	}
	return s, err
}

func (r reads) summary() (*Summary, error) {
	st, err := r.Stack()
	if err != nil {
		return nil, err
	}
	s := &Summary{Stack: st.Name}
	for _, c := range []struct{ what, of string }{
		{"shots", "shot"}, {"of them calibrated", "shot WHERE nm_per_px > 0"}, {"of them registered", "registration"}, {"biases of layers in shots", "bias"}, {"cells beside the die itself", "cell WHERE id > 1"}, {"shapes", "shape"},
		{"placements", "placement"}, {"labels", "label"}, {"traced areas", "traced_area"}, {"answers", "verdict"}, {"notes", "note"}, {"blocks", "block"}, {"outlines of the die", "outline"},
	} {
		n, err := r.count("SELECT count(*) FROM " + c.of)
		if err != nil {
			return nil, err
		}
		s.Counts = append(s.Counts, Count{c.what, n})
	}
	entries, err := r.History()
	for _, e := range entries {
		if e.Undone {
			s.Redoable++
			continue
		}
		s.Undoable++
		s.Last = e
	}
	return s, err
}

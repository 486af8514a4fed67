package layout

// Stated is what a drawing says itself of where the edges of a shape come from.
type Stated struct {
	SigmaNm  float64 // standard uncertainty of the edges
	HasSigma bool    // SigmaNm is said, 0 too
	Shot     string  // the name of the photograph that it was traced over; empty: not said
}

// Statements are what a drawing says of its shapes, by cell and index in Cell.Shapes. Shapes of which it says nothing are not
// in it; nil is a drawing that says nothing at all.
type Statements map[*Cell]map[int]Stated

// Set keeps what is said of the i-th shape of a cell.
func (s *Statements) Set(c *Cell, i int, v Stated) {
	if v == (Stated{}) {
		return
	}
	if *s == nil {
		*s = Statements{}
	}
	if (*s)[c] == nil {
		(*s)[c] = map[int]Stated{}
	}
	(*s)[c][i] = v
}

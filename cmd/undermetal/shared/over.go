package shared

import (
	"fmt"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
)

// Over says which shapes of the die were traced over which photographs. Its fields and methods are for check.Options.
type Over struct {
	Shots    []check.Shot // those of which all lies in the frame
	NmPerPx  float64      // of the coarsest photograph that was traced over, else of the coarsest; 0: of none
	Coarsest string       // that photograph
	shapes   []int        // by shape of the die: the index in Shots
	healed   []bool
}

// Tracing is one state of a dossier, or an edit under way.
type Tracing interface {
	Shapes(cell int64) ([]dossier.Shape, error)
	Shots() ([]dossier.Shot, error)
	Locate(*dossier.Shot) (*dossier.Located, error)
}

// ReadOver reads where the photographs lie, as far as that is known, and what was traced over them.
func ReadOver(m Tracing) (*Over, error) {
	shapes, err := m.Shapes(dossier.Frame)
	if err != nil {
		return nil, err
	}
	all, err := m.Shots()
	if err != nil {
		return nil, err
	}
	used := map[int64]bool{}
	for _, s := range shapes {
		used[s.Shot] = true
	}
	o := &Over{}
	index := map[int64]int{}
	usedScale := false
	for i := range all {
		l, err := m.Locate(&all[i])
		if err != nil {
			return nil, err
		}
		if l.ToFrame == nil {
			continue
		}
		x, y := l.NmPerPx(l.Middle())
		if k := max(x, y); used[l.ID] && !usedScale || used[l.ID] == usedScale && k > o.NmPerPx {
			o.NmPerPx, o.Coarsest, usedScale = k, l.Name, used[l.ID]
		}
		if outline := l.Outline(); outline != nil {
			index[l.ID] = len(o.Shots)
			o.Shots = append(o.Shots, check.Shot{Name: l.Name, Outline: outline})
		}
	}
	for _, s := range shapes {
		k, ok := index[s.Shot]
		switch {
		case !ok && s.Shot != 0:
			k = -2
		case !ok:
			k = -1
		}
		o.shapes, o.healed = append(o.shapes, k), append(o.healed, s.Method == "heal")
	}
	return o, nil
}

// Of returns the index in Shots of what a shape of the die was traced over; -1: nothing, -2: a photograph that is not there.
func (o *Over) Of(shape int) int { return o.shapes[shape] }

// IsHealed reports whether a shape of the die was made to close a gap.
func (o *Over) IsHealed(shape int) bool { return o.healed[shape] }

// Tolerance returns up to which distance, in nm, a hand may have missed: 2 px of the photograph, else a quarter of the smallest
// feature of the stack. basis says which; 0 and empty where nothing says it. o may be nil.
func (o *Over) Tolerance(st *stack.Stack) (nm int, basis string) {
	switch {
	case o != nil && o.NmPerPx > 0:
		return max(1, geom.RoundHalfUp(2*o.NmPerPx)), "2 px of " + o.Coarsest
	case st.Process.MinFeatureNm > 0:
		return max(1, geom.RoundHalfUp(st.Process.MinFeatureNm/4)), fmt.Sprintf("a quarter of the stack's smallest feature, %g µm", st.Process.MinFeatureNm/1000)
	}
	return 0, ""
}

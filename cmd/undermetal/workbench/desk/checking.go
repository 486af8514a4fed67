package desk

import (
	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/stack"
	"undermetal/netlist/check"
	"undermetal/netlist/measure"
)

// checking is what the checks and the sizes need to know of photographs.
type checking struct {
	opt    check.Options
	number map[int64]int // of photographs, by id
	scales []float64     // standard uncertainty as a part, by number, but for the frame's
	frame  []float64     // that of the frame's in theirs
	biases map[biased]measure.Bias
	known  bool              // of a bias more than how uncertain it is
	shapes [][]dossier.Shape // of all cells, in the order of the library
}

// biased is a layer in a photograph, by its number.
type biased struct {
	shot  int
	layer layout.Layer
}

// readChecking reads it. The tolerance is that of undermetal trace check, 0 where nothing says one.
func readChecking(m dossier.Moment, st *stack.Stack) (c checking, err error) {
	cells, err := m.Cells()
	if err != nil {
		return c, err
	}
	for _, cell := range cells {
		shapes, err := m.Shapes(cell.ID)
		if err != nil {
			return c, err
		}
		c.shapes = append(c.shapes, shapes)
	}
	c.number = map[int64]int{}
	shots, err := m.Shots()
	if err != nil {
		return c, err
	}
	for i := range shots {
		c.number[shots[i].ID] = i
		c.scales, c.frame = append(c.scales, 0), append(c.frame, 0)
		l, err := m.Locate(&shots[i])
		if err != nil {
			return c, err
		}
		if l.ToFrame == nil {
			continue
		}
		if c.frame[i], c.scales[i], _, err = m.ScaleSigma(l); err != nil {
			return c, err
		}
	}
	over, err := shared.ReadOver(m)
	if err != nil {
		return c, err
	}
	c.opt.ToleranceNm, _ = over.Tolerance(st)
	c.opt.Shots, c.opt.Over, c.opt.Healed = over.Shots, over.Of, over.IsHealed
	biases, err := m.Biases()
	if err != nil {
		return c, err
	}
	c.biases = map[biased]measure.Bias{}
	for _, b := range biases {
		if l, known := st.LayerNamed(b.Layer); known {
			c.known = c.known || b.OutNm != 0
			c.biases[biased{c.number[b.Shot], l}] = measure.Bias{OutNm: b.OutNm, SigmaNm: b.SigmaNm}
		}
	}
	return c, nil
}

// sources say how well a snapshot is known; c was read at the same moment.
func (c *checking) sources(s *snapshot) measure.Sources {
	return measure.Sources{Origin: c.origin(s), Scales: c.scales, Frame: c.frame, Bias: func(shot int, l layout.Layer) measure.Bias { return c.biases[biased{shot, l}] }}
}

// origin says where the shapes of a snapshot come from; c was read at the same moment.
func (c *checking) origin(s *snapshot) func(*layout.Shape) measure.Origin {
	of := map[*layout.Shape]measure.Origin{}
	for k, cell := range s.lib.Cells {
		for i := range cell.Shapes {
			from := &c.shapes[k][i]
			o := measure.Origin{SigmaNm: from.SigmaNm, Shot: -1}
			if n, ok := c.number[from.Shot]; ok {
				o.Shot = n
			}
			of[&cell.Shapes[i]] = o
		}
	}
	return func(s *layout.Shape) measure.Origin {
		if o, ok := of[s]; ok {
			return o
		}
		return measure.Origin{Shot: -1}
	}
}

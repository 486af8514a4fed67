package desk

import (
	"math"

	"undermetal/layout"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
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

// readChecking reads it. The tolerance is 2 px of the coarsest photograph that was traced over, else of the coarsest, else a quarter of
// the smallest feature, as undermetal trace check takes it; 0 where nothing says one.
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
	used := map[int64]bool{}
	for i := range c.shapes[0] {
		used[c.shapes[0][i].Shot] = true
	}
	shots, err := m.Shots()
	if err != nil {
		return c, err
	}
	coarsest, usedScale := 0.0, false
	outlined := map[int64]int{}
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
		x, y := l.NmPerPx(l.Middle())
		if k := max(x, y); used[l.ID] && !usedScale || used[l.ID] == usedScale && k > coarsest {
			coarsest, usedScale = k, used[l.ID]
		}
		if c.frame[i], c.scales[i], err = scaleSigma(m, l); err != nil {
			return c, err
		}
		if o := outlineOf(l); o != nil {
			outlined[l.ID] = len(c.opt.Shots)
			c.opt.Shots = append(c.opt.Shots, check.Shot{Name: l.Name, Outline: o})
		}
	}
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
	switch {
	case coarsest > 0:
		c.opt.ToleranceNm = max(1, geom.RoundHalfUp(2*coarsest))
	case st.Process.MinFeatureNm > 0:
		c.opt.ToleranceNm = max(1, geom.RoundHalfUp(st.Process.MinFeatureNm/4))
	}
	die := c.shapes[0]
	c.opt.Healed = func(k int) bool { return die[k].Method == "heal" }
	c.opt.Over = func(k int) int {
		i, ok := outlined[die[k].Shot]
		switch {
		case ok:
			return i
		case die[k].Shot != 0:
			return -2
		}
		return -1
	}
	return c, nil
}

// outlineOf is where the rim of a photograph lies in the frame; nil where some of it lies beyond.
func outlineOf(l *dossier.Located) geom.Polygon {
	const steps = 8 // a side, since maps may bend it
	var r geom.Ring
	corners := [4]geom.Vec{{}, {X: l.Width}, {X: l.Width, Y: l.Height}, {Y: l.Height}}
	for k, a := range corners {
		b := corners[(k+1)%4]
		for i := range steps {
			t := float64(i) / steps
			v := l.ToFrame.Apply(geom.Vec{X: a.X + (b.X-a.X)*t, Y: a.Y + (b.Y-a.Y)*t})
			if !(math.Abs(v.X) <= geom.Limit && math.Abs(v.Y) <= geom.Limit) {
				return nil
			}
			r = append(r, v.Round())
		}
	}
	return geom.Polygon{r}
}

// scaleSigma is how well the lengths of a photograph are known, as a part of them: that of the frame's scale, which all
// registered ones have, and that of its map.
func scaleSigma(m dossier.Moment, l *dossier.Located) (frame, own float64, err error) {
	if l.Registration == nil {
		return 0, l.Scale.Sigma / l.Scale.NmPerPx, nil
	}
	first, fixes, err := m.FrameScale()
	if err != nil {
		return 0, 0, err
	}
	if fixes {
		frame = first.Scale.Sigma / first.Scale.NmPerPx
	}
	k, err := m.MapScale(l)
	if err != nil || math.IsNaN(k.Sigma) || k.NmPerPx == 0 {
		return frame, 0, err
	}
	return frame, k.Sigma / k.NmPerPx, nil
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

package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/register/align"
	"undermetal/layout/shot"
)

// read reads the marks that the flags give.
func (f *alignFlags) read(c *cobra.Command) (marks []align.Mark, err error) {
	given := f.file != "" || len(f.marks) > 0
	switch {
	case f.file != "" && len(f.marks) > 0:
		return nil, usagef("give --mark or --marks, not both")
	case c.Flags().Changed("within") && !given:
		return nil, usagef("--within is for marks: --mark AX,AY=BX,BY gives one, --marks FILE a file of them")
	case !(f.within >= 1 && f.within <= shot.MaxSide):
		return nil, usagef("--within %g: give 1 to %d pixels", f.within, shot.MaxSide)
	}
	if f.file != "" {
		if marks, err = readMarks(f.file); err != nil {
			return nil, err
		}
	}
	for _, text := range f.marks {
		from, to, ok := strings.Cut(text, "=")
		err := errors.New("there is no = between the two places")
		var p, q []float64
		if ok {
			if p, err = numbers(from, 2); err == nil {
				q, err = numbers(to, 2)
			}
		}
		if err != nil {
			return nil, usagef("--mark %s: %v\n    give pixels of A and of B, as in 212,3004=1870,2960", text, err)
		}
		marks = append(marks, align.Mark{A: geom.Vec{X: p[0], Y: p[1]}, B: geom.Vec{X: q[0], Y: q[1]}})
	}
	if len(marks) == 1 {
		return nil, usagef("1 mark does not say how a photograph is turned: give two at least, three or more far apart are better")
	}
	return marks, nil
}

// readMarks reads a file of marks.
func readMarks(name string) (marks []align.Mark, err error) {
	err = listOfMarks.read(name, func(in io.Reader) error {
		rows, err := listOfMarks.parse(in)
		for _, v := range rows {
			marks = append(marks, align.Mark{A: geom.Vec{X: v[0], Y: v[1]}, B: geom.Vec{X: v[2], Y: v[3]}})
		}
		return err
	})
	return marks, err
}

// checkAlignMarks returns an error where a mark lies beside its photograph.
func checkAlignMarks(a, b *dossier.Shot, marks []align.Mark) error {
	for i, m := range marks {
		for _, of := range []struct {
			s *dossier.Shot
			v geom.Vec
		}{{a, m.A}, {b, m.B}} {
			if w, h := of.s.Size(); !(of.v.X >= 0 && of.v.X <= w && of.v.Y >= 0 && of.v.Y <= h) {
				return fmt.Errorf("mark %d: (%g, %g) lies outside of %s, which has %.0f × %.0f pixels\n    undermetal shot show --ticks shows where its pixels are", i+1, of.v.X, of.v.Y, of.s.Name, w, h)
			}
		}
	}
	return nil
}

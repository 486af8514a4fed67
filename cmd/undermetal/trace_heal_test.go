package main

import (
	"context"
	"errors"

	"undermetal/layout/dossier"
	editing "undermetal/layout/edit"
	"undermetal/layout/geom"
	"undermetal/layout/stack"
)

// writeBroken makes a dossier with what a tracing by hand gets wrong, all lengths in nm:
//
//	metal1, a wire along y = 0 … 1000: A from x = 0 to 10000, a gap of 150, then on to 20000
//	metal1, another along y = 3000 … 4000 with labels B and C on either side of a gap of 100
//	metal1, two pieces along y = 6000 … 7000 with a gap of 200, in which a stub of 100 of D stands, 50 from each
//	metal2, a bow-tie whose outline crosses itself at (2000, 12000)
//	a via at (30000, 0) over nothing, one at (5000, 400) over metal1 only
//	a transistor: diffusion 40000 … 46000 × 0 … 2000, poly 42000 … 43000 from y = -500 to 1900, which ends inside, and another
//	at 44000 … 45000 from y = -500 to 2050, which passes the edge by 50
func writeBroken(name string) error {
	ctx := context.Background()
	st, err := stack.Load("cmos-1p2m")
	if err != nil {
		return err
	}
	d, err := dossier.Create(ctx, name, st)
	if err != nil {
		return err
	}
	err = d.Edit(ctx, "draw", func(tx *dossier.Tx) error {
		for _, b := range []struct {
			layer          string
			x0, y0, x1, y1 int
		}{
			{"metal1", 0, 0, 10000, 1000}, {"metal1", 10150, 0, 20000, 1000},
			{"metal1", 0, 3000, 5000, 4000}, {"metal1", 5100, 3000, 10000, 4000},
			{"metal1", 0, 6000, 5000, 7000}, {"metal1", 5200, 6000, 10000, 7000}, {"metal1", 5050, 5000, 5150, 9000},
			{"via1", 30000, 0, 30500, 500}, {"via1", 5000, 400, 5500, 900},
			{"diffusion", 40000, 0, 46000, 2000}, {"poly", 42000, -500, 43000, 1900}, {"poly", 44000, -500, 45000, 2050},
		} {
			on := editing.On{Cell: dossier.Frame, Layer: b.layer, Origin: editing.Origin{SigmaNm: 30}}
			if _, err := editing.Rectangle(tx, on, geom.Point{X: b.x0, Y: b.y0}, geom.Point{X: b.x1, Y: b.y1}); err != nil {
				return err
			}
		}
		bow := dossier.Shape{Cell: dossier.Frame, Layer: "metal2", Method: "file", Polygon: geom.Polygon{{{X: 0, Y: 10000}, {X: 4000, Y: 14000}, {X: 4000, Y: 10000}, {X: 0, Y: 14000}}}}
		if err := tx.AddShape(&bow); err != nil {
			return err
		}
		for text, at := range map[string]geom.Point{"A": {X: 100, Y: 500}, "B": {X: 100, Y: 3500}, "C": {X: 9000, Y: 3500}, "D": {X: 5100, Y: 8000}} {
			if _, err := editing.SetLabel(tx, dossier.Frame, "metal1", at, text); err != nil {
				return err
			}
		}
		return nil
	})
	return errors.Join(err, d.Close())
}

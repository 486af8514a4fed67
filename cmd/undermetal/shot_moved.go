package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
)

// registerShot registers a photograph as one edit, which the journal calls what; a dry run only says what would move.
func registerShot(c *cobra.Command, d *dossier.Dossier, s *dossier.Shot, n *dossier.Registering, what string, dryRun bool) (moved dossier.Moved, err error) {
	if dryRun {
		moved, err = d.TryRegister(s, n)
	} else {
		err = d.Edit(c.Context(), what, func(tx *dossier.Tx) (err error) {
			moved, err = tx.Register(s, n)
			return err
		})
	}
	return moved, registerError(s, err)
}

// registerError says which photograph could not be registered, and what would do it, where err is not nil.
func registerError(s *dossier.Shot, err error) error {
	switch {
	case errors.Is(err, dossier.ErrTraced):
		return fmt.Errorf("%s: %w\n    if its new place is right, --keep-shapes registers it all the same, and leaves what was traced over it", s.Name, err)
	case err != nil:
		return fmt.Errorf("%s: %w", s.Name, err)
	}
	return nil
}

// printMoved says what became of the shapes that were traced over a photograph.
func printMoved(p *printer, m dossier.Moved, dryRun bool) {
	would, all := "", 0
	if dryRun {
		would = "would be "
	}
	var texts []string
	for _, layer := range slices.Sorted(maps.Keys(m.ByLayer)) {
		n := m.ByLayer[layer]
		all += n
		texts = append(texts, fmt.Sprintf("%d on %s", n, layer))
	}
	if all > 0 {
		p.f("    %smoved with it: %s that %s traced over it (%s), by up to %.4g µm\n", would, counted(all, "shape"), wasWere(all), strings.Join(texts, ", "), um(m.Furthest))
	}
	if dryRun {
		p.f("    nothing was stored\n")
	}
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// warnMoved prints a warning where things did not move with a photograph.
func warnMoved(w io.Writer, d *dossier.Dossier, s *dossier.Shot, m dossier.Moved) error {
	p := &printer{w: w}
	if n := m.InCells; n > 0 {
		p.f("warning: %s: %s in cells that %s traced over it stayed, since cells have coordinates of their own: look where their placements lie\n", s.Name, counted(n, "shape"), wasWere(n))
	}
	if len(m.ByLayer) > 0 {
		n, err := holds(d, "labels", "placements", "traced areas", "answers", "notes", "blocks", "outlines of the die")
		if err != nil {
			return err
		}
		if n > 0 {
			p.f("warning: %s: labels, placements, traced areas, answers, notes, blocks and the die's outline (%d in all) stay where they are: nobody knows which photograph they are from\n", s.Name, n)
		}
	}
	return p.err
}

// warnLaid prints a warning where other photographs may lie by one that was registered anew.
func warnLaid(w io.Writer, d *dossier.Dossier, s *dossier.Shot) error {
	maps, err := d.Registrations()
	if err != nil {
		return err
	}
	n := 0
	for id, g := range maps {
		if id != s.ID && g.Laid() {
			n++
		}
	}
	p := &printer{w: w}
	if n > 0 {
		p.f("warning: %s: %s laid on another did not move with it: undermetal shot align lays one once more\n", s.Name, counted(n, "photograph")+" that "+wasWere(n))
	}
	return p.err
}

// warnMapScale prints a warning where a photograph's map and its calibration say different scales, with where to look.
func warnMapScale(w io.Writer, s *dossier.Shot, of dossier.MapScale, look string) error {
	if s.Scale.NmPerPx == 0 || of.Agrees(s.Scale) {
		return nil
	}
	p := &printer{w: w}
	p.f("warning: %s: by its registration %s, by its calibration %s: more than three standard deviations apart\n    %s, or calibrate it anew with --keep-shapes\n", s.Name, of.String(), s.Scale.String(), look)
	return p.err
}

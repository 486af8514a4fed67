package main

import (
	"fmt"

	"undermetal/layout/dossier"
)

// extent says how large a photograph is in the frame, where that is known, measured at its middle.
func extent(p *dossier.Located) string {
	if p.ToFrame == nil {
		return ""
	}
	x, y := p.NmPerPx(p.Middle())
	return fmt.Sprintf(", or %.5g × %.5g µm", um(p.Width*x), um(p.Height*y))
}

// reaches says which part of the frame a registered photograph shows, for errors; nothing for others, whose frame begins
// at their corner.
func reaches(p *dossier.Located) string {
	if p.Registration == nil {
		return ""
	}
	box := p.Around(0, 0, p.Width, p.Height)
	return fmt.Sprintf("\n    in the frame it reaches from (%.5g, %.5g) to (%.5g, %.5g) µm", um(float64(box.Min.X)), um(float64(box.Min.Y)), um(float64(box.Max.X)), um(float64(box.Max.Y)))
}

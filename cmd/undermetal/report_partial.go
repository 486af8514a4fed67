package main

import (
	"fmt"

	"undermetal/cmd/undermetal/report"
	"undermetal/layout/geom"
	"undermetal/recognise"
)

// partial are the fits that lack a piece, the likeliest first, with the piece, its place and the question about it. They stand apart from
// what was recognised.
func (k *collecting) partial(found *recognise.Result, names []string, about []aboutDevice) {
	if len(found.Partial) == 0 {
		return
	}
	p := &report.Partial{Note: "A known circuit would fit here if one piece were there that was not found, or were not there. That may be a mistake of the tracing, which is worth a look at the place, " +
		"or another circuit than the known one: none of these fits is counted as recognised. The weight is in decibans, for the fit against devices that are joined by chance."}
	shown := found.Partial[:min(len(found.Partial), mostPartial)]
	for i := range shown {
		f := &shown[i]
		x := report.PartialFit{Title: sentence(titleOf(f)), Where: microns(geom.Point{X: (f.Box.Min.X + f.Box.Max.X) / 2, Y: (f.Box.Min.Y + f.Box.Max.Y) / 2}), Weight: fmt.Sprintf("%.0f dB", f.Weight)}
		for _, d := range f.Devices() {
			x.Members = append(x.Members, names[d])
		}
		for _, of := range []struct {
			verb   string
			pieces []recognise.Piece
		}{{"lacks ", f.Missing}, {"has ", f.Extra}} {
			for j := range of.pieces {
				piece := &of.pieces[j]
				id := ""
				if piece.Device >= 0 {
					id = about[piece.Device].id
				}
				x.Pieces = append(x.Pieces, report.Piece{Text: of.verb + piece.Text, Question: id})
			}
		}
		p.Fits = append(p.Fits, x)
	}
	if more := len(found.Partial) - len(shown); more > 0 {
		p.More = fmt.Sprintf("%d more, which are less likely: undermetal recognise --all lists them.", more)
	}
	k.r.Partial = p
}

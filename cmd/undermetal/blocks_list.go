package main

import (
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
)

func newBlocksList() *cobra.Command {
	var asJSON, find bool
	c := &cobra.Command{
		Use:   "list DOSSIER",
		Short: "list the block map",
		Long: `list tells of each block where it lies, its area and its share of the die, how sure that is, where the diagram has it and what
speaks for it; then which blocks of a diagram have no region, which regions no diagram has, which blocks lie on each other, and how
much of the die has no name.

With --recognise the circuit is extracted, and what recognition takes groups of devices for is told with the block that they lie in: with
one that covers more than half of the box around them.`,
		Example: `  undermetal blocks list kiln.dossier
  undermetal blocks list kiln.dossier --recognise --json`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				var found []blocks.Suggestion
				if find {
					res, err := recogniseIn(c, d)
					if err != nil {
						return err
					}
					found = suggestions(res)
				}
				m, err := mapOf(d, found)
				if err != nil {
					return err
				}
				if asJSON {
					return writeMap(c.OutOrStdout(), m)
				}
				return printMap(c.OutOrStdout(), d, m)
			})
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	c.Flags().BoolVar(&find, "recognise", false, "tell what was recognised inside")
	return c
}

func printMap(w io.Writer, d *dossier.Dossier, m *blocks.Map) error {
	p := &printer{w: w}
	if len(m.Blocks) == 0 {
		p.f("no blocks yet: undermetal blocks set %s NAME --rect X0,Y0,X1,Y1 puts one on the map\n", word(d.Path))
		return p.err
	}
	for i := range m.Blocks {
		printBlock(p, m, &m.Blocks[i])
	}
	p.f("\n%s\n", dieText(m.Die))
	if m.Die.From != blocks.Unknown {
		p.f("%s of it has no name\n", percentOf(m.UncoveredNm2, m.DieNm2))
	}
	for _, l := range []struct {
		what  string
		names []string
	}{{"of a diagram, and without a region", m.NoRegion}, {"a region, and in no diagram", m.NoDiagram}} {
		if len(l.names) > 0 {
			p.f("%s: %s\n", l.what, someNames(l.names))
		}
	}
	for _, o := range m.Overlaps {
		p.f("%s and %s both cover %.6g µm²\n", o.A, o.B, o.AreaNm2/1e6)
	}
	for _, s := range m.Elsewhere {
		p.f("in no block: %d × %s, from %s to %s\n", s.Count, s.Name, microns(s.Box.Min), microns(s.Box.Max))
	}
	return p.err
}

// printBlock prints what is known of a block.
func printBlock(p *printer, m *blocks.Map, b *blocks.Block) {
	p.f("%-20s %-12s ", b.Name, b.Status)
	if len(b.Pieces) == 0 {
		p.f("no region")
	} else {
		p.f("%.6g µm²", b.AreaNm2/1e6)
		if len(b.Pieces) > 1 {
			p.f(" in %d regions", len(b.Pieces))
		}
		if m.Die.From != blocks.Unknown {
			p.f(", %s of the die", percentOf(b.Share, 1))
		}
		p.f(", from %s to %s", microns(b.Box.Min), microns(b.Box.Max))
	}
	p.f("\n")
	if b.OutsideNm2 > 0 {
		p.f("    %s of it lies outside of the die\n", percentOf(b.OutsideNm2, b.AreaNm2))
	}
	if s := cited(&b.Block); s != "" {
		p.f("    after %s\n", s)
	}
	if b.Reason != "" {
		p.wrap("    ", b.Reason)
	}
	for _, s := range b.Support {
		p.f("    recognised inside: %d × %s\n", s.Count, s.Name)
	}
}

// percentOf writes a part as percent, to three digits.
func percentOf(part, of float64) string {
	if of <= 0 {
		return "0 %"
	}
	return fmt.Sprintf("%.3g %%", 100*part/of)
}

// blockMapJSON is blocks list --json, version 1; places are µm of the frame.
type blockMapJSON struct {
	Version int `json:"version"`
	Die     struct {
		From    string           `json:"from"`
		AreaUm2 *float64         `json:"area_um2"`
		Regions [][][][2]float64 `json:"regions"`
	} `json:"die"`
	Blocks       []blockJSON   `json:"blocks"`
	NoRegion     []string      `json:"without_region"`
	NoDiagram    []string      `json:"without_diagram"`
	UncoveredUm2 *float64      `json:"uncovered_um2"`
	Overlaps     []overlapJSON `json:"overlaps"`
	Elsewhere    []supportJSON `json:"elsewhere"`
}

type blockJSON struct {
	Name       string           `json:"name"`
	Status     string           `json:"status"`
	Document   string           `json:"document"`
	Figure     string           `json:"figure"`
	Sign       string           `json:"sign"`
	Reason     string           `json:"reason"`
	AreaUm2    float64          `json:"area_um2"`
	OutsideUm2 float64          `json:"outside_um2"`
	Share      *float64         `json:"share"`
	Regions    [][][][2]float64 `json:"regions"`
	Support    []supportJSON    `json:"support"`
}

type overlapJSON struct {
	A       string  `json:"a"`
	B       string  `json:"b"`
	AreaUm2 float64 `json:"area_um2"`
}

type supportJSON struct {
	Name  string     `json:"name"`
	Count int        `json:"count"`
	Box   [4]float64 `json:"box"`
}

func writeMap(w io.Writer, m *blocks.Map) error {
	j := blockMapJSON{Version: jsonVersion, Blocks: []blockJSON{}, NoRegion: append([]string{}, m.NoRegion...), NoDiagram: append([]string{}, m.NoDiagram...), Overlaps: []overlapJSON{}, Elsewhere: supportOf(m.Elsewhere)}
	known := m.Die.From != blocks.Unknown
	j.Die.From, j.Die.Regions = m.Die.From, ringsOf(m.Die.Region)
	if known {
		die, rest := m.DieNm2/1e6, m.UncoveredNm2/1e6
		j.Die.AreaUm2, j.UncoveredUm2 = &die, &rest
	}
	for i := range m.Blocks {
		b := &m.Blocks[i]
		x := blockJSON{b.Name, b.Status, b.Document, b.Figure, b.Sign, b.Reason, b.AreaNm2 / 1e6, b.OutsideNm2 / 1e6, nil, ringsOf(b.Pieces), supportOf(b.Support)}
		if known {
			x.Share = &b.Share
		}
		j.Blocks = append(j.Blocks, x)
	}
	for _, o := range m.Overlaps {
		j.Overlaps = append(j.Overlaps, overlapJSON{o.A, o.B, o.AreaNm2 / 1e6})
	}
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	return e.Encode(j)
}

func supportOf(all []blocks.Support) []supportJSON {
	out := []supportJSON{}
	for _, s := range all {
		a, b := place(s.Box.Min.X, s.Box.Min.Y), place(s.Box.Max.X, s.Box.Max.Y)
		out = append(out, supportJSON{s.Name, s.Count, [4]float64{a[0], a[1], b[0], b[1]}})
	}
	return out
}

// ringsOf are the rings of polygons as places in µm, the outer one of each first.
func ringsOf(pgs []geom.Polygon) [][][][2]float64 {
	out := [][][][2]float64{}
	for _, pg := range pgs {
		rings := [][][2]float64{}
		for _, r := range pg {
			ring := [][2]float64{}
			for _, pt := range r {
				ring = append(ring, place(pt.X, pt.Y))
			}
			rings = append(rings, ring)
		}
		out = append(out, rings)
	}
	return out
}

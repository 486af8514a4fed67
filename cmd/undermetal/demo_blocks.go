package main

import (
	"fmt"
	"strings"

	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
	"undermetal/testdata/kiln"
)

// blocks puts the blocks of the die's diagram on the map. Where they lie is a hand's; that one was seen, and is not only supposed, is
// what recognition says of its region.
func (d *demo) blocks() error {
	path := d.making(demoDossier)
	said := kiln.Blocks()
	for i := range said {
		b := &said[i]
		args := []string{"--why=" + b.Why}
		if b.Sign != "" {
			args = append(args, "--document="+kiln.Document, "--figure=fig. 1", "--sign="+b.Sign)
		}
		if b.Box != "" {
			args = append(args, "--rect="+b.Box)
		}
		if _, err := d.verb(newBlocksSet(), append(args, "--", path, b.Name)...); err != nil {
			return err
		}
	}
	m, err := d.blockMap()
	if err != nil {
		return err
	}
	for i := range said {
		if b := &said[i]; d.inside(m, b.Name, b.Pattern) {
			if _, err := d.verb(newBlocksSet(), "--status="+dossier.Seen, "--", path, b.Name); err != nil {
				return err
			}
		}
	}
	if m, err = d.blockMap(); err != nil {
		return err
	}
	d.printMap(m)
	return nil
}

// blockMap is the map, with what was recognised.
func (d *demo) blockMap() (m *blocks.Map, err error) {
	err = d.readTraced(func(dos *dossier.Dossier) error {
		m, err = mapOf(dos, suggestions(d.found.known.res))
		return err
	})
	return m, err
}

// inside reports whether a pattern was recognised in a block.
func (d *demo) inside(m *blocks.Map, name, pattern string) bool {
	f := d.pattern(pattern)
	if f == nil {
		return false
	}
	for i := range m.Blocks {
		for _, s := range m.Blocks[i].Support {
			if m.Blocks[i].Name == name && s.Name == titleOf(f) {
				return true
			}
		}
	}
	return false
}

// printMap prints the map, a block a line.
func (d *demo) printMap(m *blocks.Map) {
	d.p.f("\nThe blocks of the diagram %s, fig. 1, where a hand saw them on the photograph; seen is what recognition says, too:\n", kiln.Document)
	for i := range m.Blocks {
		b := &m.Blocks[i]
		where, found := "no region", []string(nil)
		if len(b.Pieces) > 0 {
			where = fmt.Sprintf("%.5g µm², %s", b.AreaNm2/1e6, percentOf(b.Share, 1))
		}
		for _, s := range b.Support {
			found = append(found, fmt.Sprintf("%d × %s", s.Count, s.Name))
		}
		d.p.f("%s\n", strings.TrimRight(fmt.Sprintf("  %-15s %-9s %-19s  %s", b.Name, b.Status, where, strings.Join(found, ", ")), " "))
	}
	d.p.f("  in the diagram, and not found: %s; found, and in no diagram: %s\n", someNames(m.NoRegion), someNames(m.NoDiagram))
	if m.Die.From == blocks.Photographs {
		d.p.f("  shares are of what the photographs show; %s of it has no name\n", percentOf(m.UncoveredNm2, m.DieNm2))
	}
}

package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
)

// blockFlags are the flags of undermetal blocks set.
type blockFlags struct {
	areaFlags
	add, nowhere                 bool
	document, figure, sign, name string
	why, status                  string
}

func newBlocksSet() *cobra.Command {
	var f blockFlags
	c := &cobra.Command{
		Use:   "set DOSSIER NAME",
		Short: "put a block on the map, or change what is said of it",
		Long: `set adds the block NAME, or changes the one of that name: what no flag speaks of stays as it is.

  --rect X0,Y0,X1,Y1   its region is a rectangle in µm of the frame; with --over SHOT in pixels of that photograph
  --all-of SHOT        all that a photograph shows
  --from FILE          what a drawing covers, placed as trace import does (--over, --um-per-unit); all its layers count
  --add                beside the regions that it has; else the new one stands in their place
  --nowhere            nobody knows where it lies

  --document, --figure, --sign say which block diagram has it: the number of the data sheet or patent, the figure there, and what the
  block is called by in the figure.
  --status is seen, supposed or contradicted, --why is what speaks for it, or against it, in words.

Without a region it is listed as a block of the diagram that was not found yet.`,
		Example: `  undermetal blocks set kiln.dossier "pixel array" --rect 0,0,120,200 --document KL-1 --figure "fig. 2" --sign 10
  undermetal blocks set kiln.dossier "charge pump" --from pump.svg --over bare --status supposed --why "two capacitors and a switch"
  undermetal blocks set kiln.dossier "row decoder" --document KL-1 --figure "fig. 2" --sign 12`,
		Args: exactly(2, "a dossier and the name of a block"),
		RunE: func(c *cobra.Command, args []string) error { return doBlocksSet(c, args[0], args[1], &f) },
	}
	f.regionFlags(c)
	p := c.Flags()
	p.BoolVar(&f.add, "add", false, "add the region to those that the block has")
	p.BoolVar(&f.nowhere, "nowhere", false, "take its regions away")
	p.StringVar(&f.document, "document", "", "number of the data sheet or patent whose diagram has it")
	p.StringVar(&f.figure, "figure", "", "the figure there")
	p.StringVar(&f.sign, "sign", "", "what the block is called by in the figure")
	p.StringVar(&f.why, "why", "", "what speaks for it, or against it")
	p.StringVar(&f.status, "status", "", strings.Join(dossier.Statuses(), ", ")+"; supposed where nothing is said")
	p.StringVar(&f.name, "name", "", "another name for it")
	return c
}

func doBlocksSet(c *cobra.Command, path, name string, f *blockFlags) error {
	regions := given(c, []string{"rect", "from", "all-of"})
	switch {
	case f.nowhere && (f.add || len(regions) > 0):
		return usagef("--nowhere takes the regions away: leave --add and --%s out", append(regions, "rect")[0])
	case f.add && len(regions) == 0:
		return usagef("--add wants a region: --rect, --from or --all-of")
	case f.status != "" && !slices.Contains(dossier.Statuses(), f.status):
		return usagef("--status %s: give one of %s", f.status, strings.Join(dossier.Statuses(), ", "))
	}
	for _, text := range []struct{ flag, value string }{{"document", f.document}, {"figure", f.figure}, {"sign", f.sign}, {"why", f.why}, {"name", f.name}} {
		if err := oneLine(text.flag, text.value); err != nil {
			return err
		}
	}
	if strings.ContainsFunc(name, unprintable) {
		return usagef("%q: write the name of a block on one line, without control characters", name)
	}
	if err := f.checkRegion(c); err != nil {
		return err
	}
	return editDossier(c, path, func(d *dossier.Dossier) error {
		pg, notes, err := f.region(c, d)
		if err != nil {
			return err
		}
		e := &printer{w: c.ErrOrStderr()}
		for _, n := range notes {
			e.f("warning: %s: %s\n", f.from, n)
		}
		var b dossier.Block
		added := false
		err = d.Edit(c.Context(), "set the block "+name, func(tx *dossier.Tx) error {
			all, err := tx.Blocks()
			if err != nil {
				return err
			}
			if old, err := blocks.Find(all, name); err == nil {
				b = *old
			} else {
				b, added = dossier.Block{Name: name}, true
			}
			switch {
			case f.nowhere:
				b.Polygon = nil
			case f.add && len(b.Polygon) > 0:
				if b.Polygon, err = blocks.Region(b.Polygon, pg); err != nil {
					return err
				}
			case pg != nil:
				b.Polygon = pg
			}
			f.say(c, &b)
			if _, err := blocks.Find(all, b.Name); err == nil && (added || b.Name != name) {
				return fmt.Errorf("%s: there is a block %q already\n    give another --name, or remove that one first", d.Path, b.Name)
			}
			if b.Document == "" && (b.Figure != "" || b.Sign != "") {
				return usagef("block %q: --figure and --sign are of a document: --document names it", b.Name)
			}
			return blocks.Put(tx, &b)
		})
		if err != nil {
			return err
		}
		m, err := mapOf(d, nil)
		if err != nil {
			return err
		}
		p := &printer{w: c.OutOrStdout()}
		for i := range m.Blocks {
			if m.Blocks[i].Name == b.Name {
				printBlock(p, m, &m.Blocks[i])
			}
		}
		return errors.Join(p.err, e.err)
	})
}

// say puts what the flags say of a block into it.
func (f *blockFlags) say(c *cobra.Command, b *dossier.Block) {
	for flag, to := range map[string]struct {
		text string
		at   *string
	}{"document": {f.document, &b.Document}, "figure": {f.figure, &b.Figure}, "sign": {f.sign, &b.Sign}, "why": {f.why, &b.Reason}, "status": {f.status, &b.Status}, "name": {f.name, &b.Name}} {
		if c.Flags().Changed(flag) {
			*to.at = to.text
		}
	}
}

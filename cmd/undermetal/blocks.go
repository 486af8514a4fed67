package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/blocks"
	"undermetal/layout/dossier"
	"undermetal/layout/geom"
	"undermetal/layout/region"
	"undermetal/recognise"
)

func newBlocks() *cobra.Command {
	c := group("blocks", "the block map: regions of the die, named after a block diagram", `blocks keeps the block map: regions of the die that are named after the blocks of a block diagram, from a data sheet or a
patent, which is cited by its number and figure. A block may have several regions, or none as long as nobody knows where it lies; a
region may have a name that no diagram has.

What is known of a block is its status: seen (what lies there was read, and is that), supposed (something speaks for it), contradicted
(what lies there was read, and is something else), with what speaks for it in words.`)
	c.AddCommand(newBlocksList(), newBlocksSet(), newBlocksRemove(), newBlocksDie())
	return c
}

func newBlocksRemove() *cobra.Command {
	return &cobra.Command{
		Use:     "remove DOSSIER NAME…",
		Short:   "take blocks out of the map",
		Example: `  undermetal blocks remove kiln.dossier "pixel array"`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usagef("%s wants a dossier and the names of blocks\n    undermetal blocks list DOSSIER tells them", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			return editDossier(c, args[0], func(d *dossier.Dossier) error { return removeBlocks(c, d, distinct(args[1:])) })
		},
	}
}

func removeBlocks(c *cobra.Command, d *dossier.Dossier, names []string) error {
	err := d.Edit(c.Context(), "remove the blocks "+someNames(names), func(tx *dossier.Tx) error {
		all, err := tx.Blocks()
		if err != nil {
			return err
		}
		for _, n := range names {
			b, err := findBlock(d.Path, all, n)
			if err != nil {
				return err
			}
			if err := tx.RemoveBlock(b.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	for _, n := range names {
		p.f("%s: removed\n", n)
	}
	return p.err
}

// findBlock returns the block of a name; the error lists those that there are.
func findBlock(path string, all []dossier.Block, name string) (*dossier.Block, error) {
	if b, err := blocks.Find(all, name); err == nil {
		return b, nil
	}
	var names []string
	for _, b := range all {
		names = append(names, b.Name)
	}
	if len(names) == 0 {
		return nil, fmt.Errorf("%s: there is no block %q, since there are none yet\n    undermetal blocks set %s NAME adds one", path, name, word(path))
	}
	return nil, fmt.Errorf("%s: there is no block %q\n    it has %s", path, name, someNames(names))
}

// dieFlags say what the die is.
type dieFlags struct {
	areaFlags
}

func newBlocksDie() *cobra.Command {
	var f dieFlags
	c := &cobra.Command{
		Use:   "die DOSSIER",
		Short: "state the outline of the die, of which blocks take shares",
		Long: `die states where the die ends. Shares of blocks are of that; as long as nobody states it they are of what the registered
photographs show. It goes with the frame when that is rescaled.

  --rect X0,Y0,X1,Y1   a rectangle in µm of the frame; with --over SHOT in pixels of that photograph
  --all-of SHOT        all that a photograph shows
  --from FILE          what a drawing covers, placed as trace import does
  --remove             nobody knows, after all

With the dossier alone it says what is taken for the die.`,
		Example: `  undermetal blocks die kiln.dossier --rect=-20,-20,180,260
  undermetal blocks die kiln.dossier`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error { return doDie(c, args[0], &f) },
	}
	f.regionFlags(c)
	c.Flags().BoolVar(&f.remove, "remove", false, "take the outline away")
	return c
}

// regionFlags are those by which a region is given.
func (f *areaFlags) regionFlags(c *cobra.Command) {
	f.placing.flags(c)
	c.Flags().StringVar(&f.rect, "rect", "", "a rectangle, X0,Y0,X1,Y1 in µm, or in pixels with --over")
	c.Flags().StringVar(&f.from, "from", "", "a drawing of it: SVG, GeoJSON, GDSII, or a mask")
	c.Flags().StringVar(&f.top, "top", "", "of a GDSII file: the cell that shows it")
	c.Flags().StringVar(&f.allOf, "all-of", "", "a shot: all that it shows")
}

// checkRegion returns an error where the flags of a region do not go together.
func (f *areaFlags) checkRegion(c *cobra.Command) error {
	ways := given(c, []string{"rect", "from", "all-of"})
	switch {
	case len(ways) > 1:
		return usagef("give one of --rect, --from and --all-of")
	case f.rect != "" && f.over != "" && f.umPerUnit == 0 && f.at == "": // pixels of a shot
	case f.from == "" && len(given(c, []string{"over", "um-per-unit", "at"})) > 0:
		return usagef("--over, --um-per-unit and --at say where the drawing of --from lies, --over which pixels --rect counts")
	}
	if f.top != "" && f.from == "" {
		return usagef("--top names the cell of a GDSII file that --from gives")
	}
	return f.placing.check(c)
}

// region returns the region that the flags give, one polygon of one or more pieces; nil where they give none.
func (f *areaFlags) region(c *cobra.Command, d *dossier.Dossier) (pg geom.Polygon, notes []string, err error) {
	if len(given(c, []string{"rect", "from", "all-of"})) == 0 {
		return nil, nil, nil
	}
	if f.stack, err = d.Stack(); err != nil {
		return nil, nil, err
	}
	if err := f.locate(d); err != nil {
		return nil, nil, err
	}
	pgs, notes, err := f.polygons(c, d, f.stack.LayerNames()[0]) // whatever layer it is drawn on
	if err != nil {
		return nil, nil, err
	}
	pg, err = blocks.Region(pgs...)
	return pg, notes, err
}

func doDie(c *cobra.Command, name string, f *dieFlags) error {
	if err := f.checkRegion(c); err != nil {
		return err
	}
	ways := given(c, []string{"rect", "from", "all-of", "remove"})
	if len(ways) > 1 {
		return usagef("give one of --rect, --from, --all-of and --remove")
	}
	if len(ways) == 0 {
		return readDossier(c, name, func(d *dossier.Dossier) error { return printDie(c, d) })
	}
	return editDossier(c, name, func(d *dossier.Dossier) error {
		pg, notes, err := f.region(c, d)
		if err != nil {
			return err
		}
		e := &printer{w: c.ErrOrStderr()}
		for _, n := range notes {
			e.f("warning: %s: %s\n", f.from, n)
		}
		what := "state the outline of the die"
		if f.remove {
			what = "take away the outline of the die"
		}
		if err := d.Edit(c.Context(), what, func(tx *dossier.Tx) error { return tx.SetOutline(pg) }); err != nil {
			return err
		}
		if e.err != nil {
			return e.err
		}
		return printDie(c, d)
	})
}

func printDie(c *cobra.Command, d *dossier.Dossier) error {
	die, err := dieOf(d)
	if err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	p.f("%s\n", dieText(die))
	return p.err
}

// dieText says what is taken for the die.
func dieText(die blocks.Die) string {
	if die.From == blocks.Unknown {
		return "the die's outline is not known: blocks die states it, or a photograph with a scale shows it"
	}
	sum, box := 0.0, geom.EmptyRect()
	for _, pg := range die.Region {
		sum += areaUm2(pg)
		box = box.Union(pg.Bounds())
	}
	text := fmt.Sprintf("%.6g µm² from %s to %s", sum, microns(box.Min), microns(box.Max))
	if die.From == blocks.Stated {
		return "the die, as stated: " + text
	}
	return "no outline is stated; the photographs show " + text
}

// dieOf returns what shares are of: the outline that was stated, else what the registered photographs show, else what the first
// calibrated one does.
func dieOf(d *dossier.Dossier) (die blocks.Die, err error) {
	pg, err := d.Outline()
	if err != nil {
		return die, err
	}
	if pg != nil {
		return blocks.Die{Region: region.Clean(pg), From: blocks.Stated}, nil
	}
	shots, err := d.Shots()
	if err != nil {
		return die, err
	}
	var registered, calibrated []geom.Polygon
	for i := range shots {
		l, err := d.Locate(&shots[i])
		if err != nil {
			return die, err
		}
		if l.ToFrame == nil || l.Registration == nil && len(calibrated) > 0 {
			continue
		}
		pgs, err := onFrame(l, 0, 0, l.Width, l.Height, 0)
		if err != nil {
			return die, err
		}
		if l.Registration != nil {
			registered = append(registered, pgs...)
		} else {
			calibrated = pgs
		}
	}
	if len(registered) == 0 {
		registered = calibrated
	}
	if len(registered) == 0 {
		return die, nil
	}
	return blocks.Die{Region: region.Polygons(region.Union(registered...)), From: blocks.Photographs}, nil
}

// mapOf makes the block map of a dossier.
func mapOf(d *dossier.Dossier, found []blocks.Suggestion) (*blocks.Map, error) {
	all, err := d.Blocks()
	if err != nil {
		return nil, err
	}
	die, err := dieOf(d)
	if err != nil {
		return nil, err
	}
	return blocks.New(all, die, found), nil
}

// suggestions are what recognition takes groups of devices for, as the block map wants it.
func suggestions(found *recognise.Result) (all []blocks.Suggestion) {
	for i := range found.Fits {
		f := &found.Fits[i]
		all = append(all, blocks.Suggestion{Name: titleOf(f), Box: f.Box})
	}
	return all
}

// titleOf is what people call a fit's pattern.
func titleOf(f *recognise.Fit) string {
	if f.Pattern.Title != "" {
		return f.Pattern.Title
	}
	return f.Pattern.Name
}

// recogniseIn says what groups of devices of a dossier are.
func recogniseIn(c *cobra.Command, d *dossier.Dossier) (*recognise.Result, error) {
	drawn, err := tracingOf(d, d.Path, "")
	if err != nil {
		return nil, err
	}
	read, err := followReadings(c, drawn, wanted{solve: solveNothing})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", d.Path, err)
	}
	b := newBar(c, "recognising")
	defer b.end()
	return recognise.Find(c.Context(), read.res.Circuit, recognise.Options{Progress: func(done float64) { b.set(int(1000*done), 1000) }})
}

// cited says where a diagram has a block.
func cited(b *dossier.Block) string {
	parts := slices.DeleteFunc([]string{b.Document, b.Figure, b.Sign}, func(s string) bool { return s == "" })
	return strings.Join(parts, ", ")
}

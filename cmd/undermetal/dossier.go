package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/layout/dossier"
	"undermetal/layout/shot"
	"undermetal/layout/stack"
)

// readDossier runs f on a dossier, which others may be editing.
func readDossier(c *cobra.Command, path string, f func(*dossier.Dossier) error) error {
	return withDossier(c, path, dossier.OpenToRead, f)
}

func withDossier(c *cobra.Command, path string, open func(context.Context, string) (*dossier.Dossier, error), f func(*dossier.Dossier) error) error {
	if d := heldDossier(c, path); d != nil {
		return f(d)
	}
	d, err := open(c.Context(), path)
	if err != nil {
		return dossierError(c, path, err)
	}
	return errors.Join(f(d), d.Close())
}

// editDossier runs f on a dossier that this process may edit; where it may not, it says who holds it.
func editDossier(c *cobra.Command, path string, f func(*dossier.Dossier) error) error {
	if d := heldDossier(c, path); d != nil {
		if why := d.ReadOnly(); why != "" {
			return fmt.Errorf("%s cannot be edited now: %s", path, why)
		}
		return f(d)
	}
	d, err := dossier.Open(c.Context(), path)
	if err != nil {
		return dossierError(c, path, err)
	}
	if why := d.ReadOnly(); why != "" {
		remedy := "work on a copy in a folder of your own"
		if _, held := dossier.HeldBy(path); held {
			remedy = "wait until it is done, or close it there; a copy taken once nobody has it open can be edited"
		}
		return errors.Join(fmt.Errorf("%s cannot be edited now: %s\n    %s", path, why, remedy), d.Close())
	}
	return errors.Join(f(d), d.Close())
}

// heldDossier returns the dossier that the workbench has open, where a command in it is about that one; nil elsewhere.
func heldDossier(c *cobra.Command, path string) *dossier.Dossier {
	if d := desk.Held(c.Context()); d != nil && sameFile(d.Path, path) {
		return d
	}
	return nil
}

func dossierError(c *cobra.Command, path string, err error) error {
	if what := notDossier(c, path); what != "" {
		return fmt.Errorf("%s: %s", path, what)
	}
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("%s: there is no such dossier\n    undermetal new %s makes one", path, path)
	}
	return err
}

// notDossier says what stands where the dossier belongs, where that is easily told.
func notDossier(c *cobra.Command, path string) string {
	args := c.Flags().Args()
	first := ": the dossier comes first\n    " + strings.TrimSuffix(c.UseLine(), " [flags]")
	isPhoto := func() bool {
		r, err := shot.Open(c.Context(), path, 0)
		if err == nil {
			r.Close()
		}
		return err == nil
	}
	what := ""
	switch info, err := os.Stat(path); {
	case err != nil:
		if len(args) < 2 || !slices.ContainsFunc(args[1:], isDossier) {
			return ""
		}
		return "there is no such dossier" + first
	case info.IsDir():
		what = "a folder"
	case isPhoto():
		what = "a photograph"
	case isDrawing(path):
		what = "a drawing"
	default:
		return ""
	}
	if len(args) < 2 {
		what += ", not a dossier"
		switch {
		case strings.HasPrefix(what, "a drawing"):
			what += fmt.Sprintf("\n    undermetal new NAME.dossier --stack S makes one, undermetal trace import NAME.dossier %s takes the drawing in", word(path))
		case strings.HasPrefix(what, "a photograph"):
			what += fmt.Sprintf("\n    undermetal new NAME.dossier makes one, undermetal shot add NAME.dossier %s puts the photograph in", word(path))
		}
		return what
	}
	return what + first
}

// isDossier reports whether a file is one by its first bytes.
func isDossier(path string) bool { return holdsFormat(path, dossierFormat) }

// isDrawing reports whether a file is a GDSII, SVG or GeoJSON drawing by its first bytes.
func isDrawing(path string) bool { return holdsFormat(path, gdsFormat, svgFormat, geojsonFormat) }

func holdsFormat(path string, formats ...format) bool {
	if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
		return false
	}
	in, err := openInput(path)
	if err != nil {
		return false
	}
	defer in.Close()
	return slices.Contains(formats, in.format)
}

func newNew() *cobra.Command {
	var stackName string
	c := &cobra.Command{
		Use:   "new DOSSIER",
		Short: "begin a dossier: one file for all that is known of a die",
		Long: `new makes an empty dossier. It will hold the photographs, the stack, the tracing and every edit, so that one file is all
there is to keep. --stack takes a stack file or a generic one:
` + stack.BuiltinPattern + `.
Without it, one polysilicon and two metals are assumed; stack set and stack add-layer change it later.`,
		Example: `  undermetal new kiln.dossier
  undermetal new kiln.dossier --stack cmos-1p3m-well`,
		Args: exactly(1, "the file to make, as in kiln.dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			st, err := stack.Load(stackName)
			if err != nil {
				return err
			}
			d, err := dossier.Create(c.Context(), args[0], st)
			if errors.Is(err, os.ErrExist) {
				return fmt.Errorf("%s is there already, and is left alone\n    give another name", args[0])
			}
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(c.OutOrStdout(), "%s: an empty dossier with the stack %q\n", args[0], st.Name)
			return errors.Join(err, d.Close())
		},
	}
	c.Flags().StringVar(&stackName, "stack", "cmos-1p2m", "stack file, or the name of a built-in stack")
	return c
}

func newInfo() *cobra.Command {
	return &cobra.Command{
		Use:   "info DOSSIER",
		Short: "say what a dossier holds, and who holds it",
		Long: `info counts what a dossier holds, says how many edits can be undone, and who has it open for editing.

  shots          photographs, or stitched mosaics, of the die after one delayering step
  cells          drawings that are used more than once
  shapes         polygons that were traced on a layer
  placements     places of a cell in the die or in another cell; an array of it is one
  labels         names put on the net that lies at a point of a layer
  traced areas   regions of a layer that were really looked at: a net that reaches the rim of one goes on outside
  answers        yours, to questions that have more than one plausible reading
  notes          remarks at a place
  blocks         regions of the die, named after the blocks of a block diagram
  outlines       where the die ends, of which blocks take shares; one, or none`,
		Example: `  undermetal info kiln.dossier`,
		Args:    exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return readDossier(c, args[0], func(d *dossier.Dossier) error { return printInfo(c, d) })
		},
	}
}

func printInfo(c *cobra.Command, d *dossier.Dossier) error {
	s, err := d.Summary()
	if err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	p.f("%s: schema %d, %s, stack %q\n\n", d.Path, dossier.Version(), bytesText(s.Bytes), s.Stack)
	for _, line := range s.Counts {
		p.f("%8d  %s\n", line.N, line.What)
	}
	switch {
	case s.Undoable > 0:
		p.f("\n%s to undo, %d to redo; the last: %s (%s)\n", counted(s.Undoable, "edit"), s.Redoable, s.Last.What, s.Last.At.Local().Format(time.DateTime))
	case s.Redoable > 0:
		p.f("\nnothing to undo, %s to redo\n", counted(s.Redoable, "edit"))
	}
	if by, held := dossier.HeldBy(d.Path); held {
		p.f("\nit can only be read now: it is held by %s\n", by)
	}
	return p.err
}

// bytesText says how large a file is.
func bytesText(n int64) string {
	switch {
	case n < 1e6:
		return fmt.Sprintf("%d kB", (n+999)/1000)
	case n < 1e9:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.2f GB", float64(n)/1e9)
}

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use:   "check DOSSIER",
		Short: "read a whole dossier and say whether it is sound",
		Long: `check reads every page of the file, every tile of every photograph, the originals and the journal, and says what is
wrong. It changes nothing. Exit status 1 where something is. Of photographs that were added with --link it reads the files
where they lie, and warns where one is missing or another file now.`,
		Example: `  undermetal check kiln.dossier`,
		Args:    exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return withDossier(c, args[0], dossier.OpenToCheck, func(d *dossier.Dossier) error {
				b := newBar(c, "checking "+args[0])
				findings, err := d.Check(c.Context(), b.set)
				b.end()
				if err != nil {
					return err
				}
				p := &printer{w: c.OutOrStdout()}
				for _, f := range findings {
					p.f("%s: %s\n", args[0], strings.ReplaceAll(f, "\n", " "))
				}
				if len(findings) == 0 {
					lost, err := checkLinks(c, d)
					if err != nil {
						return err
					}
					p.f("%s: sound", args[0])
					if lost > 0 {
						p.f(", but of %s the original is not where it was, as it was", counted(lost, "linked photograph"))
					}
					p.f("\n")
					return p.err
				}
				return errors.Join(p.err, fmt.Errorf("%s: %s\n    take the last copy that is sound", args[0], counted(len(findings), "finding")))
			})
		},
	}
}

func newCompact() *cobra.Command {
	var forget bool
	c := &cobra.Command{
		Use:   "compact DOSSIER",
		Short: "make a dossier as small as it can be",
		Long: `compact gives back the room of what was removed. The journal stays, and with it whatever could be brought back by undo:
photographs that were removed among it. --forget drops the journal and those photographs for good. While it runs, it
needs twice as much room again as the dossier has.`,
		Example: `  undermetal compact kiln.dossier
  undermetal compact kiln.dossier --forget`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return editDossier(c, args[0], func(d *dossier.Dossier) error {
				b := newClock(c, "compacting "+args[0])
				before, after, err := d.Compact(c.Context(), forget)
				b.end()
				if err != nil {
					return interruptedError{err, err.Error()}
				}
				p := &printer{w: c.OutOrStdout()}
				p.f("%s: %s, was %s\n", args[0], bytesText(after), bytesText(before))
				kept, err := d.KeptForUndo()
				if kept > 0 {
					p.f("    %s kept for undo and redo alone; --forget drops %s\n", map[bool]string{true: "1 photograph is", false: counted(kept, "photograph") + " are"}[kept == 1], map[bool]string{true: "it", false: "them"}[kept == 1])
				}
				return errors.Join(err, p.err)
			})
		},
	}
	c.Flags().BoolVar(&forget, "forget", false, "drop the journal: nothing can be undone afterwards")
	return c
}

// newSteps are undo and redo.
func newSteps() []*cobra.Command {
	make := func(name, short string, step func(*dossier.Dossier, context.Context) (string, error), said string) *cobra.Command {
		return &cobra.Command{
			Use:     name + " DOSSIER",
			Short:   short,
			Example: "  undermetal " + name + " kiln.dossier",
			Args:    exactly(1, "one dossier"),
			RunE: func(c *cobra.Command, args []string) error {
				return editDossier(c, args[0], func(d *dossier.Dossier) error {
					what, err := step(d, c.Context())
					if errors.Is(err, dossier.ErrNothing) {
						return fmt.Errorf("%s: %w\n    undermetal history %s lists its edits", args[0], err, args[0])
					}
					if err != nil {
						return err
					}
					p := &printer{w: c.OutOrStdout()}
					p.f("%s: %s\n", said, what)
					return p.err
				})
			},
		}
	}
	return []*cobra.Command{
		make("undo", "take back the last edit of a dossier", (*dossier.Dossier).Undo, "undone"),
		make("redo", "do once more what was undone last", (*dossier.Dossier).Redo, "done again"),
	}
}

func newHistory() *cobra.Command {
	return &cobra.Command{
		Use:     "history DOSSIER",
		Short:   "list the edits of a dossier, the oldest first",
		Example: `  undermetal history kiln.dossier`,
		Args:    exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				entries, err := d.History()
				if err != nil {
					return err
				}
				p := &printer{w: c.OutOrStdout()}
				if len(entries) == 0 {
					p.f("no edits yet\n")
				}
				for i, e := range entries {
					undone := ""
					if e.Undone {
						undone = " (undone)"
					}
					p.f("%5d  %s  %s%s\n", i+1, e.At.Local().Format(time.DateTime), e.What, undone)
				}
				return p.err
			})
		},
	}
}

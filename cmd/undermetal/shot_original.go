package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
)

func newShotOriginal() *cobra.Command {
	var out string
	var force bool
	c := &cobra.Command{
		Use:   "original DOSSIER SHOT --out FILE",
		Short: "write the file that a photograph came from, as it was",
		Long: `original writes the file that a photograph came from, to the bit. Of a photograph that was added with --link the dossier
has no more than the path: then the file is there.`,
		Example: `  undermetal shot original kiln.dossier bare --out bare.tif`,
		Args:    exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error {
			if out == "" {
				return usagef("--out says where to write it, - for standard output")
			}
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				s, err := findShot(d, args[1])
				if err != nil {
					return err
				}
				if s.Linked {
					return linkedOriginal(c, d, s)
				}
				if err := mayReplace(d, out, force); err != nil {
					return err
				}
				if err := writeTo(c, out, func(w io.Writer) error { return d.WriteOriginal(s, w) }); err != nil || out == "-" {
					return err
				}
				p, e := &printer{w: c.OutOrStdout()}, &printer{w: c.ErrOrStderr()}
				p.f("%s: the file that %s came from, %s\n", out, s.Name, filepath.Base(s.File))
				if info, err := os.Stat(out); err == nil && info.Mode().IsRegular() && formatOf(out) != formatOf(s.File) {
					e.f("warning: %s: the file was not made another by its ending; it was called %s\n", out, filepath.Base(s.File))
				}
				return errors.Join(p.err, e.err)
			})
		},
	}
	c.Flags().StringVar(&out, "out", "", "the file to write, - for standard output")
	c.Flags().BoolVar(&force, "force", false, "replace the file where it is there already")
	return c
}

// formatOf is what the ending of a name says of a file.
func formatOf(name string) string {
	switch ending := strings.ToLower(filepath.Ext(name)); ending {
	case ".tiff", ".btf", ".tf8":
		return ".tif"
	case ".jpeg":
		return ".jpg"
	default:
		return ending
	}
}

// linkedOriginal says where the original of a linked shot is, or that it is not there.
func linkedOriginal(c *cobra.Command, d *dossier.Dossier, s *dossier.Shot) error {
	fault, err := linkFault(c, s)
	if err != nil {
		return err
	}
	if fault != "" {
		return fmt.Errorf("shot %q: its original is linked, and %s\n    undermetal shot add --link %s FILE stores where it is now", s.Name, fault, word(d.Path))
	}
	return fmt.Errorf("shot %q: its original is not in the dossier but at %s: copy it from there", s.Name, s.File)
}

// mayReplace returns an error where a file is not to be written over: where there is one and force does not allow it, and
// always where it belongs to the dossier or is what one of its shots came from.
func mayReplace(d *dossier.Dossier, name string, force bool) error {
	if info, err := os.Stat(name); name == "-" || err != nil || !info.Mode().IsRegular() {
		return nil
	}
	file, err := filepath.EvalSymlinks(d.Path) // beside which SQLite keeps its own
	if err != nil {
		return err
	}
	for _, suffix := range []string{"", "-wal", "-shm", "-journal", "-holder"} {
		if sameFile(name, file+suffix) {
			return fmt.Errorf("%s belongs to the dossier itself, and is left alone\n    give another name", name)
		}
	}
	shots, err := d.Shots()
	if err != nil {
		return err
	}
	for _, s := range shots {
		if sameFile(name, s.File) {
			return fmt.Errorf("%s is the photograph that shot %q %s, and is left alone\n    give another name", name, s.Name, map[bool]string{true: "is linked to", false: "came from"}[s.Linked])
		}
	}
	if !force {
		return fmt.Errorf("%s is there already, and is left alone\n    give another name, or --force to replace it", name)
	}
	return nil
}

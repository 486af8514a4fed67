package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/shot"
	"undermetal/netlist"
)

// addFlags are the flags of undermetal shot add.
type addFlags struct {
	facts
	name string
	page int
	link bool
}

func newShotAdd() *cobra.Command {
	var f addFlags
	c := &cobra.Command{
		Use:   "add DOSSIER FILE|FOLDER…",
		Short: "put photographs into a dossier",
		Long: `add puts photographs into a dossier: PNG, TIFF (BigTIFF too) and JPEG files, or all of those in a folder. They are kept
without loss, at their depth, with all the smaller sizes that a view needs; beside them the original file, so that the
dossier is all there is to keep. --link leaves the original where it is, and keeps its path and SHA-256 only.

A file that is in the dossier already is passed over, so that a call that was interrupted can be given again.

Delayering uses acids, and some dies carry lasers: keep to local rules, safety data sheets and trained supervision.`,
		Example: `  undermetal shot add kiln.dossier bare.tif --step "poly bare" --na 0.9 --wavelength 550
  undermetal shot add kiln.dossier photos/ --link`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usagef("%s wants a dossier and at least one photograph or folder\n    %s --help shows an example", c.CommandPath(), c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return doShotAdd(c, args[0], args[1:], &f) },
	}
	f.flags(c)
	c.Flags().StringVar(&f.name, "name", "", "the shot's name; without it, that of the file")
	c.Flags().IntVar(&f.page, "page", 0, "of a TIFF file with several pictures, counted from 1")
	c.Flags().BoolVar(&f.link, "link", false, "leave the original where it is")
	return c
}

func doShotAdd(c *cobra.Command, path string, names []string, f *addFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	files, err := photographs(names)
	if err != nil {
		return err
	}
	if f.name != "" && len(files) > 1 {
		return usagef("--name is for one photograph, and these are %d", len(files))
	}
	return editDossier(c, path, func(d *dossier.Dossier) error {
		for _, file := range files {
			if err := addPhotograph(c, d, file, f); err != nil {
				return err
			}
		}
		return nil
	})
}

// photographs replaces folders by the photographs in them, in natural order of names.
func photographs(names []string) (files []string, err error) {
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil {
			return nil, inputError(name, err)
		}
		if !info.IsDir() {
			files = append(files, name)
			continue
		}
		entries, err := os.ReadDir(name)
		if err != nil {
			return nil, inputError(name, err)
		}
		var inside []string
		for _, e := range entries {
			switch strings.ToLower(filepath.Ext(e.Name())) {
			case ".png", ".tif", ".tiff", ".btf", ".tf8", ".jpg", ".jpeg":
				inside = append(inside, filepath.Join(name, e.Name()))
			}
		}
		if len(inside) == 0 {
			return nil, fmt.Errorf("%s: holds no photograph\n    PNG, TIFF and JPEG files are taken, by their endings; folders below it are not looked into", name)
		}
		slices.SortFunc(inside, func(a, b string) int {
			if netlist.NaturalLess(a, b) {
				return -1
			}
			return 1
		})
		files = append(files, inside...)
	}
	return files, nil
}

// addPhotograph adds one photograph, unless the dossier has it.
func addPhotograph(c *cobra.Command, d *dossier.Dossier, file string, f *addFlags) error {
	s := &dossier.Shot{Name: f.name, Page: max(f.page, 1), Linked: f.link, Display: shot.Plain, Facts: f.Facts}
	if s.Name == "" {
		s.Name = strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
	}
	var err error
	if s.File, err = filepath.Abs(file); err != nil {
		return err
	}
	if s.SHA256, err = hashFile(c, file); err != nil {
		return err
	}
	shots, err := d.Shots()
	if err != nil {
		return err
	}
	for _, have := range shots {
		if have.SHA256 == s.SHA256 && have.Page == s.Page {
			_, err := fmt.Fprintf(c.OutOrStdout(), "%s: is in the dossier already, as %s\n", file, have.Name)
			return err
		}
		if have.Name == s.Name {
			return fmt.Errorf("%s: there is a shot %q already, from %s\n    give this one another name with --name, or remove that one", file, s.Name, have.File)
		}
	}
	if err := build(c, d, file, s); err != nil {
		return err
	}
	p := &printer{w: c.OutOrStdout()}
	width, height := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	p.f("%s: %d × %d px, %s\n", s.Name, width, height, file)
	e := &printer{w: c.ErrOrStderr()}
	for _, n := range s.Header.Notes {
		e.f("%s: %s\n", file, n)
	}
	if resolves, _ := optics(s); resolves != "" {
		p.f("    resolves %s at best; shot calibrate says what a pixel is\n", resolves)
	}
	return errors.Join(p.err, e.err)
}

// hashFile returns the SHA-256 of a file.
func hashFile(c *cobra.Command, file string) (string, error) {
	in, err := os.Open(file)
	if err != nil {
		return "", inputError(file, err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return "", inputError(file, err)
	}
	from := &reading{bar: newBar(c, "looking at "+filepath.Base(file)), ctx: c.Context(), r: in, total: int(info.Size())}
	defer from.end()
	hash := sha256.New()
	if _, err := io.Copy(hash, from); err != nil {
		return "", inputError(file, err)
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

// build makes the pyramid, keeps the original, and adds the shot: all of it or nothing.
func build(c *cobra.Command, d *dossier.Dossier, file string, s *dossier.Shot) (err error) {
	r, err := shot.Open(file, s.Page)
	if err != nil {
		return err
	}
	defer r.Close()
	s.Header = *r.Header()
	picture, err := d.NewPicture(c.Context())
	if err != nil {
		return err
	}
	defer func() {
		if err != nil { // also after an interrupt
			err = errors.Join(err, d.DropPicture(context.WithoutCancel(c.Context()), picture))
		}
	}()
	b := newBar(c, "adding "+filepath.Base(file))
	err = shot.Build(c.Context(), r, func(tiles []shot.Tile) error { return d.AddTiles(c.Context(), picture, tiles) }, func(rows int) { b.set(rows, s.Header.Height) })
	b.end()
	if err != nil {
		return err
	}
	if !s.Linked {
		if err := keepOriginal(c, d, picture, file, s); err != nil {
			return err
		}
	}
	return d.Edit(c.Context(), "add shot "+s.Name, func(tx *dossier.Tx) error { return tx.AddShot(s, picture) })
}

func keepOriginal(c *cobra.Command, d *dossier.Dossier, picture int64, file string, s *dossier.Shot) error {
	in, err := os.Open(file)
	if err != nil {
		return inputError(file, err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return inputError(file, err)
	}
	b := newBar(c, "keeping "+filepath.Base(file))
	defer b.end()
	sum, err := d.AddOriginal(c.Context(), picture, in, func(done int64) { b.set(int(done), int(max(done, info.Size()))) })
	if err == nil && sum != s.SHA256 {
		err = fmt.Errorf("%s: it changed while it was read\n    give the call again when nothing writes to it", file)
	}
	return err
}

package main

import (
	"context"
	"errors"
	"fmt"
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
dossier is all there is to keep. --link leaves the original where it is: of it the dossier has its path and SHA-256 only,
and the pixels all the same.

A file that is in the dossier already is passed over, so that a call that was interrupted can be given again; with --link,
where it was linked and lies elsewhere now, its new path is stored. What cannot be added is listed at the end, and the rest
is added. In a folder photographs are known by their endings; what else is there, folders among it, is passed over and
counted, but for names that begin with a dot. To keep the original of one that is linked, or to link one that is kept, remove it and add it anew.

Delayering uses acids, and some dies carry lasers: keep to local rules, safety data sheets and trained supervision.`,
		Example: `  undermetal shot add kiln.dossier bare.tif --step "poly bare" --na 0.9 --wavelength 550
  undermetal shot add kiln.dossier photos/ --link
  undermetal shot add kiln.dossier steps.tif --page 2 --name "metal 1 stripped"`,
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
	if err := errors.Join(f.check(), checkName(f.name)); err != nil {
		return err
	}
	if f.page < 0 {
		return usagef("--page %d: pages are counted from 1", f.page)
	}
	files, others, failures := photographs(names)
	if f.name != "" && len(files) > 1 {
		return usagef("--name is for one photograph, and these are %d", len(files))
	}
	of := len(files) + len(failures)
	return editDossier(c, path, func(d *dossier.Dossier) error {
		e := &printer{w: c.ErrOrStderr()}
		for _, text := range others {
			e.f("%s\n", text)
		}
		a := &adding{c, d, f, of == 1}
		for i, file := range files {
			err := a.photograph(file)
			if err != nil && c.Context().Err() != nil {
				return interruptedError{err, fmt.Sprintf("%s was not added: the same call adds it; undermetal compact %s gives back the room that it had taken", file, word(path))}
			}
			if errors.Is(err, dossier.ErrNoRoom) { // nor is there for the others
				err = fmt.Errorf("%s: %w\n    make room and give the same call again; undermetal compact %s gives back what was taken for it", file, err, word(path))
				return notAdded(append(failures, err), of, len(files)-i-1)
			}
			if err != nil {
				failures = append(failures, err)
			}
		}
		return errors.Join(notAdded(failures, of, 0), e.err)
	})
}

// notAdded lists what was wrong with some photographs of several. Those that are left were not tried.
func notAdded(failures []error, of, left int) error {
	switch {
	case len(failures) == 0:
		return nil
	case of == 1:
		return failures[0]
	}
	var b strings.Builder
	for _, err := range failures {
		b.WriteString("\n    " + strings.ReplaceAll(err.Error(), "\n", "\n    "))
	}
	if left > 0 {
		fmt.Fprintf(&b, "\n    not tried after it: %s", counted(left, "photograph"))
	}
	return fmt.Errorf("%d of %s were not added:%s", len(failures)+left, counted(of, "photograph"), b.String())
}

// photographs replaces folders by the photographs in them, in natural order of names, and says what others there are. It
// goes on after a name that is none.
func photographs(names []string) (files, others []string, failures []error) {
	for _, name := range names {
		info, err := os.Stat(name)
		switch {
		case err != nil:
			failures = append(failures, inputError(name, err))
		case info.IsDir():
			inside, other, err := photographsIn(name)
			if err != nil {
				failures = append(failures, err)
			} else if other != "" {
				others = append(others, other)
			}
			files = append(files, inside...)
		default:
			files = append(files, name)
		}
	}
	return files, others, failures
}

// photographsIn finds photographs by the endings of their names. What begins with a dot is passed over in silence, what
// else is there is counted in others.
func photographsIn(folder string) (inside []string, others string, err error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, "", inputError(folder, err)
	}
	files, folders := 0, 0
	for _, e := range entries {
		path := filepath.Join(folder, e.Name())
		info, err := os.Stat(path)
		ending := strings.ToLower(filepath.Ext(path))
		switch {
		case strings.HasPrefix(e.Name(), "."):
		case err == nil && info.IsDir():
			folders++
		case slices.Contains([]string{".png", ".tif", ".tiff", ".btf", ".tf8", ".jpg", ".jpeg"}, ending):
			inside = append(inside, path)
		default:
			files++
		}
	}
	var parts []string
	if files > 0 {
		parts = append(parts, counted(files, "file")+" by the ending")
	}
	if folders > 0 {
		parts = append(parts, counted(folders, "folder"))
	}
	if len(parts) > 0 {
		others = fmt.Sprintf("%s: passed over: %s", folder, strings.Join(parts, ", "))
	}
	if len(inside) == 0 {
		return nil, "", fmt.Errorf("%s: holds no photograph\n    PNG, TIFF and JPEG files are taken, by their endings; folders below it are not looked into", folder)
	}
	slices.SortFunc(inside, func(a, b string) int {
		if netlist.NaturalLess(a, b) {
			return -1
		}
		return 1
	})
	return inside, others, nil
}

// adding is a call of undermetal shot add under way.
type adding struct {
	c     *cobra.Command
	d     *dossier.Dossier
	flags *addFlags
	alone bool // no other was asked for
}

// photograph adds one photograph, unless the dossier has it.
func (a *adding) photograph(file string) error {
	f := a.flags
	s := &dossier.Shot{Name: f.name, Page: max(f.page, 1), Linked: f.link, Display: shot.Plain, Facts: f.Facts}
	if s.Name == "" {
		s.Name = cleanName(strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)))
	}
	var err error
	if s.File, err = filepath.Abs(file); err != nil {
		return err
	}
	if err := shot.Known(file); err != nil { // before all of it is read
		return inputError(file, err)
	}
	if s.SHA256, err = hashFile(a.c, file); err != nil {
		return err
	}
	shots, err := a.d.Shots()
	if err != nil {
		return err
	}
	for i := range shots {
		if have := &shots[i]; have.SHA256 == s.SHA256 && have.Page == s.Page {
			return a.already(file, have, s)
		}
	}
	taken := func() int {
		return slices.IndexFunc(shots, func(have dossier.Shot) bool { return have.Name == s.Name })
	}
	if taken() >= 0 && f.name == "" { // as with a.png beside a.tif
		s.Name = cleanName(filepath.Base(file))
	}
	if i := taken(); i >= 0 {
		return nameTaken(file, &shots[i])
	}
	if err := build(a.c, a.d, file, f.page, s); err != nil {
		return err
	}
	return printAdded(a.c, file, s)
}

// cleanName returns the name of a file without what that of a shot cannot have.
func cleanName(name string) string {
	name = strings.Map(func(r rune) rune {
		if unprintable(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	if name = strings.TrimLeft(name, "- "); name == "" {
		return "shot"
	}
	return name
}

func printAdded(c *cobra.Command, file string, s *dossier.Shot) error {
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

// build makes the pyramid, keeps the original, and adds the shot: all of it or nothing.
func build(c *cobra.Command, d *dossier.Dossier, file string, page int, s *dossier.Shot) (err error) {
	r, err := shot.Open(c.Context(), file, page)
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
		if err == nil {
			return
		}
		// Also after an interrupt; where there is no room, it goes when there is, as the dossier is opened.
		if err2 := d.DropPicture(context.WithoutCancel(c.Context()), picture); !errors.Is(err2, dossier.ErrNoRoom) {
			err = errors.Join(err, err2)
		}
	}()
	b := newBar(c, "adding "+filepath.Base(file))
	err = shot.Build(c.Context(), r, func(tiles []shot.Tile) error { return d.AddTiles(c.Context(), picture, tiles) }, func(rows int) { b.set(rows, s.Header.Height) })
	b.end()
	if err != nil {
		return err
	}
	if err := keepOriginal(c, d, picture, file, s); err != nil {
		return err
	}
	return d.Edit(c.Context(), "add shot "+s.Name, func(tx *dossier.Tx) error { return tx.AddShot(s, picture) })
}

// keepOriginal keeps the original, unless it is linked, and sees that it is still what the pyramid was made of.
func keepOriginal(c *cobra.Command, d *dossier.Dossier, picture int64, file string, s *dossier.Shot) error {
	sum, err := "", error(nil)
	if s.Linked {
		sum, err = hashFile(c, file)
	} else {
		sum, err = storeOriginal(c, d, picture, file)
	}
	if err == nil && sum != s.SHA256 {
		err = fmt.Errorf("%s: it changed while it was read\n    give the call again when nothing writes to it", file)
	}
	return err
}

func storeOriginal(c *cobra.Command, d *dossier.Dossier, picture int64, file string) (sum string, err error) {
	in, err := os.Open(file)
	if err != nil {
		return "", inputError(file, err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return "", inputError(file, err)
	}
	b := newBar(c, "keeping "+filepath.Base(file))
	defer b.end()
	return d.AddOriginal(c.Context(), picture, in, func(done int64) { b.set(int(done), int(max(done, info.Size()))) })
}

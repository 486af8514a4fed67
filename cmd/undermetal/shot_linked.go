package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
)

// already is what adding a photograph comes to that the dossier has: a linked one may lie elsewhere now.
func (a *adding) already(file string, have, s *dossier.Shot) error {
	c := a.c
	moved, err := a.moved(have, s)
	if err != nil {
		return err
	}
	if moved {
		old := have.File
		have.File = s.File
		if err := a.d.Edit(c.Context(), fmt.Sprintf("link shot %s: %s", have.Name, s.File), func(tx *dossier.Tx) error { return tx.SetShot(have) }); err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: is in the dossier already, as %s; linked there from now on, was at %s\n", file, have.Name, old)
	} else {
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: is in the dossier already, as %s%s\n", file, have.Name, otherwise(have.Linked, a.flags.link))
	}
	return errors.Join(err, warnFacts(c, a.d.Path, have))
}

// otherwise says that a shot is linked where it was to be kept, or the other way round.
func otherwise(is, asked bool) string {
	switch {
	case is && !asked:
		return "; its original stays linked"
	case !is && asked:
		return "; its original stays kept in the dossier"
	}
	return ""
}

// moved reports whether a linked photograph is to be looked for at its new path: where no other was asked for, or it is
// not at the old path any more. A copy among others changes nothing.
func (a *adding) moved(have, s *dossier.Shot) (bool, error) {
	if !a.flags.link || !have.Linked || have.File == s.File {
		return false, nil
	}
	if a.alone {
		return true, nil
	}
	fault, err := linkFault(a.c, have)
	return fault != "", err
}

// warnFacts says that facts given with a photograph that the dossier has were not stored, and what stores them.
func warnFacts(c *cobra.Command, path string, have *dossier.Shot) error {
	names := given(c, append([]string{"name"}, factFlags...))
	var call strings.Builder
	for i, name := range names {
		fmt.Fprintf(&call, " --%s %s", name, word(c.Flag(name).Value.String()))
		names[i] = "--" + name
	}
	if len(names) == 0 || len(names) == 1 && c.Flag("name").Value.String() == have.Name {
		return nil
	}
	_, err := fmt.Fprintf(c.ErrOrStderr(), "warning: %s: not stored: %s\n    undermetal shot set %s %s%s\n", have.Name, strings.Join(names, ", "), word(path), word(have.Name), call.String())
	return err
}

// word writes a text as a shell takes it for one word.
func word(text string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("./-_+:,%@", r) || r > 127
	}
	if text != "" && strings.TrimFunc(text, plain) == "" {
		return text
	}
	return "'" + strings.ReplaceAll(text, "'", `'\''`) + "'"
}

// linkFault says what is wrong with the original that a shot is linked to; nothing where it is there as it was.
func linkFault(c *cobra.Command, s *dossier.Shot) (string, error) {
	sum, err := hashFile(c, s.File)
	switch {
	case c.Context().Err() != nil:
		return "", c.Context().Err()
	case errors.Is(err, os.ErrNotExist):
		return s.File + " is missing", nil
	case err != nil:
		return s.File + " cannot be read", nil
	case sum != s.SHA256:
		return fmt.Sprintf("%s is another file now (SHA-256 %.16s…, was %.16s…)", s.File, sum, s.SHA256), nil
	}
	return "", nil
}

// checkLinks warns of linked originals that are not what they were, and counts them.
func checkLinks(c *cobra.Command, d *dossier.Dossier) (faults int, err error) {
	shots, err := d.Shots()
	if err != nil {
		return 0, err
	}
	e := &printer{w: c.ErrOrStderr()}
	for i := range shots {
		if s := &shots[i]; s.Linked {
			fault, err := linkFault(c, s)
			if err != nil {
				return faults, err
			}
			if fault != "" {
				faults++
				e.f("warning: linked original of %s: %s\n    undermetal shot add --link %s FILE stores where it is now\n", s.Name, fault, word(d.Path))
			}
		}
	}
	return faults, e.err
}

// hashFile returns the SHA-256 of a file.
func hashFile(c *cobra.Command, file string) (string, error) {
	info, err := os.Stat(file)
	if err == nil && !info.Mode().IsRegular() {
		err = errors.New("not a file")
	}
	if err != nil {
		return "", inputError(file, err)
	}
	in, err := os.Open(file)
	if err != nil {
		return "", inputError(file, err)
	}
	defer in.Close()
	from := &reading{bar: newBar(c, "looking at "+filepath.Base(file)), ctx: c.Context(), r: in, total: int(info.Size())}
	defer from.end()
	hash := sha256.New()
	if _, err := io.Copy(hash, from); err != nil {
		return "", inputError(file, err)
	}
	return hex.EncodeToString(hash.Sum(nil)), nil
}

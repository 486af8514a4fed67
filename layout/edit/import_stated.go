package edit

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"undermetal/layout"
	"undermetal/layout/dossier"
)

// findShots returns the photographs that the drawing names, and notes those that the dossier does not have.
func (im *importer) findShots() (map[string]int64, error) {
	if len(im.o.Stated) == 0 {
		return nil, nil
	}
	there, err := im.tx.Shots()
	if err != nil {
		return nil, err
	}
	shots := map[string]int64{}
	for _, s := range there {
		shots[s.Name] = s.ID
	}
	missing, n := map[string]bool{}, 0
	for _, said := range im.o.Stated {
		for _, s := range said {
			if s.Shot != "" && shots[s.Shot] == 0 {
				missing[s.Shot] = true
				n++
			}
		}
	}
	if n > 0 {
		im.note("shapes traced over photographs that the dossier does not have, which came in without one: %d (%s)", n, firstFew(slices.Sorted(maps.Keys(missing))))
	}
	return shots, nil
}

// state gives a shape what the drawing says of it.
func (im *importer) state(s *dossier.Shape, said layout.Stated) {
	if said.HasSigma {
		s.SigmaNm = said.SigmaNm
	}
	if id := im.shots[said.Shot]; id != 0 {
		s.Shot = id
	}
}

func (im *importer) note(format string, args ...any) {
	if im.o.Note != nil {
		im.o.Note(fmt.Sprintf(format, args...))
	}
}

// firstFew joins the first three of some texts, and says how many more there are.
func firstFew(texts []string) string {
	const shown = 3
	if len(texts) > shown {
		texts = append(texts[:shown:shown], fmt.Sprintf("and %d more", len(texts)-shown))
	}
	return strings.Join(texts, ", ")
}

// printable reports whether a text can be printed on one line.
func printable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) })
}

// leaveLabel counts a label that is left out, and says where the first few of them are.
func (im *importer) leaveLabel(c *layout.Cell, l *layout.Label) {
	const shown = 3
	switch im.done.Unprintable++; {
	case im.done.Unprintable <= shown:
		in := ""
		if c != im.o.Top {
			in = " in cell " + c.Name
		}
		im.unprintable = append(im.unprintable, fmt.Sprintf("%q on %s at %s%s", l.Text, im.lib.Layers[l.Layer], place(l.At), in))
	default:
		im.unprintable = append(im.unprintable[:shown], fmt.Sprintf("and %d more", im.done.Unprintable-shown))
	}
}

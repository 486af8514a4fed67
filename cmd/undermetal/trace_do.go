package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/workbench/desk"
	composing "undermetal/cmd/undermetal/workbench/picture"
	"undermetal/layout/dossier"
)

func newTraceDo() *cobra.Command {
	c := &cobra.Command{
		Use:   "do DOSSIER [LINE]…",
		Short: "draw and change by lines, as the workbench's command line does",
		Long: `do carries out lines of the workbench's command line, one after the other, without a terminal: layer, rectangle, polygon,
wire, stamp, select, move, merge, split, array and whatever else the key page of undermetal open lists after ":". Places are
µm of the frame. Without lines it reads them from standard input; what follows a # is left out. Each line is an edit of its
own. It ends at the first line that cannot be carried out, and says which; those before stay, and can be undone.`,
		Example: `  undermetal trace do kiln.dossier "layer poly" "rectangle 0,0 0.5,12"
  undermetal trace do kiln.dossier < lines.txt`,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usagef("%s wants a dossier, and lines unless they are in standard input\n    %[1]s --help shows an example", c.CommandPath())
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			lines := args[1:]
			if len(lines) == 0 {
				var err error
				if lines, err = readLines(c.InOrStdin()); err != nil {
					return err
				}
			}
			return editDossier(c, args[0], func(d *dossier.Dossier) error { return doLines(c, d, lines) })
		},
	}
	return c
}

// readLines reads lines, without what follows a # at their beginning or after a blank.
func readLines(r io.Reader) (lines []string, err error) {
	s := bufio.NewScanner(r)
	for s.Scan() {
		l := s.Text()
		if strings.HasPrefix(l, "#") {
			l = ""
		}
		l, _, _ = strings.Cut(l, " #")
		lines = append(lines, strings.TrimSpace(l))
	}
	return lines, s.Err()
}

// doLines carries out lines on a desk that nobody sees.
func doLines(c *cobra.Command, d *dossier.Dossier, lines []string) error {
	composer := composing.New(composing.Options{})
	defer composer.Close()
	k, err := desk.Open(c.Context(), d, composer, desk.Options{})
	if err != nil {
		return fmt.Errorf("%s: %w", d.Path, err)
	}
	defer k.Close()
	k.Resize(1000, 1000, 1, 100, 50)
	p := &printer{w: c.OutOrStdout()}
	for i, l := range lines {
		if l == "" {
			continue
		}
		said, err := obeyed(c.Context(), k, l)
		if err != nil {
			return err
		}
		if said.Failed {
			return fmt.Errorf("%s: line %d, %s: %s\n    the lines before it were carried out; undermetal history %s lists them as edits", d.Path, i+1, l, said.Text, word(d.Path))
		}
		if said.Text != "" {
			p.f("%s\n", said.Text)
		}
		for _, t := range said.Page {
			p.f("%s\n", t)
		}
		if k.Done() {
			break
		}
	}
	return p.err
}

func obeyed(ctx context.Context, k *desk.Desk, line string) (desk.Said, error) {
	said, err := k.Obey(ctx, strings.TrimPrefix(line, ":"))
	if err == nil {
		err = ctx.Err()
	}
	return said, err
}

package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/report"
	"undermetal/layout/dossier"
)

// reportFlags are the flags of undermetal report.
type reportFlags struct {
	out, title string
	force      bool
	pixels     int
	questions  int
	rows       int
}

func newReport() *cobra.Command {
	var f reportFlags
	c := &cobra.Command{
		Use:   "report DOSSIER --out FILE.html",
		Short: "write all that was found out as one page to publish",
		Long: `report writes one HTML file that needs nothing else, neither a network nor a script: the photographs with scale bars, as they were taken
and with the tracing over them; the block map beside its photograph; how it was done, with cautions; the circuit with the uncertainties
of its sizes; what was recognised, with schematics; the questions with their evidence and pictures of their places; the netlist.

It reads on a telephone and prints on A4. What the dossier says is text in it and nothing else, whoever wrote the dossier. What is not in it,
and why, stands at its end.`,
		Example: `  undermetal report kiln.dossier --out kiln.html
  undermetal report kiln.dossier --out kiln.html --title "The kiln-window sensor" --force`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error { return doReport(c, args[0], &f) },
	}
	p := c.Flags()
	p.StringVar(&f.out, "out", "", "the HTML file to write, - for standard output")
	p.StringVar(&f.title, "title", "", "the page's title; else the dossier's name")
	p.BoolVar(&f.force, "force", false, "replace the file where it is there already")
	p.IntVar(&f.pixels, "pixels", 1200, "how wide pictures of photographs become")
	p.IntVar(&f.questions, "questions", 24, "how many questions are told in full, the worst first")
	p.IntVar(&f.rows, "rows", 300, "how many rows the table of devices has, and lines of the netlist times two")
	return c
}

func doReport(c *cobra.Command, name string, f *reportFlags) error {
	ending := filepath.Ext(f.out)
	switch {
	case f.out == "":
		return usagef("--out says where to write the page, - for standard output")
	case f.out != "-" && ending != "" && !strings.EqualFold(ending, ".html") && !strings.EqualFold(ending, ".htm"):
		return usagef("--out %s: only HTML is written: give a name that ends in .html", f.out)
	case f.pixels < 64 || f.pixels > 4096:
		return usagef("--pixels %d: give 64 to 4096", f.pixels)
	case f.questions < 0 || f.rows < 0:
		return usagef("--questions and --rows: give 0 or more")
	}
	return readDossier(c, name, func(d *dossier.Dossier) error {
		if err := mayReplace(d, f.out, f.force); err != nil {
			return err
		}
		r, err := f.collect(c, name, d)
		if err != nil {
			return err
		}
		size := &counting{}
		if err := writeTo(c, f.out, func(w io.Writer) error { return r.Write(io.MultiWriter(w, size)) }); err != nil || f.out == "-" {
			return err
		}
		_, err = fmt.Fprintf(c.OutOrStdout(), "%s: %s: %s, %s, %s, %s\n", f.out, bytesText(size.n), counted(len(r.Shots), "photograph"),
			counted(blockCount(r), "block"), counted(len(r.Groups), "kind")+" of circuit recognised", counted(len(r.Questions), "question"))
		p := &printer{w: c.ErrOrStderr()}
		for _, l := range r.Left {
			p.f("not in it: %s\n", l)
		}
		return errors.Join(err, p.err)
	})
}

func blockCount(r *report.Report) int {
	if r.Blocks == nil {
		return 0
	}
	return len(r.Blocks.Blocks)
}

// counting counts bytes.
type counting struct{ n int64 }

func (c *counting) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

// collecting is a report being made.
type collecting struct {
	c    *cobra.Command
	f    *reportFlags
	name string
	d    *dossier.Dossier
	r    *report.Report
}

// collect reads the dossier, extracts, asks and recognises, and puts all into a report.
func (f *reportFlags) collect(c *cobra.Command, name string, d *dossier.Dossier) (*report.Report, error) {
	title := f.title
	if title == "" {
		title = strings.TrimSuffix(filepath.Base(name), filepath.Ext(name))
	}
	k := &collecting{c, f, name, d, &report.Report{Title: title}}
	for _, step := range []func() error{k.facts, k.shots, k.circuit} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return k.r, c.Context().Err()
}

// left notes what the report does not hold, and why.
func (k *collecting) left(format string, args ...any) {
	k.r.Left = append(k.r.Left, fmt.Sprintf(format, args...))
}

// mostRemarks is how many remarks a report has.
const mostRemarks = 200

// facts are what there is, in figures, the remarks, and the method.
func (k *collecting) facts() error {
	s, err := k.d.Summary()
	if err != nil {
		return err
	}
	if n := len(s.Last.What); n > 0 {
		k.r.Subtitle = "As of " + s.Last.At.UTC().Format(time.DateOnly) + ", the last edit of the dossier."
	}
	k.r.Facts = append(k.r.Facts, report.Fact{Name: "Process", Value: s.Stack})
	for _, n := range s.Counts {
		if n.N > 0 {
			name := n.What
			if of, ok := strings.CutPrefix(name, "of them "); ok {
				name = "shots " + of
			}
			k.r.Facts = append(k.r.Facts, report.Fact{Name: sentence(name), Value: fmt.Sprint(n.N)})
		}
	}
	notes, err := k.d.Notes()
	if err != nil {
		return err
	}
	if more := len(notes) - mostRemarks; more > 0 {
		k.left("%d more remarks: the workbench shows them.", more)
		notes = notes[:mostRemarks]
	}
	for _, n := range notes {
		at := microns(n.At)
		if n.Cell != dossier.Frame {
			at += " of a cell"
		}
		k.r.Remarks = append(k.r.Remarks, report.Remark{Place: at, Text: n.Text})
	}
	return nil
}

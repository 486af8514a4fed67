package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"undermetal/cmd/undermetal/workbench"
	"undermetal/cmd/undermetal/workbench/desk"
	"undermetal/cmd/undermetal/workbench/glyph"
	"undermetal/layout/dossier"
)

// The words that --pixels, --glyphs and --colours take.
var (
	pixelWords  = words[workbench.Pixels]{{"auto", workbench.Auto}, {"kitty", workbench.Kitty}, {"sixel", workbench.Sixel}, {"glyphs", workbench.Glyphs}}
	blockWords  = words[glyph.Blocks]{{"quadrants", glyph.Quadrants}, {"halves", glyph.Halves}, {"sextants", glyph.Sextants}}
	colourWords = words[int]{{"auto", 0}, {"true", 1 << 24}, {"256", 256}, {"mono", 2}}
)

// words are those that a flag takes, each with what it stands for; the first is the usual one.
type words[T any] []struct {
	word  string
	value T
}

func (w words[T]) all() (all []string) {
	for _, one := range w {
		all = append(all, one.word)
	}
	return all
}

func (w words[T]) value(flag, word string) (T, error) {
	for _, one := range w {
		if one.word == word {
			return one.value, nil
		}
	}
	var none T
	return none, usagef("--%s %s: give %s", flag, word, strings.Join(w.all(), ", "))
}

// add makes the flag, with completion.
func (w words[T]) add(c *cobra.Command, to *string, flag, usage string) {
	c.Flags().StringVar(to, flag, w[0].word, usage+": "+strings.Join(w.all(), ", "))
	c.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(w.all(), cobra.ShellCompDirectiveNoFileComp))
}

// openHook is for tests: see workbench.Options.
var openHook func(where string)

// openFlags are the flags of undermetal open.
type openFlags struct {
	pixels, glyphs, colours string
	walk                    bool
	cache                   int
}

func newOpen() *cobra.Command {
	var f openFlags
	c := &cobra.Command{
		Use:   "open DOSSIER",
		Short: "open the terminal workbench: photographs, tracing and circuit on one screen",
		Long: `open shows a dossier on the terminal: photographs, laid on each other, what is traced over them, and the circuit that
becomes of it while it is drawn. ? shows the keys, F1 leads through them, : begins a command, and every command of undermetal
that works on a dossier is one. Every edit is in the dossier at once, and can be undone; nothing has to be saved.

The picture is real pixels where the terminal has them, by the kitty protocol or by sixels, and block characters in two
colours each elsewhere, over ssh and in multiplexers too. --pixels and --glyphs choose; --glyphs sextants is finer, where the
font has them. It wants a terminal of 40 × 12 cells or more, a locale with UTF-8, and for colours TERM=xterm-256color or better;
COLORTERM=truecolor says that it has all colours. A mouse is good to have and not needed.

A dossier that somebody else has open for editing can be looked at only: the last line says who has it.`,
		Example: `  undermetal open kiln.dossier
  undermetal open kiln.dossier --pixels glyphs --glyphs halves
  LANG=C.UTF-8 undermetal open kiln.dossier --colours 256`,
		Args: exactly(1, "one dossier"),
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) > 0 {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			return []string{"dossier"}, cobra.ShellCompDirectiveFilterFileExt
		},
		RunE: func(c *cobra.Command, args []string) error { return doOpen(c, args[0], &f) },
	}
	pixelWords.add(c, &f.pixels, "pixels", "how the picture is shown")
	blockWords.add(c, &f.glyphs, "glyphs", "into what a cell is divided, where there are no pixels")
	colourWords.add(c, &f.colours, "colours", "how many colours the terminal has")
	c.Flags().BoolVar(&f.walk, "walk", false, "begin with the walk through the workbench")
	c.Flags().IntVar(&f.cache, "cache", 384, "how much of the photographs is kept unpacked, in MB")
	return c
}

// newGuard is the process that workbench.Run starts beside itself.
func newGuard() *cobra.Command {
	return &cobra.Command{
		Use:    "guard-terminal",
		Short:  "put the terminal right when open ends by a mistake; open starts it itself",
		Hidden: true,
		Args:   exactly(0, "nothing"),
		RunE:   func(c *cobra.Command, _ []string) error { return workbench.Guard(os.Stdin, os.Stdout, os.Stderr) },
	}
}

func doOpen(c *cobra.Command, path string, f *openFlags) error {
	o := workbench.Options{Bytes: f.cache << 20, Hook: openHook}
	var err [3]error
	o.Pixels, err[0] = pixelWords.value("pixels", f.pixels)
	o.Blocks, err[1] = blockWords.value("glyphs", f.glyphs)
	o.Colours, err[2] = colourWords.value("colours", f.colours)
	if err := errors.Join(err[:]...); err != nil {
		return err
	}
	if f.cache < 4 || f.cache > 1<<16 {
		return usagef("--cache %d: give 4 to 65536, in MB", f.cache)
	}
	if self, err := os.Executable(); err == nil {
		o.Guard = []string{self, "guard-terminal"}
	}
	o.Desk = desk.Options{Verbs: deskVerbs(c.Root()), Run: runContext, Complete: completeWords, FirstRun: f.walk}
	// The context of the dossier outlasts a signal: what is being written then is written whole.
	d, openErr := dossier.Open(context.WithoutCancel(c.Context()), path)
	if openErr != nil {
		return dossierError(c, path, openErr)
	}
	o.Notice = workbench.LocaleWarning()
	if o.Notice != "" {
		fmt.Fprintf(c.ErrOrStderr(), "undermetal: %s\n", o.Notice)
	}
	if why := d.ReadOnly(); why != "" {
		o.Notice = "you can only look: " + why
	}
	ran := workbench.Run(c.Context(), d, o)
	return openError(c, path, ran, closeInTime(d, ran))
}

// closeInTime closes a dossier. After a panic somebody may hold it for good: what was saved is in the file without it.
func closeInTime(d *dossier.Dossier, ran error) error {
	var mistake *workbench.Panic
	if !errors.As(ran, &mistake) {
		return d.Close()
	}
	done := make(chan error, 1)
	go func() { done <- d.Close() }()
	select {
	case err := <-done:
		return err
	case <-time.After(5 * time.Second):
		return nil
	}
}

// openError says how a workbench ended.
func openError(c *cobra.Command, path string, ran, closed error) error {
	const kept = "every edit is in the dossier"
	var mistake *workbench.Panic
	switch {
	case errors.Is(ran, workbench.ErrNoTerminal):
		return errors.Join(usagef("open wants a terminal: %w\n    start it in one, with nothing piped in or out; shot show, extract and trace check do without", ran), closed)
	case errors.As(ran, &mistake):
		return errors.Join(fmt.Errorf("%s: a mistake of the program ended the workbench: %w\n    %s; %s", path, ran, kept, mistake.CrashFile()), closed)
	case workbench.Gone(ran):
		return errors.Join(fmt.Errorf("%s: %w\n    %s", path, ran, kept), closed)
	case c.Context().Err() != nil:
		return errors.Join(interruptedError{errors.Join(ran, closed), kept}, closed)
	}
	return errors.Join(ran, closed)
}

// deskless are the commands that make no sense on a dossier that is open.
var deskless = []string{"open", "new", "demo", "version", "completion", "help", "guard-terminal", "check", "compact", "compare", "trace do"}

// editVerbs are those that may change a dossier.
var editVerbs = []string{"undo", "redo", "stack set", "stack add-layer", "shot add", "shot set", "shot remove", "shot calibrate", "shot register", "shot align",
	"trace import", "trace heal", "trace label", "trace area", "questions", "blocks set", "blocks remove", "blocks die"}

// deskVerbs lists the commands that the workbench offers.
func deskVerbs(root *cobra.Command) (all []desk.Verb) {
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			words := strings.TrimPrefix(sub.CommandPath(), root.Name()+" ")
			if sub.Hidden || slices.Contains(deskless, words) {
				continue
			}
			if sub.HasSubCommands() {
				walk(sub)
				continue
			}
			_, arguments, _ := strings.Cut(sub.Use, " ")
			all = append(all, desk.Verb{Words: words, Short: sub.Short, Edits: slices.Contains(editVerbs, words),
				Dossier: strings.HasPrefix(arguments, "DOSSIER") || strings.HasPrefix(arguments, "INPUT")})
		}
	}
	walk(root)
	return all
}

// completeWords asks cobra how the last of some words may go on.
func completeWords(ctx context.Context, args []string) (all []desk.Candidate) {
	root := newRoot()
	var out bytes.Buffer
	root.SetOut(&out)
	root.SetErr(io.Discard)
	root.SetArgs(append([]string{cobra.ShellCompRequestCmd}, args...))
	if root.ExecuteContext(ctx) != nil {
		return nil
	}
	for line := range strings.Lines(out.String()) {
		text, note, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "\t")
		if strings.HasPrefix(text, ":") { // cobra's directive, which is the last line
			break
		}
		if !strings.HasPrefix(text, "_activeHelp_") {
			all = append(all, desk.Candidate{Text: text, Note: note})
		}
	}
	return all
}

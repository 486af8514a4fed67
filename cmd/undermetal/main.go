// Command undermetal turns drawings traced over photographs of a delayered die into a circuit that a simulator accepts.
//
// One file a verb; each parses its call, calls the rooms and prints. See `undermetal help`.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"github.com/spf13/cobra"
)

// The exit statuses.
const (
	exitDone   = 0
	exitFailed = 1 // the work failed, or the circuits differ
	exitUsage  = 2 // the call was wrong
)

func main() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(50) // a chip takes a fifth less memory, and hardly more time
	}
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the command without the process around it.
func run(args []string, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends the process at once
	return runContext(ctx, args, stdout, stderr)
}

// runContext is run with the caller's context, which ends the work cleanly.
func runContext(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.ExecuteContext(ctx)
	var usage usageError
	var interrupted interruptedError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errDiffer):
		return exitFailed
	case ctx.Err() != nil:
		errors.As(err, &interrupted)
		fmt.Fprintln(stderr, strings.TrimSpace("undermetal: interrupted; no file is left half written\n    "+interrupted.left))
		return exitFailed
	case errors.As(err, &usage):
		fmt.Fprintf(stderr, "undermetal: %s\n", harmless(err.Error(), "\n"))
		return exitUsage
	}
	fmt.Fprintf(stderr, "undermetal: %s\n", harmless(err.Error(), "\n"))
	return exitFailed
}

// usageError is a call that cannot be carried out as it stands.
type usageError struct{ err error }

func (e usageError) Error() string { return e.err.Error() }
func (e usageError) Unwrap() error { return e.err }

// interruptedError is work that was interrupted, with what is left to do.
type interruptedError struct {
	err  error
	left string
}

func (e interruptedError) Error() string { return e.err.Error() }
func (e interruptedError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "undermetal",
		Short: "read the circuit off a delayered die",
		Long: `undermetal reads the circuit off a delayered die: drawings of its layers go in, a netlist that a simulator accepts
comes out. Results go to standard output or the named file, everything else to standard error.

Exit status: 0 done, 1 the work failed or the circuits differ, 2 the call was wrong.`,
		Example: `  undermetal demo
  undermetal extract cell.gds --stack process.stack.toml --spice cell.sp
  undermetal compare cell.sp published.cdl --top CELL`,
		SilenceUsage:               true,
		SilenceErrors:              true,
		SuggestionsMinimumDistance: 2,
		Args:                       cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return c.Help()
			}
			return usagef("there is no command %q%s\n    undermetal help lists them", args[0], meant(c, args[0]))
		},
	}
	root.SetFlagErrorFunc(flagError)
	root.AddCommand(newNew(), newInfo(), newCheck(), newCompact(), newHistory(), newStack(), newShot(), newTrace(), newOpen(), newGuard(), newExtract(), newQuestions(), newRecognise(), newCompare(), newSchematic(), newBlocks(), newReport(), newSimulate(), newDemo(), newVersion())
	root.AddCommand(newSteps()...)
	root.InitDefaultCompletionCmd()
	for _, c := range root.Commands() {
		if c.Name() == "completion" {
			c.Args = func(_ *cobra.Command, args []string) error {
				if len(args) > 0 {
					return usagef("there is no completion for a shell called %q\n    give bash, zsh, fish or powershell", args[0])
				}
				return nil
			}
			c.RunE = func(c *cobra.Command, _ []string) error { return c.Help() } // without it Args is not asked
		}
	}
	return root
}

// meant asks whether a word that is no command of c stands for one below, or is a misspelt one; nothing where it does not.
func meant(c *cobra.Command, word string) string {
	var names []string
	name := func(sub *cobra.Command) string {
		return strings.TrimPrefix(sub.CommandPath(), c.Root().Name()+" ")
	}
	for _, sub := range c.Commands() {
		for _, below := range sub.Commands() {
			if below.Name() == word {
				names = append(names, name(below))
			}
		}
	}
	if s := c.SuggestionsFor(word); len(names) == 0 && len(s) > 0 {
		names = []string{strings.TrimPrefix(c.CommandPath()+" "+s[0], c.Root().Name()+" ")}
	}
	if len(names) == 0 {
		return ""
	}
	return fmt.Sprintf("; did you mean %s?", strings.Join(names, " or "))
}

// exactly wants n arguments and says which.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usagef("%s wants %s, got %s\n    %s --help shows an example", c.CommandPath(), what, counted(len(args), "argument"), c.CommandPath())
		}
		return nil
	}
}

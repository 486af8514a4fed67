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
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errDiffer):
		return exitFailed
	case ctx.Err() != nil:
		fmt.Fprintln(stderr, "undermetal: interrupted; no file is left half written")
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
			hint := ""
			if s := c.SuggestionsFor(args[0]); len(s) > 0 {
				hint = fmt.Sprintf("; did you mean %s?", s[0])
			}
			return usagef("there is no command %q%s\n    undermetal help lists them", args[0], hint)
		},
	}
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usagef("%v\n    %s --help shows what there is", err, c.CommandPath())
	})
	root.AddCommand(newNew(), newInfo(), newCheck(), newCompact(), newHistory(), newStack(), newShot(), newExtract(), newCompare(), newDemo(), newVersion())
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

// exactly wants n arguments and says which.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != n {
			return usagef("%s wants %s, got %s\n    %s --help shows an example", c.CommandPath(), what, counted(len(args), "argument"), c.CommandPath())
		}
		return nil
	}
}

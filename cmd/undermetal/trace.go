package main

import "github.com/spf13/cobra"

func newTrace() *cobra.Command {
	c := group("trace", "the tracing: check, heal", `trace is about what is drawn over the photographs.`)
	c.AddCommand(newTraceCheck(), newTraceHeal())
	return c
}

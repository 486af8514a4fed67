package main

import "github.com/spf13/cobra"

func newTrace() *cobra.Command {
	c := group("trace", "the tracing: import, export, check, heal, labels, traced areas", `trace is about what was traced over the photographs: shapes on layers, labels on nets, and the areas that were looked at.`)
	c.AddCommand(newTraceImport(), newTraceExport(), newTraceCheck(), newTraceHeal(), newTraceLabel(), newTraceArea(), newTraceDo())
	return c
}

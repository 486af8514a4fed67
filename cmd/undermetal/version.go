package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "say which version this is",
		Args:  exactly(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			version, revision := "(devel)", ""
			if info, ok := debug.ReadBuildInfo(); ok {
				version = info.Main.Version
				for _, s := range info.Settings {
					if s.Key == "vcs.revision" {
						revision = " " + s.Value
					}
				}
			}
			_, err := fmt.Fprintf(c.OutOrStdout(), "undermetal %s%s\n", version, revision)
			return err
		},
	}
}

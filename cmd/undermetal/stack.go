package main

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/stack"
)

func newStack() *cobra.Command {
	c := group("stack", "show or change what a dossier knows of the process", `stack is about the layers of a dossier, what joins what, and what makes a device: the stack file, in TOML.`)
	c.AddCommand(newStackShow(), newStackSet(), newStackAddLayer())
	return c
}

// group is a command that only has others below it.
func group(name, short, long string) *cobra.Command {
	c := &cobra.Command{Use: name, Short: short, Long: long, Args: cobra.ArbitraryArgs, SuggestionsMinimumDistance: 2}
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) == 0 {
			return c.Help()
		}
		return usagef("there is no command %q below %q%s\n    %s --help lists them", args[0], c.CommandPath(), meant(c, args[0]), c.CommandPath())
	}
	return c
}

func newStackShow() *cobra.Command {
	return &cobra.Command{
		Use:   "show DOSSIER|NAME",
		Short: "print the stack of a dossier, or a built-in one",
		Example: `  undermetal stack show kiln.dossier > process.stack.toml
  undermetal stack show cmos-1p2m-well`,
		Args: exactly(1, "one dossier, or the name of a built-in stack"),
		RunE: func(c *cobra.Command, args []string) error {
			if st, ok := stack.Builtin(args[0]); ok {
				_, err := c.OutOrStdout().Write(st.TOML())
				return err
			}
			if _, err := os.Stat(args[0]); errors.Is(err, os.ErrNotExist) && !strings.HasSuffix(args[0], ".dossier") {
				_, err := stack.Load(args[0]) // which says what it may stand for
				return err
			}
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				text, err := d.StackText()
				if err == nil {
					_, err = fmt.Fprint(c.OutOrStdout(), text)
				}
				return err
			})
		},
	}
}

func newStackSet() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "set DOSSIER FILE|NAME",
		Short: "replace the stack of a dossier",
		Long: `set replaces the stack by a stack file or a built-in one. Shapes stay on the layers that they were drawn on; where the
new stack does not have one of these, it is refused, unless --force is given. undo brings the old stack back.`,
		Example: `  undermetal stack set kiln.dossier process.stack.toml
  undermetal stack set kiln.dossier cmos-2p3m-well`,
		Args: exactly(2, "a dossier and a stack"),
		RunE: func(c *cobra.Command, args []string) error {
			text, err := stackText(args[1])
			if err != nil {
				return err
			}
			st, err := stack.Parse(args[1], []byte(text))
			if err != nil {
				return err
			}
			return editDossier(c, args[0], func(d *dossier.Dossier) error {
				used, err := d.UsedLayers()
				if err != nil {
					return err
				}
				biases, err := d.Biases()
				if err != nil {
					return err
				}
				lost := slices.DeleteFunc(used, func(name string) bool { return slices.Contains(st.LayerNames(), name) })
				for _, b := range biases {
					if !force && !slices.Contains(st.LayerNames(), b.Layer) && !slices.Contains(lost, b.Layer) {
						return fmt.Errorf("%s: the bias of %s in a photograph is known, which %s does not have\n    add the layer to it, or give --force: then it stays, and counts for nothing", args[0], b.Layer, args[1])
					}
				}
				if len(lost) > 0 && !force {
					return fmt.Errorf("%s: something is drawn on %s, which %s does not have\n    add the layers to it, or give --force", args[0], strings.Join(lost, ", "), args[1])
				}
				if err := d.Edit(c.Context(), "set the stack to "+st.Name, func(tx *dossier.Tx) error { return tx.SetStack(text) }); err != nil {
					return err
				}
				_, err = fmt.Fprintf(c.OutOrStdout(), "%s: stack %q, %s\n", args[0], st.Name, counted(len(st.Layers), "layer"))
				return err
			})
		},
	}
	c.Flags().BoolVar(&force, "force", false, "replace it even where layers that were drawn on are gone")
	return c
}

// stackText returns the text of a built-in stack or of a stack file, with its comments.
func stackText(name string) (string, error) {
	if st, ok := stack.Builtin(name); ok {
		return string(st.TOML()), nil
	}
	if _, err := stack.Load(name); err != nil { // which says what is wrong with it
		return "", err
	}
	data, err := os.ReadFile(name)
	return string(data), err
}

func newStackAddLayer() *cobra.Command {
	var role, color string
	var joins, gds, labels []string
	c := &cobra.Command{
		Use:   "add-layer DOSSIER LAYER",
		Short: "add a layer to the stack of a dossier",
		Example: `  undermetal stack add-layer kiln.dossier metal3 --role metal
  undermetal stack add-layer kiln.dossier via2 --role contact --joins metal3,metal2`,
		Args: exactly(2, "a dossier and the layer's name"),
		RunE: func(c *cobra.Command, args []string) error {
			if role == "" {
				return usagef("--role says what the layer is: diffusion, gate, metal, contact, well, pad or mark")
			}
			var b strings.Builder
			fmt.Fprintf(&b, "\n[[layer]]\nname = %q\nrole = %q\n", args[1], role)
			for _, list := range []struct {
				key    string
				values []string
			}{{"joins", joins}, {"gds", gds}, {"labels", labels}} {
				if len(list.values) > 0 {
					quoted := make([]string, len(list.values))
					for i, v := range list.values {
						quoted[i] = fmt.Sprintf("%q", v)
					}
					fmt.Fprintf(&b, "%s = [%s]\n", list.key, strings.Join(quoted, ", "))
				}
			}
			if color != "" {
				fmt.Fprintf(&b, "color = %q\n", color)
			}
			return editDossier(c, args[0], func(d *dossier.Dossier) error {
				text, err := d.StackText()
				if err != nil {
					return err
				}
				if err := d.Edit(c.Context(), "add layer "+args[1], func(tx *dossier.Tx) error { return tx.SetStack(text + b.String()) }); err != nil {
					return err
				}
				st, err := d.Stack()
				if err == nil {
					_, err = fmt.Fprintf(c.OutOrStdout(), "%s: layer %s; the stack has %d\n", args[0], args[1], len(st.Layers))
				}
				return err
			})
		},
	}
	c.Flags().StringVar(&role, "role", "", "diffusion, gate, metal, contact, well, pad or mark")
	c.Flags().StringSliceVar(&joins, "joins", nil, "of a contact: the layers that it joins, top to bottom")
	c.Flags().StringSliceVar(&gds, "gds", nil, "where GDSII files keep its shapes, as in 34/0")
	c.Flags().StringSliceVar(&labels, "labels", nil, "where GDSII files keep the texts that name its nets, as in 34/10")
	c.Flags().StringVar(&color, "color", "", "how it is drawn, as in #56b4e9")
	return c
}

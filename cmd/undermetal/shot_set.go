package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/shot"
)

// setFlags are the flags of undermetal shot set.
type setFlags struct {
	facts
	name, contrast, channel string
	gamma                   float64
	bias                    []string
}

func newShotSet() *cobra.Command {
	var f setFlags
	c := &cobra.Command{
		Use:   "set DOSSIER SHOT",
		Short: "change what is known of a photograph, and how it is shown",
		Long: `set changes only what is given. --contrast takes the samples shown as black and as white, from 0 to 1, or auto, which
finds them. --gamma above 1 brightens the middle. --channel shows red, green or blue alone, or all. Lengths may have
their unit behind them, as in 0.55um.

Focus, and the threshold by which edges are found, move all edges of a layer alike in a photograph. --bias poly=20nm says how
uncertain that is, as one standard deviation, and W and L are as uncertain as that makes them. Where something of known width
was measured, --bias poly=12±5nm says that edges really lie 12 nm further out than they are drawn, and how well that is known:
sizes are corrected by it, W and L by twice as much, and what is drawn stays. --bias poly=0 forgets it.`,
		Example: `  undermetal shot set kiln.dossier bare --na 0.9 --wavelength 550
  undermetal shot set kiln.dossier bare --contrast auto --gamma 1.4 --channel green
  undermetal shot set kiln.dossier bare --bias poly=12±5nm,diffusion=30nm`,
		Args: exactly(2, "a dossier and the name of a shot"),
		RunE: func(c *cobra.Command, args []string) error { return doShotSet(c, args, &f) },
	}
	f.flags(c)
	c.Flags().StringVar(&f.name, "name", "", "another name")
	c.Flags().StringVar(&f.contrast, "contrast", "", "LOW,HIGH from 0 to 1, or auto")
	c.Flags().Var(quantity{&f.gamma, ""}, "gamma", "from 0.1 to 10; 1 shows samples as they are")
	c.Flags().StringVar(&f.channel, "channel", "", "red, green, blue or all")
	c.Flags().StringSliceVar(&f.bias, "bias", nil, "how far all edges of a layer lie off alike, as LAYER=NM (uncertain by that) or LAYER=NM±NM (known), several with commas")
	return c
}

func doShotSet(c *cobra.Command, args []string, f *setFlags) error {
	if err := errors.Join(f.check(), checkName(f.name)); err != nil {
		return err
	}
	changed := given(c, append(append([]string{"name"}, factFlags...), "contrast", "gamma", "channel", "bias"))
	if len(changed) == 0 {
		return usagef("nothing to set\n    %s --help lists what there is", c.CommandPath())
	}
	return editShot(c, args, func(d *dossier.Dossier, s *dossier.Shot) error {
		f.into(c, &s.Facts)
		if changed[0] == "name" {
			if other, err := d.Shot(f.name); err == nil && other.ID != s.ID {
				return nameTaken("--name "+f.name, other)
			}
			s.Name, changed[0] = f.name, "name "+f.name
		}
		if c.Flags().Changed("gamma") {
			s.Display.Gamma = f.gamma
		}
		if err := setDisplay(d.Pyramid(s), &s.Display, f.contrast, f.channel); err != nil {
			return err
		}
		biases, err := statedBiases(d, s, f.bias)
		if err != nil {
			return err
		}
		what := fmt.Sprintf("set shot %s: %s", args[1], strings.Join(changed, ", "))
		if err := d.Edit(c.Context(), what, func(tx *dossier.Tx) error {
			err := tx.SetShot(s)
			for i := range biases {
				err = errors.Join(err, tx.SetBias(&biases[i]))
			}
			return err
		}); err != nil {
			return err
		}
		b, err := keptOf(d)
		if err != nil {
			return err
		}
		return errors.Join(printShots(c.OutOrStdout(), []dossier.Shot{*s}, b), warnOptics(c.ErrOrStderr(), s), warnScale(c.ErrOrStderr(), s))
	})
}

// channels are the names of what is shown, by shot.Display.Channel.
var channels = []string{"all", "red", "green", "blue"}

// channelName is for any number: a dossier from elsewhere may hold one that is none.
func channelName(n int) string {
	if n < 0 || n >= len(channels) {
		return fmt.Sprintf("%d", n)
	}
	return channels[n]
}

// setDisplay changes what is given; an empty text is not.
func setDisplay(p *shot.Pyramid, d *shot.Display, contrast, channel string) error {
	switch {
	case contrast == "auto":
		auto, err := p.AutoContrast()
		if err != nil {
			return err
		}
		d.Low, d.High = auto.Low, auto.High
	case contrast != "":
		pair, err := numbers(contrast, 2)
		if err != nil {
			return usagef("--contrast %s: %v\n    give two numbers from 0 to 1, as in 0.1,0.8, or auto", contrast, err)
		}
		d.Low, d.High = pair[0], pair[1]
	}
	if channel != "" {
		d.Channel = slices.Index(channels, channel)
		if d.Channel < 0 {
			return usagef("--channel %s: there are red, green, blue and all", channel)
		}
	}
	if err := d.Check(p.Channels); err != nil {
		return usagef("%v", err)
	}
	return nil
}

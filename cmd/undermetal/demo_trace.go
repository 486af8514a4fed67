package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"io"
	"path/filepath"
	"strings"

	"golang.org/x/sync/errgroup"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/layout/gds"
	"undermetal/layout/stack"
	"undermetal/testdata/kiln"
)

// draw writes the imager's drawing with its stack, extracts the circuit from those files, and writes the truth of the whole die.
func (d *demo) draw() error {
	drawn, stackFile := d.making(demoDrawing), d.making(demoStack)
	if err := d.write(stackFile, kiln.Stack); err != nil {
		return err
	}
	st, err := kilnStack()
	if err != nil {
		return err
	}
	if err := writeTo(d.quiet, drawn, func(w io.Writer) error { return writeKilnGDS(w, kiln.Library(), st) }); err != nil {
		return err
	}
	if _, err := d.verb(newExtract(), "--stack="+stackFile, "--spice="+d.making(demoDrawn), "--", drawn); err != nil {
		return err
	}
	d.p.f("In %s:\n  %s and %s: the drawing of the imager by itself, and its stack; %s: the circuit that is in it\n\n", d.dir, demoDrawing, demoStack, demoDrawn)
	return d.write(d.making(demoTruth), kiln.Truth)
}

// write writes a file that is ready.
func (d *demo) write(name string, data []byte) error {
	return writeTo(d.quiet, name, func(w io.Writer) error { _, err := w.Write(data); return err })
}

func kilnStack() (*stack.Stack, error) { return stack.Parse("kiln.stack.toml", kiln.Stack) }

func writeKilnGDS(w io.Writer, lib *layout.Library, st *stack.Stack) error {
	first := func(pairs []stack.Pair) gds.Pair {
		if len(pairs) == 0 {
			return gds.Pair{}
		}
		return pairs[0]
	}
	return gds.Write(w, lib, func(l layout.Layer) gds.Pair { return first(st.Layers[l].GDS) },
		func(l layout.Layer) gds.Pair { return first(st.Layers[l].Labels) })
}

// photo is a file that lies with the photographs.
func (d *demo) photo(name string) string { return filepath.Join(d.file(demoPhotos), name) }

// demoRuling is the photograph of the stage micrometer.
const demoRuling = "micrometer.png"

// photograph renders the photographs and writes them, with the control points that a hand found on them and what it traced over them.
func (d *demo) photograph() error {
	hand, shots := kiln.NewHand(kiln.Seed), kiln.Photos()
	take := []func(context.Context) (*image.Gray, error){kiln.Micrometer}
	for _, s := range shots {
		take = append(take, s.Image)
	}
	pictures := make([]bytes.Buffer, len(take))
	g, ctx := errgroup.WithContext(d.c.Context())
	g.SetLimit(2) // each holds a picture of some MB several times
	for i := range take {
		g.Go(func() error {
			img, err := take[i](ctx)
			if err != nil {
				return err
			}
			enc := png.Encoder{CompressionLevel: png.BestSpeed}
			return enc.Encode(shared.While(ctx, &pictures[i]), img)
		})
	}
	wait := newClock(d.c, "taking photographs")
	err := g.Wait()
	wait.end()
	if err != nil {
		return err
	}
	d.p.f("Two photographs in %s, rendered from the drawing of the whole die: tilted, shaded, noisy, with dust; and one of a stage micrometer.\n", d.file(demoPhotos))
	if err := d.write(d.photo(demoRuling), pictures[0].Bytes()); err != nil {
		return err
	}
	for i, s := range shots {
		if err := d.write(d.photo(s.Name+".png"), pictures[i+1].Bytes()); err != nil {
			return err
		}
		if err := d.write(d.photo(s.Name+".csv"), hand.Points(s)); err != nil {
			return err
		}
		d.p.f("  %-14s  %d × %d px, %g µm/px\n", s.Name+".png", s.Width, s.Height, s.NmPerPx/1000)
	}
	d.drawings = hand.Drawings(shots)
	for _, f := range d.drawings {
		if err := d.write(d.photo(f.File), f.SVG); err != nil {
			return err
		}
	}
	return nil
}

// keep begins the dossier, and registers the photographs in it.
func (d *demo) keep() error {
	path := d.making(demoDossier)
	if _, err := d.verb(newNew(), "--stack="+d.making(demoStack), "--", path); err != nil {
		return err
	}
	d.p.f("Both are in %s. One has its scale from the micrometer, and so has the frame, in which both lie by control points.\n", d.file(demoDossier))
	for _, s := range kiln.Photos() {
		if _, err := d.verb(newShotAdd(), "--step="+s.Name, "--", path, d.photo(s.Name+".png")); err != nil {
			return err
		}
		if s.Metal {
			said, err := d.verb(newShotCalibrate(), "--micrometer="+d.photo(demoRuling), fmt.Sprintf("--pitch=%gnm", float64(kiln.RulingPitch)), fmt.Sprintf("--pitch-sigma=%gnm", float64(kiln.RulingSigma)), "--", path, s.Name)
			if err != nil {
				return err
			}
			_, scale, _ := strings.Cut(said, ": ")
			scale, _, _ = strings.Cut(scale, "\n")
			d.p.f("  %-10s  %s, by lines %g ± %g µm apart\n", s.Name, scale, um(kiln.RulingPitch), um(kiln.RulingSigma))
		}
		said, err := d.verb(newShotRegister(), "--points="+d.photo(s.Name+".csv"), "--", path, s.Name)
		if err != nil {
			return err
		}
		_, fit, _ := strings.Cut(said, "\n    rms ")
		fit, _, _ = strings.Cut(fit, ";")
		d.p.f("  %-10s  rms %s\n", s.Name, fit)
	}
	return nil
}

// trace brings in what was traced, step by step, and repeats what was traced once.
func (d *demo) trace() error {
	over := map[string]string{}
	for _, f := range d.drawings {
		over[f.File] = f.Shot
	}
	path := d.making(demoDossier)
	d.p.f("\nBrought in, traced in a vector editor by a hand that is off by 1 px (one standard deviation):\n")
	for _, step := range kiln.Steps() {
		for _, f := range step.Files {
			if _, err := d.verb(newTraceImport(), "--over="+over[f], "--", path, d.photo(f)); err != nil {
				return err
			}
		}
		if len(step.Lines) > 0 {
			if _, err := d.verb(newTraceDo(), append([]string{"--", path}, step.Lines...)...); err != nil {
				return fmt.Errorf("%s: %w", step.What, err)
			}
		}
		d.p.f("  %s\n", step.What)
	}
	return nil
}

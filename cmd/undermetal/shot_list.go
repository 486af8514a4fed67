package main

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"undermetal/layout/dossier"
	"undermetal/layout/register"
	"undermetal/layout/shot"
)

func newShotList() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "list DOSSIER",
		Short: "list the photographs of a dossier",
		Example: `  undermetal shot list kiln.dossier
  undermetal shot list kiln.dossier --json`,
		Args: exactly(1, "one dossier"),
		RunE: func(c *cobra.Command, args []string) error {
			return readDossier(c, args[0], func(d *dossier.Dossier) error {
				shots, err := d.Shots()
				if err != nil {
					return err
				}
				b, err := keptOf(d)
				if err != nil {
					return err
				}
				if asJSON {
					return writeShots(c.OutOrStdout(), shots, b)
				}
				return printShots(c.OutOrStdout(), shots, b)
			})
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "as JSON")
	return c
}

// kept is what is kept of shots beside themselves.
type kept struct {
	maps   map[int64]*dossier.Registration
	biases map[int64][]dossier.Bias
	layers []string // of the stack
}

func keptOf(d *dossier.Dossier) (b kept, err error) {
	if b.maps, err = d.Registrations(); err != nil {
		return b, err
	}
	st, err := d.Stack()
	if err != nil {
		return b, err
	}
	b.layers = st.LayerNames()
	all, err := d.Biases()
	b.biases = map[int64][]dossier.Bias{}
	for _, x := range all {
		b.biases[x.Shot] = append(b.biases[x.Shot], x)
	}
	return b, err
}

func printShots(w io.Writer, shots []dossier.Shot, b kept) error {
	p := &printer{w: w}
	for i := range shots {
		printShot(p, &shots[i], b.maps[shots[i].ID])
		if of := b.biases[shots[i].ID]; len(of) > 0 {
			p.f("    bias: %s\n", biasText(of, b.layers))
		}
	}
	if len(shots) == 0 {
		p.f("no photographs yet: undermetal shot add puts them in\n")
	}
	return p.err
}

func printShot(p *printer, s *dossier.Shot, g *dossier.Registration) {
	width, height := s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
	p.f("%s: %d × %d px, %s of %d bits", s.Name, width, height, map[int]string{1: "grey", 3: "colour"}[s.Header.Channels], s.Header.Depth)
	if s.Facts.Step != "" {
		p.f(", %s", s.Facts.Step)
	}
	p.f("\n    from %s, SHA-256 %.16s…", s.File, s.SHA256)
	if s.Linked {
		p.f(", not kept here")
	}
	p.f("\n")
	if s.Scale.NmPerPx > 0 {
		p.f("    %s (%s)\n", s.Scale, s.Scale.How)
	} else {
		p.f("    not calibrated\n")
	}
	if g != nil && g.Laid() {
		p.f("    registered: laid on another photograph, ± %.3g px (%.4g µm) at the worst corner\n", tidy(g.RmsPx), um(tidy(g.RmsNm)))
	} else if g != nil {
		p.f("    registered: %s, %s, rms %.3g px (%.4g µm)\n", g.Kind, counted(len(g.Residuals), "control point"), tidy(g.RmsPx), um(tidy(g.RmsNm)))
	}
	if resolves, warning := optics(s); resolves != "" {
		p.f("    resolves %s (0.61 λ/NA)\n", resolves)
		if warning != "" {
			p.f("    %s\n", warning)
		}
	}
	f := &s.Facts
	for _, said := range []struct{ what, text string }{{"objective", f.Objective}, {"NA", figure(f.NA, "")}, {"wavelength", figure(f.WavelengthNm, " nm")}, {"camera pixel", figure(f.CameraUm, " µm")},
		{"light", f.Illumination}, {"taken", f.Taken}, {"note", f.Note}, {"shown with", displayText(s.Display)}} {
		if said.text != "" {
			p.f("    %s: %s\n", said.what, said.text)
		}
	}
}

// figure writes a number that is known.
func figure(v float64, unit string) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf("%g%s", v, unit)
}

// displayText says how a photograph is shown, as far as that is not plain.
func displayText(d shot.Display) string {
	var parts []string
	if d.Low != 0 || d.High != 1 {
		parts = append(parts, fmt.Sprintf("contrast %.4g,%.4g", d.Low, d.High))
	}
	if d.Gamma != 1 {
		parts = append(parts, fmt.Sprintf("gamma %g", d.Gamma))
	}
	if d.Channel != 0 {
		parts = append(parts, "channel "+channelName(d.Channel))
	}
	return strings.Join(parts, ", ")
}

// shotJSON is the contract of shot list --json. Texts that nobody gave are empty, figures null. Map takes pixels to nm of
// the frame: three rows of three for similarity, affine and projective maps, an object with kind and parameters for others;
// null where the photograph is not registered. RmsPx of one that was laid on another is the map's standard uncertainty.
type shotJSON struct {
	ID           int64      `json:"id"`
	Name         string     `json:"name"`
	Step         string     `json:"step"`
	Width        int        `json:"width"`
	Height       int        `json:"height"`
	SHA256       string     `json:"sha256"`
	NmPerPx      *float64   `json:"nm_per_px"`
	Sigma        *float64   `json:"sigma"`
	How          string     `json:"how"`
	Map          any        `json:"map"`
	RmsPx        *float64   `json:"rms_px"`
	File         string     `json:"file"`
	Linked       bool       `json:"linked"`
	Channels     int        `json:"channels"`
	Depth        int        `json:"depth"`
	Objective    string     `json:"objective"`
	NA           *float64   `json:"na"`
	WavelengthNm *float64   `json:"wavelength_nm"`
	CameraUm     *float64   `json:"camera_pixel_um"`
	Illumination string     `json:"illumination"`
	Taken        string     `json:"date"`
	Note         string     `json:"note"`
	Contrast     [2]float64 `json:"contrast"`
	Gamma        float64    `json:"gamma"`
	Channel      string     `json:"channel"`

	Bias map[string]biasJSON `json:"bias"` // by layer
}

type biasJSON struct {
	Out   float64 `json:"out_nm"`
	Sigma float64 `json:"sigma_nm"`
}

func writeShots(w io.Writer, shots []dossier.Shot, b kept) error {
	all := []shotJSON{}
	for i := range shots {
		s := &shots[i]
		f := &s.Facts
		j := shotJSON{ID: s.ID, Name: s.Name, Step: f.Step, SHA256: s.SHA256, File: s.File, Linked: s.Linked, Channels: s.Header.Channels, Depth: s.Header.Depth,
			How: s.Scale.How, Objective: f.Objective, NA: known(&f.NA), WavelengthNm: known(&f.WavelengthNm), CameraUm: known(&f.CameraUm), Illumination: f.Illumination, Taken: f.Taken, Note: f.Note,
			Contrast: [2]float64{s.Display.Low, s.Display.High}, Gamma: s.Display.Gamma, Channel: channelName(s.Display.Channel)}
		j.Width, j.Height = s.Header.Orientation.Upright(s.Header.Width, s.Header.Height)
		if s.Scale.NmPerPx > 0 {
			j.NmPerPx, j.Sigma = &s.Scale.NmPerPx, &s.Scale.Sigma
		}
		j.Bias = map[string]biasJSON{}
		for _, x := range b.biases[s.ID] {
			j.Bias[x.Layer] = biasJSON{x.OutNm, x.SigmaNm}
		}
		if g := b.maps[s.ID]; g != nil {
			j.Map, j.RmsPx = mapJSON(g), &g.RmsPx
		}
		all = append(all, j)
	}
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(all)
}

// mapJSON is the matrix, row by row, of a map that has one; else its kind and parameters.
func mapJSON(g *dossier.Registration) any {
	if m, err := g.Map(); err == nil {
		if l, ok := m.(register.Linear); ok {
			return l.Coefficients()
		}
	}
	return struct {
		Kind       string    `json:"kind"`
		Parameters []float64 `json:"parameters"`
	}{g.Kind, g.Parameters}
}

// known returns nothing for a figure that nobody gave.
func known(v *float64) *float64 {
	if *v == 0 {
		return nil
	}
	return v
}

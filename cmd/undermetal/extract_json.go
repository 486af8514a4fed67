package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"undermetal/cmd/undermetal/shared"
	"undermetal/layout"
	"undermetal/netlist"
	"undermetal/netlist/extract"
	"undermetal/netlist/measure"
	"undermetal/recognise/question"
)

// jsonVersion is the version of the JSON that extract and compare write.
const jsonVersion = 1

type jsonCircuit struct {
	Version int          `json:"version"`
	Circuit string       `json:"circuit"`
	Stack   string       `json:"stack"`
	Ports   []string     `json:"ports"`
	Nets    []jsonNet    `json:"nets"`
	Devices []jsonDevice `json:"devices"`

	Pads       []jsonPad       `json:"pads"`
	Structures []jsonStructure `json:"structures"`

	Warnings []jsonWarning `json:"warnings"`
}

type jsonNet struct {
	ID     string     `json:"id"`
	Name   string     `json:"name"`
	Labels []string   `json:"labels"`
	Open   bool       `json:"open"`
	Layer  string     `json:"layer"`
	At     [2]float64 `json:"at"`
}

type jsonDevice struct {
	ID        string            `json:"id"`
	Path      string            `json:"path"`
	Kind      string            `json:"kind"`
	Model     string            `json:"model"`
	Terminals map[string]string `json:"terminals"`
	W         float64           `json:"w_nm,omitempty"`
	L         float64           `json:"l_nm,omitempty"`
	WOverL    float64           `json:"w_over_l,omitempty"`
	WOverLErr *float64          `json:"w_over_l_error,omitempty"`
	Squares   float64           `json:"squares,omitempty"`
	AS        float64           `json:"as_um2,omitempty"`
	AD        float64           `json:"ad_um2,omitempty"`
	PS        float64           `json:"ps_um,omitempty"`
	PD        float64           `json:"pd_um,omitempty"`
	Area      float64           `json:"area_um2,omitempty"`
	Perimeter float64           `json:"perimeter_um,omitempty"`
	Value     *float64          `json:"value,omitempty"`
	Unit      string            `json:"unit,omitempty"`
	Sigma     jsonSigma         `json:"sigma"`
	SigmaW    *jsonSigma        `json:"sigma_w,omitempty"`
	SigmaL    *jsonSigma        `json:"sigma_l,omitempty"`
	SigmaWL   *jsonSigma        `json:"sigma_w_over_l,omitempty"`
	SigmaSq   *jsonSigma        `json:"sigma_squares,omitempty"`
	SigmaVal  *jsonSigma        `json:"sigma_value,omitempty"`
	SigmaArea *jsonSigma        `json:"sigma_area_um2,omitempty"`
	SigmaPer  *jsonSigma        `json:"sigma_perimeter_um,omitempty"`
	SigmaAS   *jsonSigma        `json:"sigma_as_um2,omitempty"`
	SigmaAD   *jsonSigma        `json:"sigma_ad_um2,omitempty"`
	SigmaPS   *jsonSigma        `json:"sigma_ps_um,omitempty"`
	SigmaPD   *jsonSigma        `json:"sigma_pd_um,omitempty"`
	Fingers   int32             `json:"fingers"`
	At        [2]float64        `json:"at"`
	Shots     []string          `json:"shots"`
	Question  string            `json:"question"`
	Followed  *jsonFollowed     `json:"followed,omitempty"`

	Role     string         `json:"role"`
	RoleOdds float64        `json:"role_odds_db,omitempty"`
	Contacts map[string]int `json:"contacts,omitempty"`
	jsonFill
}

// jsonFollowed is the leading reading of an open question that made a device what it is.
type jsonFollowed struct {
	Question string  `json:"question"`
	Reading  string  `json:"reading"`
	OddsDb   float64 `json:"odds_db"`
}

// jsonSigma holds the parts of a standard uncertainty in the unit of what it is of; "sigma" has of each part the larger one of W
// and L, in nm. A drawing in GDSII is exact and comes from no photograph.
type jsonSigma struct {
	Edge  float64 `json:"edge"`
	Bias  float64 `json:"bias"`
	Scale float64 `json:"scale"`
}

type jsonWarning struct {
	Code  string     `json:"code"`
	Text  string     `json:"text"`
	Layer string     `json:"layer"`
	At    [2]float64 `json:"at"`
}

func place(x, y int) [2]float64 { return [2]float64{um(float64(x)), um(float64(y))} }

// writeJSON writes the circuit by the contract in DEVELOPERS.md. Ids are made of the place, so that they stay the same
// when something is drawn elsewhere.
func writeJSON(w io.Writer, res *extract.Result, sizes []measure.Size, sol *measure.Solution, of *drawing, about []aboutDevice, told *question.Told) error {
	c := res.Circuit
	out := jsonCircuit{Version: jsonVersion, Circuit: c.Name, Stack: of.stack.Name, Ports: []string{}, Nets: []jsonNet{},
		Devices: []jsonDevice{}, Pads: []jsonPad{}, Structures: []jsonStructure{}, Warnings: []jsonWarning{}}
	ids := netIDs(c)
	for i := range c.Nets {
		n := &c.Nets[i]
		labels := n.Labels
		if labels == nil {
			labels = []string{}
			if n.Name != "" {
				labels = append(labels, n.Name)
			}
		}
		out.Nets = append(out.Nets, jsonNet{ids[i], n.Name, labels, n.Open, n.Layer, place(n.At.X, n.At.Y)})
	}
	for _, p := range c.Ports {
		out.Ports = append(out.Ports, ids[p])
	}
	paths := res.Paths()
	devices := deviceIDs(c, paths)
	for i := range c.Devices {
		d := deviceJSON(res, i, paths[i], ids)
		d.ID, d.Question = devices[i], about[i].id
		if f := about[i].followed; f != nil {
			d.Followed = &jsonFollowed{f.question, f.reading, shared.Tidy(f.oddsDb)}
		}
		if sol != nil && res.Circuit.Devices[i].Ratio > 0 {
			d.WOverLErr = &sol.Errors[i]
		}
		if sizes != nil {
			d.uncertain(sizes[i], &res.Circuit.Devices[i], of.traced, res.Junctions != nil)
		}
		out.Devices = append(out.Devices, d)
	}
	out.tell(res, told, ids)
	for _, x := range res.Warnings {
		out.Warnings = append(out.Warnings, jsonWarning{x.Code, x.Text, x.Layer, place(x.X, x.Y)})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(out)
}

// netIDs returns the ids of a circuit's nets.
func netIDs(c *netlist.Circuit) []string {
	ids := make([]string, len(c.Nets))
	for i := range c.Nets {
		n := &c.Nets[i]
		ids[i] = fmt.Sprintf("%s@%.3f,%.3f", n.Layer, um(float64(n.At.X)), um(float64(n.At.Y)))
		if n.Layer == "" {
			ids[i] = n.Name
		}
	}
	return ids
}

// deviceIDs returns the ids of a circuit's devices that lie in the instances of paths.
func deviceIDs(c *netlist.Circuit, paths []string) []string {
	ids := make([]string, len(c.Devices))
	same := map[string]int{} // a crossing of three nets gives several devices in one place
	for i := range c.Devices {
		d := &c.Devices[i]
		at := place(d.At.X, d.At.Y)
		ids[i] = layout.JoinPath(paths[i], fmt.Sprintf("%s@%.3f,%.3f", d.Kind, at[0], at[1]))
		if same[ids[i]]++; same[ids[i]] > 1 {
			ids[i] = fmt.Sprintf("%s#%d", ids[i], same[ids[i]])
		}
	}
	return ids
}

func deviceJSON(res *extract.Result, i int, path string, ids []string) jsonDevice {
	d := &res.Circuit.Devices[i]
	j := jsonDevice{Path: path, Kind: d.Kind.String(), Model: d.Model, Terminals: map[string]string{}, Fingers: max(d.Fingers, 1),
		At: place(d.At.X, d.At.Y), Shots: []string{}}
	for t, name := range d.Kind.TerminalNames() {
		j.Terminals[name] = ids[d.Terminals[t]]
	}
	if d.Kind.IsMOS() {
		j.W, j.L, j.WOverL = d.W, d.L, cmp.Or(d.Ratio, d.W/d.L)
		j.AS, j.AD, j.PS, j.PD = d.AS/1e6, d.AD/1e6, um(d.PS), um(d.PD)
		return j
	}
	j.Area, j.Perimeter = d.Area/1e6, um(d.Perim)
	switch d.Kind {
	case netlist.Capacitor:
		j.Unit = "F"
	case netlist.Resistor:
		j.Unit = "ohm"
		j.W, j.L = d.W, d.L
		switch {
		case d.Ratio > 0:
			j.Squares = 1 / d.Ratio
		case d.W > 0:
			j.Squares = d.L / d.W
		}
	}
	if j.Unit != "" && !math.IsNaN(d.Value) {
		j.Value = &d.Value
	}
	return j
}

package main

import (
	"encoding/json"
	"io"

	"undermetal/cmd/undermetal/shared"
	"undermetal/netlist"
	"undermetal/recognise"
)

// jsonSuggestion is a suggestion as recognise --json gives it. These names are kept.
type jsonSuggestion struct {
	ID      string            `json:"id"`
	Short   string            `json:"short"`
	Pattern string            `json:"pattern"`
	Title   string            `json:"title"`
	Flavour string            `json:"flavour"`
	Fit     string            `json:"fit"`
	Weight  float64           `json:"weight_db"`
	Members []string          `json:"members"`
	Parts   map[string]string `json:"parts"`
	Ports   map[string]string `json:"ports"`
	Roles   map[string]string `json:"roles"`
	Loose   []string          `json:"loose"`
	Missing []jsonPiece       `json:"missing"`
	Extra   []jsonPiece       `json:"extra"`
	Box     [4]float64        `json:"box"`
	Bench   *jsonBench        `json:"bench"`
	Array   *jsonArray        `json:"array"`
}

type jsonPiece struct {
	Kind     string     `json:"kind"`
	What     string     `json:"what"`
	Part     string     `json:"part"`
	Between  []string   `json:"between"`
	Device   string     `json:"device"`
	At       [2]float64 `json:"at"`
	Looked   bool       `json:"looked"`
	Question string     `json:"question"`
	Text     string     `json:"text"`
}

type jsonBench struct {
	Name  string            `json:"name"`
	Ports map[string]string `json:"ports"`
}

type jsonArray struct {
	Columns    int                 `json:"columns"`
	Rows       int                 `json:"rows"`
	ColumnNets []map[string]string `json:"column_nets"`
	RowNets    []map[string]string `json:"row_nets"`
	Common     map[string]string   `json:"common_nets"`
	Odd        []jsonOdd           `json:"odd"`
}

type jsonOdd struct {
	Row        int        `json:"row"`
	Column     int        `json:"column"`
	Difference string     `json:"difference"`
	Suggestion string     `json:"suggestion"`
	At         [2]float64 `json:"at"`
}

// writeJSON writes the suggestions by the contract in DEVELOPERS.md.
func (r *recognised) writeJSON(w io.Writer) error {
	out := []jsonSuggestion{}
	for i := range r.all {
		out = append(out, r.json(i))
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(out)
}

func (r *recognised) json(i int) jsonSuggestion {
	s := &r.all[i]
	f := s.Fit
	j := jsonSuggestion{ID: s.ID, Short: r.short[i], Pattern: f.Pattern.Name, Title: s.Title(), Flavour: flavour(f), Fit: "full", Weight: shared.Tidy(f.Weight), Members: []string{},
		Parts: map[string]string{}, Ports: map[string]string{}, Roles: map[string]string{}, Loose: []string{}, Missing: []jsonPiece{}, Extra: []jsonPiece{}, Box: r.boxOf(s)}
	if !s.Full() {
		j.Fit = "partial"
	}
	for _, d := range s.Devices() {
		j.Members = append(j.Members, r.devices[d])
	}
	for k, p := range f.Pattern.Ports {
		if p.Role != "" {
			j.Roles[p.Name] = f.Role(k)
		}
		n := f.Ports[k]
		if s.Array != nil {
			if _, ok := s.Array.Common[p.Name]; !ok && p.Role != "supply" && p.Role != "ground" {
				continue
			}
		}
		if n != netlist.NoNet {
			j.Ports[p.Name] = r.nets[n]
		}
	}
	if s.Array == nil {
		for _, m := range f.Members {
			j.Parts[m.Role] = r.devices[m.Device]
		}
		for _, k := range f.Loose {
			j.Loose = append(j.Loose, f.Pattern.Ports[k].Name)
		}
		j.Missing, j.Extra = r.pieces(f.Missing), r.pieces(f.Extra)
	}
	if name, ports := s.Bench(); name != "" {
		j.Bench = &jsonBench{name, map[string]string{}}
		for p, n := range ports {
			j.Bench.Ports[p] = r.nets[n]
		}
	}
	if a := s.Array; a != nil {
		j.Array = &jsonArray{Columns: a.Columns, Rows: a.Rows, ColumnNets: r.lines(a.ColumnNets), RowNets: r.lines(a.RowNets), Common: r.named(a.Common), Odd: []jsonOdd{}}
		for k := range a.Odd {
			o := &a.Odd[k]
			odd := jsonOdd{Row: o.Row, Column: o.Column, Difference: o.Text, At: place(o.At.X, o.At.Y)}
			if n, ok := r.id[o.Fit]; ok {
				odd.Suggestion = r.all[n].ID
			}
			j.Array.Odd = append(j.Array.Odd, odd)
		}
	}
	return j
}

// flavour is how a pattern lies on devices: as it is written, or with n and p swapped.
func flavour(f *recognise.Fit) string {
	if f.Mirror {
		return "p"
	}
	return "n"
}

func (r *recognised) boxOf(s *recognise.Suggestion) [4]float64 {
	b := s.Fit.Box
	if s.Array != nil {
		b = s.Array.Box
	}
	lo, hi := place(b.Min.X, b.Min.Y), place(b.Max.X, b.Max.Y)
	return [4]float64{lo[0], lo[1], hi[0], hi[1]}
}

func (r *recognised) named(nets map[string]netlist.Net) map[string]string {
	out := map[string]string{}
	for p, n := range nets {
		out[p] = r.nets[n]
	}
	return out
}

func (r *recognised) lines(lines []map[string]netlist.Net) []map[string]string {
	out := make([]map[string]string, len(lines))
	for i := range lines {
		out[i] = r.named(lines[i])
	}
	return out
}

func (r *recognised) pieces(ps []recognise.Piece) []jsonPiece {
	out := []jsonPiece{}
	for i := range ps {
		p := &ps[i]
		j := jsonPiece{Kind: p.Kind, What: p.What, Part: p.Role, Between: []string{}, At: place(p.At.X, p.At.Y), Looked: p.Looked, Text: p.Text}
		for _, n := range p.Between {
			if n == netlist.NoNet {
				j.Between = append(j.Between, "")
			} else {
				j.Between = append(j.Between, r.nets[n])
			}
		}
		if p.Device >= 0 {
			j.Device = r.devices[p.Device]
			if r.about != nil {
				j.Question = r.about[p.Device].id
			}
		}
		out = append(out, j)
	}
	return out
}

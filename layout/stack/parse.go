package stack

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// Problem is one mistake in a stack file.
type Problem struct {
	File         string
	Line, Column int    // from 1; 0 where it concerns the file as a whole
	Key          string // the path of the key, such as layer[2].joins[1]
	Text         string // what was found, and what is allowed
	Remedy       string // what to do next
}

func (p *Problem) Error() string {
	where := p.File
	if p.Line > 0 {
		where = fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Column)
	}
	s := where + ": " + p.Text
	if p.Remedy != "" {
		s += "\n    " + p.Remedy
	}
	return s
}

// The file as it is decoded, before names are resolved. Plain strings throughout: the decoder skips UnmarshalText of
// named types.
type file struct {
	Name      string
	Layer     []fileLayer
	Mos       []fileMOS
	Tap       []fileTap
	Diode     []fileDiode
	Capacitor []fileCapacitor
	Resistor  []fileResistor
	Substrate struct {
		Net, Type string
		Labels    []string
	}
	Process struct {
		GateOxideNm  float64 `toml:"gate_oxide_nm"`
		SupplyV      float64 `toml:"supply_v"`
		MinFeatureNm float64 `toml:"min_feature_nm"`
	}
}

type fileLayer struct {
	Name, Role         string
	GDS, Labels, Joins []string
	Color              string
	SheetOhm           float64 `toml:"sheet_ohm"`
	AreaAFUm2          float64 `toml:"area_af_um2"`
	EdgeAFUm           float64 `toml:"edge_af_um"`
	ThicknessNm        float64 `toml:"thickness_nm"`
}

type fileMOS struct {
	Model, Type, Bulk, Gate, Diffusion string
	Where                              []string
}

type fileTap struct {
	Where           []string
	Ties, Diffusion string
}

type fileDiode struct {
	Model, Type, Body, To string
	Where                 []string
}

type fileCapacitor struct {
	Model         string
	Plates, Where []string
	AreaAFUm2     float64 `toml:"area_af_um2"`
	EdgeAFUm      float64 `toml:"edge_af_um"`
}

type fileResistor struct {
	Model, Body string
	Where       []string
	SheetOhm    float64 `toml:"sheet_ohm"`
}

// Parse reads a stack file. name stands in messages. The error joins all mistakes found, each a *Problem.
func Parse(name string, data []byte) (*Stack, error) {
	var f file
	dec := toml.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&f); err != nil {
		return nil, decodeProblems(name, err)
	}
	c := &checker{file: name, at: findPositions(data), in: &f, out: &Stack{Name: f.Name}}
	c.run()
	if len(c.problems) > 0 {
		return nil, errors.Join(c.problems...)
	}
	return c.out, nil
}

// decodeProblems turns the decoder's errors into ours.
func decodeProblems(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) {
		var all []error
		for i := range strict.Errors {
			e := &strict.Errors[i]
			line, col := e.Position()
			key := strings.Join(e.Key(), ".")
			all = append(all, &Problem{name, line, col, key, fmt.Sprintf("there is no key %q here", last(e.Key())), keyRemedy(e.Key())})
		}
		return errors.Join(all...)
	}
	var d *toml.DecodeError
	if errors.As(err, &d) {
		line, col := d.Position()
		return &Problem{name, line, col, strings.Join(d.Key(), "."), strings.TrimPrefix(d.Error(), "toml: "), ""}
	}
	return &Problem{File: name, Text: err.Error()}
}

func last(key []string) string {
	if len(key) == 0 {
		return ""
	}
	return key[len(key)-1]
}

// keysOf lists the keys of each table.
var keysOf = map[string][]string{
	"":          {"name", "layer", "mos", "tap", "diode", "capacitor", "resistor", "substrate", "process"},
	"layer":     {"name", "role", "gds", "labels", "joins", "color", "sheet_ohm", "area_af_um2", "edge_af_um", "thickness_nm"},
	"mos":       {"model", "type", "where", "bulk", "gate", "diffusion"},
	"tap":       {"where", "ties", "diffusion"},
	"diode":     {"model", "type", "body", "where", "to"},
	"capacitor": {"model", "plates", "where", "area_af_um2", "edge_af_um"},
	"resistor":  {"model", "body", "where", "sheet_ohm"},
	"substrate": {"net", "type", "labels"},
	"process":   {"gate_oxide_nm", "supply_v", "min_feature_nm"},
}

func keyRemedy(key []string) string {
	table := ""
	if len(key) > 1 {
		table = key[0]
	}
	known := keysOf[table]
	return didYouMean(last(key), known) + "the keys are " + strings.Join(known, ", ")
}

// Load reads a stack file, or returns the built-in stack of that name.
func Load(name string) (*Stack, error) {
	if s, ok := Builtin(name); ok {
		return s, nil
	}
	data, err := os.ReadFile(name)
	if errors.Is(err, os.ErrNotExist) {
		return nil, &Problem{File: name, Text: "there is no such stack file, and no built-in stack of that name",
			Remedy: "built in: " + strings.Join(Builtins(), ", ")}
	}
	if err != nil {
		return nil, fmt.Errorf("stack file: %w", err)
	}
	return Parse(name, data)
}

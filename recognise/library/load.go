package library

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"

	"undermetal/netlist"
	"undermetal/spice"
)

//go:embed patterns/*.sp
var files embed.FS

// maxFile is how large a file with a pattern may be.
const maxFile = 1 << 20

// Embedded returns the patterns that are part of the program, by name. They are shared, and not to be changed.
var Embedded = sync.OnceValue(func() []*Pattern {
	dir, err := fs.Sub(files, "patterns")
	if err != nil {
		panic(err)
	}
	patterns, faults := Load(dir)
	if len(faults) > 0 {
		panic("library: " + faults[0].String())
	}
	return patterns
})

func (f Fault) String() string {
	s := f.File
	if f.Line > 0 {
		s += fmt.Sprintf(":%d", f.Line)
	}
	s += ": " + f.Reason
	if f.Remedy != "" {
		s += "\n    " + f.Remedy
	}
	return s
}

// Load reads the patterns of a folder: all files that end in .sp, those of folders in it included, in the order of their paths. A
// malformed one is told in faults and left out. Of two of one name the second is left out.
func Load(dir fs.FS) (patterns []*Pattern, faults []Fault) {
	from := map[string]string{}
	err := fs.WalkDir(dir, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			faults = append(faults, Fault{File: name, Reason: "cannot be read: " + plainError(err)})
			return nil
		case d.IsDir() || !strings.EqualFold(path.Ext(name), ".sp"):
			return nil
		}
		p, fault := loadFile(dir, name)
		if fault == nil && from[strings.ToLower(p.Name)] != "" {
			fault = &Fault{File: name, Reason: fmt.Sprintf("pattern %s is in %s already", p.Name, from[strings.ToLower(p.Name)]), Remedy: "give it another name"}
		}
		if fault != nil {
			faults = append(faults, *fault)
			return nil
		}
		from[strings.ToLower(p.Name)] = name
		patterns = append(patterns, p)
		return nil
	})
	if err != nil {
		faults = append(faults, Fault{File: ".", Reason: plainError(err)})
	}
	return patterns, faults
}

// plainError is an error without the path, which stands beside it.
func plainError(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

func loadFile(dir fs.FS, name string) (*Pattern, *Fault) {
	text, err := fs.ReadFile(dir, name)
	if err != nil {
		return nil, &Fault{File: name, Reason: "cannot be read: " + plainError(err)}
	}
	if len(text) > maxFile {
		return nil, &Fault{File: name, Reason: fmt.Sprintf("has %d bytes; a pattern has %d at most", len(text), maxFile)}
	}
	p, err := Parse(name, string(text))
	if err == nil {
		return p, nil
	}
	f := &Fault{File: name, Reason: err.Error()}
	var pr *problem
	var se *spice.Error
	switch {
	case errors.As(err, &pr):
		f.Line, f.Reason, f.Remedy = pr.line, pr.reason, pr.remedy
	case errors.As(err, &se):
		f.Line, f.Reason, f.Remedy = se.Line, se.Text, se.Remedy
	}
	return nil, f
}

// Parse reads one pattern. name stands in messages of the netlist.
func Parse(name, text string) (*Pattern, error) {
	text = strings.ReplaceAll(strings.TrimPrefix(text, "\ufeff"), "\r\n", "\n")
	h, err := readHeader(text)
	if err != nil {
		return nil, err
	}
	p, err := h.pattern()
	if err != nil {
		return nil, err
	}
	d, err := spice.Read(name, strings.NewReader(text), spice.ReadOptions{})
	if err != nil {
		return nil, err
	}
	var c *netlist.Circuit
	for _, k := range d.Circuits {
		switch {
		case strings.EqualFold(k.Name, p.Name):
			c = k
		case len(k.Devices) > 0 || len(k.Instances) > 0:
			return nil, wrong(0, "one file holds one subcircuit, called as its header says", "circuit %s is there beside the pattern %s", k.Name, p.Name)
		}
	}
	if c == nil {
		return nil, wrong(h["name"].line, "", "the file has no subcircuit %s", p.Name)
	}
	p.Circuit, p.File = c, name
	if err := p.check(h, text); err != nil {
		return nil, err
	}
	return p, nil
}

// device returns the index of a device by its name, case ignored; -1: there is none.
func (p *Pattern) device(name string) int {
	return slices.IndexFunc(p.Circuit.Devices, func(d netlist.Device) bool { return strings.EqualFold(d.Name, name) })
}

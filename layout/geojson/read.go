package geojson

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"undermetal/layout"
	"undermetal/layout/pen"
)

// Options say how a file is taken.
type Options struct {
	// Layers are those that there are; nil: those that the file names, in its order.
	Layers []string
	// Rename says what layer a value of the property "layer" stands for; empty: left out.
	Rename map[string]string
	// Default is the layer of features without the property, and of a geometry that is a file by itself; empty: there is none.
	Default string
	// LeaveUnmapped leaves out, and reports, what is of no layer; otherwise that is an error.
	LeaveUnmapped bool
}

// Known reports whether a file that begins so may be GeoJSON.
func Known(head []byte) bool {
	head = bytes.TrimLeft(head, " \t\r\n\xEF\xBB\xBF")
	if !bytes.HasPrefix(head, []byte("{")) {
		return false
	}
	for _, word := range []string{`"Feature`, `"type"`, `"coordinates"`, `"geometries"`} {
		if bytes.Contains(head, []byte(word)) {
			return true
		}
	}
	return false
}

// Read reads a file; name stands for it in errors, and names the cell unless the file has a member "name". Errors are of
// type *Error, except for options that contradict themselves.
func Read(name string, in io.Reader, o Options) (*layout.Library, *Report, error) {
	base := filepath.Base(name)
	r := &reader{name: name, in: json.NewDecoder(withoutMark(in)), o: o, unmappedAt: map[string]int{}, renamed: map[string]bool{}, paths: map[string]*layout.Cell{},
		lib: &layout.Library{Layers: slices.Clone(o.Layers)}, cell: &layout.Cell{Name: strings.TrimSuffix(base, filepath.Ext(base))}}
	if r.cell.Name == "" {
		r.cell.Name = "drawing"
	}
	r.lib.Cells = []*layout.Cell{r.cell}
	if len(o.Layers) > layout.MaxLayers {
		return nil, nil, fmt.Errorf("%d layers; a library has at most %d", len(o.Layers), layout.MaxLayers)
	}
	for _, l := range append(slices.Sorted(valuesOf(o.Rename)), o.Default) {
		if o.Layers != nil && l != "" && !slices.Contains(o.Layers, l) {
			return nil, nil, fmt.Errorf("there is no layer %q\n    there are %s", l, strings.Join(o.Layers, ", "))
		}
	}
	if err := r.file(); err != nil {
		return nil, nil, err
	}
	if r.left > 0 && !o.LeaveUnmapped {
		return nil, nil, r.unmappedFault()
	}
	rep := &Report{Unmapped: r.unmapped, Notes: r.notes, Stated: r.stated, Renamed: r.renamed}
	for i, name := range r.lib.Layers {
		r.counts[i].Layer = name
		rep.Layers = append(rep.Layers, r.counts[i])
	}
	return r.lib, rep, nil
}

// withoutMark puts blanks in the place of a byte order mark, which some programs write and JSON does not have.
func withoutMark(in io.Reader) io.Reader {
	const mark = "\xEF\xBB\xBF"
	buf := bufio.NewReader(in)
	if head, err := buf.Peek(len(mark)); err == nil && string(head) == mark {
		buf.Discard(len(mark))
		return io.MultiReader(strings.NewReader("   "), buf)
	}
	return buf
}

func valuesOf(m map[string]string) func(func(string) bool) {
	return func(yield func(string) bool) {
		for _, v := range m {
			if !yield(v) {
				return
			}
		}
	}
}

// reader takes a file apart, token by token.
type reader struct {
	name    string
	in      *json.Decoder
	o       Options
	lib     *layout.Library
	cell    *layout.Cell
	paths   map[string]*layout.Cell // of labels that lie in instances
	stroker pen.Stroker
	renamed map[string]bool
	number  int // of the feature
	counts  [layout.MaxLayers]Count
	notes   []Note
	stated  layout.Statements

	unmapped   []Unmapped
	unmappedAt map[string]int
	left       int // features of no layer
}

func (r *reader) fail(remedy, format string, args ...any) error {
	return &Error{File: r.name, Offset: r.in.InputOffset(), Feature: r.number, Text: fmt.Sprintf(format, args...), Remedy: remedy}
}

func (r *reader) unmappedFault() error {
	if r.unmapped[0].Feature == 0 {
		return &Error{File: r.name, Offset: -1, Text: "nothing says to what layer " + r.unmapped[0].String() + ", belongs",
			Remedy: "say which layer it is, or make it the geometry of a Feature with a property \"layer\""}
	}
	const shown = 12
	var lines []string
	for i, u := range r.unmapped {
		if i == shown {
			lines = append(lines, fmt.Sprintf("and %d more", len(r.unmapped)-i))
			break
		}
		lines = append(lines, u.String())
	}
	return &Error{File: r.name, Offset: -1, Text: fmt.Sprintf("nothing says to what layers %d features belong:\n    %s", r.left, strings.Join(lines, "\n    ")),
		Remedy: "give the features a property \"layer\", or say which layer a value stands for"}
}

// file reads the outermost object: a collection of features, a feature, or a geometry by itself.
func (r *reader) file() error {
	t, err := r.token()
	if err != nil {
		return err
	}
	if t != json.Delim('{') {
		return r.fail("take a GeoJSON file", "this is no GeoJSON, which is an object; found %s", what(t))
	}
	kind, list := "", false
	var f feature
	var bare geometry
	err = r.members(func(key string) error {
		switch key {
		case "type":
			kind, _, err = r.text()
			return err
		case "features":
			list = true
			return r.features()
		case "layers":
			return r.layers()
		case "name":
			if name, ok, err := r.text(); err != nil {
				return err
			} else if ok && name != "" {
				r.cell.Name = name
			}
			return nil
		case "crs":
			r.note("a coordinate system is named, which does not count: positions are µm in the frame")
			return r.skip()
		}
		if done, err := r.geometryMember(&bare, key, 0); done {
			return err
		}
		r.number = 1 // the file may be a Feature
		err := r.featureMember(&f, key)
		if err == nil {
			r.number = 0
		}
		return err
	})
	if err != nil {
		return err
	}
	switch kind {
	case "FeatureCollection":
		if !list {
			return r.fail(correct, "a FeatureCollection without features")
		}
	case "Feature":
		r.number = 1
		f.kind = kind
		if err := r.finish(&f); err != nil {
			return err
		}
	case "":
		return r.fail("take a GeoJSON file", "this is no GeoJSON: the object has no type")
	default:
		if _, ok := depths[kind]; !ok && kind != "GeometryCollection" {
			return r.fail(correct, "a file of type %.40q; there are FeatureCollection, Feature and the types of geometries", kind)
		}
		bare.kind = kind
		f.bare, f.geometry = true, &bare
		if err := r.finish(&f); err != nil {
			return err
		}
	}
	r.number = 0
	if t, err := r.in.Token(); err != io.EOF {
		if err != nil {
			return r.fail("remove it", "something follows the end: %v", err)
		}
		return r.fail("remove it", "something follows the end: %s", what(t))
	}
	return nil
}

// features reads the list of features.
func (r *reader) features() error {
	t, err := r.token()
	if err != nil {
		return err
	}
	if t != json.Delim('[') {
		return r.fail(correct, "features must be a list; found %s", what(t))
	}
	for r.in.More() {
		r.number++
		t, err := r.token()
		if err != nil {
			return err
		}
		if t != json.Delim('{') {
			return r.fail(correct, "a feature must be an object; found %s", what(t))
		}
		var f feature
		if err := r.members(func(key string) error {
			if key == "type" {
				f.kind, _, err = r.text()
				return err
			}
			return r.featureMember(&f, key)
		}); err != nil {
			return err
		}
		if f.kind != "Feature" {
			return r.fail(correct, "a feature of type %.40q; there is only Feature", f.kind)
		}
		if err := r.finish(&f); err != nil {
			return err
		}
	}
	_, err = r.token()
	r.number = 0
	return err
}

// layers reads the names of the layers, in the order that they had when the file was written.
func (r *reader) layers() error {
	t, err := r.token()
	if err != nil || t != json.Delim('[') {
		if t == json.Delim('{') {
			return r.fail(correct, "layers must be a list of names; found an object")
		}
		return err
	}
	for r.in.More() {
		name, ok, err := r.text()
		if err != nil {
			return err
		}
		if _, renamed := r.o.Rename[name]; ok && !renamed {
			if _, _, err := r.named(name); err != nil {
				return err
			}
		}
	}
	_, err = r.token()
	return err
}

// named returns the layer of a name, a new one if that is allowed.
func (r *reader) named(name string) (layout.Layer, bool, error) {
	i := slices.Index(r.lib.Layers, name)
	if i < 0 {
		if r.o.Layers != nil || name == "" {
			return 0, false, nil
		}
		if len(r.lib.Layers) == layout.MaxLayers {
			return 0, false, r.fail("say which layers are needed", "layer %q is one more than the %d that a library can have", name, layout.MaxLayers)
		}
		i = len(r.lib.Layers)
		r.lib.Layers = append(r.lib.Layers, name)
	}
	return layout.Layer(i), true, nil
}

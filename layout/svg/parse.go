package svg

import (
	"bufio"
	"bytes"
	"compress/flate"
	"compress/gzip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

const (
	space     = "http://www.w3.org/2000/svg"
	maxDepth  = 256     // of elements
	maxEntity = 1 << 10 // bytes of what an entity stands for
	maxNames  = 64      // entities
)

// Known reports whether a file that begins so may be an SVG drawing, compressed (.svgz) or not.
func Known(head []byte) bool {
	if bytes.HasPrefix(head, gzipMagic) {
		head = unpackedHead(head)
	}
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xEF\xBB\xBF")), " \t\r\n")
	return bytes.HasPrefix(head, []byte("<")) && bytes.Contains(head, []byte("<svg")) ||
		bytes.HasPrefix(head, []byte("<?xml")) && !bytes.Contains(head, []byte("<html"))
}

// Parse reads a drawing; name stands for it in errors. Nothing is placed and no layer is looked for: see
// Document.Library. What is compressed by gzip is unpacked within bounds (packed.go). Memory goes with the bytes read. Errors are of type *Error.
func Parse(name string, in io.Reader) (*Document, error) {
	return parse(name, in, packedBounds)
}

// parse unpacks up to most.
func parse(name string, in io.Reader, most bounds) (*Document, error) {
	file := &counted{Reader: in}
	p := &parser{most: most, file: file, doc: &Document{Name: name, ids: map[string]*node{}}, entities: map[string]string{}}
	buf, err := p.unpack(bufio.NewReaderSize(file, 1<<16))
	if err != nil {
		return nil, err
	}
	if err := p.sniff(buf); err != nil {
		return nil, err
	}
	p.in = xml.NewDecoder(buf)
	p.in.Entity = p.entities
	p.in.CharsetReader = charset
	for {
		line, column := p.in.InputPos()
		t, err := p.in.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, p.broken(err)
		}
		if err := p.token(t, line, column); err != nil {
			return nil, err
		}
	}
	if p.doc.root == nil {
		return nil, p.doc.fail(nil, "take an SVG drawing", "this is no SVG drawing: it has no element svg")
	}
	sortRules(p.doc.rules)
	return p.doc, p.doc.findImages()
}

// parser builds a document from the tokens of the XML decoder.
type parser struct {
	doc      *Document
	in       *xml.Decoder
	file     *counted
	most     bounds
	packed   bool // the file is compressed
	weight   int  // elements and points of a compressed file
	entities map[string]string
	open     []*node
	sheet    strings.Builder
	inSheet  bool
}

func (p *parser) sniff(in *bufio.Reader) error {
	head, err := in.Peek(4)
	switch {
	case err != nil && !errors.Is(err, io.EOF):
		return p.broken(err)
	case len(head) == 0:
		return p.doc.fail(nil, getCopy, "the file is empty")
	case bytes.HasPrefix(head, gzipMagic):
		return p.doc.fail(nil, "unpack it once", "the file is compressed twice")
	case bytes.HasPrefix(head, []byte{0xFE, 0xFF}), bytes.HasPrefix(head, []byte{0xFF, 0xFE}):
		return p.doc.fail(nil, "save it in UTF-8", "the file is in UTF-16")
	}
	return nil
}

// broken turns an error of the XML decoder, or of what it reads from, into ours.
func (p *parser) broken(err error) error {
	e := &Error{File: p.doc.Name, Remedy: correct}
	if p.in != nil {
		e.Line, e.Column = p.in.InputPos()
	}
	var syntax *xml.SyntaxError
	var packed flate.CorruptInputError
	switch {
	case errors.Is(err, errUnpacked):
		e.Text, e.Remedy = fmt.Sprintf("the file is compressed, and more than the %d MB that are read", p.most.bytes>>20), "take parts out of the drawing, such as pictures that lie in the file itself"
	case errors.Is(err, errShrunk):
		e.Text, e.Remedy = fmt.Sprintf("the file is compressed to less than a %dth, as no drawing is", maxShrunk), "unpack it, if it is one after all"
	case errors.Is(err, io.ErrUnexpectedEOF):
		e.Text, e.Remedy = "the file is cut off", getCopy
	case errors.As(err, &packed), errors.Is(err, gzip.ErrChecksum), errors.Is(err, gzip.ErrHeader):
		e.Text, e.Remedy = "the file is damaged: "+err.Error(), getCopy
	case errors.As(err, &syntax):
		e.Text = "this is no well-formed XML: " + syntax.Msg
		if strings.Contains(syntax.Msg, "EOF") {
			e.Text, e.Remedy = "the file is cut off: "+syntax.Msg, getCopy
		}
	case strings.Contains(err.Error(), "encoding"):
		e.Text, e.Remedy = err.Error(), "save it in UTF-8"
	default:
		e.Text, e.Remedy, e.Err = "reading failed: "+err.Error(), "try again, or "+getCopy, err
	}
	return e
}

// charset decodes what is not UTF-8 and can be without tables.
func charset(label string, in io.Reader) (io.Reader, error) {
	switch strings.ToLower(label) {
	case "us-ascii", "ascii":
		return in, nil
	case "iso-8859-1", "latin1":
		return &latin1{in: bufio.NewReader(in)}, nil
	}
	return nil, fmt.Errorf("encoding %.20q; UTF-8, ISO-8859-1 and US-ASCII are read", label)
}

// latin1 turns ISO-8859-1 into UTF-8.
type latin1 struct {
	in   *bufio.Reader
	rest byte // the second byte of a character, if not 0
}

func (l *latin1) Read(b []byte) (n int, err error) {
	for n < len(b) {
		if l.rest != 0 {
			b[n], l.rest = l.rest, 0
			n++
			continue
		}
		c, err := l.in.ReadByte()
		switch {
		case err != nil && n > 0:
			return n, nil
		case err != nil:
			return 0, err
		case c < 0x80:
			b[n] = c
		default:
			b[n], l.rest = 0xC0|c>>6, 0x80|c&0x3F
		}
		n++
	}
	return n, nil
}

func (p *parser) token(t xml.Token, line, column int) error {
	switch t := t.(type) {
	case xml.StartElement:
		return p.start(t, line, column)
	case xml.EndElement:
		p.end()
	case xml.CharData:
		p.characters(string(t))
	case xml.Directive:
		p.directive(string(t))
	}
	return nil
}

// directive takes the entities that a document type declares; some editors write name spaces with them. What they stand
// for is taken as it is.
func (p *parser) directive(text string) {
	for {
		_, after, ok := strings.Cut(text, "<!ENTITY")
		if !ok || len(p.entities) == maxNames {
			return
		}
		text = after
		end := strings.IndexByte(after, '>')
		if end < 0 {
			return
		}
		name, value, _ := strings.Cut(strings.TrimSpace(after[:end]), " ")
		value = strings.TrimSpace(value)
		if n := len(value); n >= 2 && n <= maxEntity && (value[0] == '"' || value[0] == '\'') && value[n-1] == value[0] && !strings.Contains(value, "&") {
			p.entities[name] = value[1 : n-1]
		}
	}
}

// ignored are elements that draw nothing and that nobody misses.
var ignored = map[string]bool{"title": true, "desc": true, "metadata": true, "script": true, "view": true, "cursor": true,
	"color-profile": true, "font": true, "font-face": true}

// resources are elements that draw only where others refer to them, in ways that are not understood here: their contents
// are no part of the drawing.
var resources = map[string]bool{"clipPath": true, "mask": true, "marker": true, "pattern": true, "filter": true,
	"linearGradient": true, "radialGradient": true, "meshgradient": true, "hatch": true}

// containers are elements whose children count.
var containers = map[string]bool{"svg": true, "g": true, "a": true, "switch": true, "defs": true, "symbol": true, "text": true, "tspan": true}

func (p *parser) start(t xml.StartElement, line, column int) error {
	n := &node{name: t.Name.Local, line: line, column: column, matrix: identity}
	if t.Name.Space != space && t.Name.Space != "" || ignored[n.name] || resources[n.name] {
		if len(p.open) == 0 {
			return p.doc.fail(n, "take an SVG drawing", "this is no SVG drawing, whose outermost element is svg")
		}
		return p.skip()
	}
	if len(p.open) == 0 {
		if n.name != "svg" {
			return p.doc.fail(n, "take an SVG drawing", "this is no SVG drawing, whose outermost element is svg")
		}
		p.doc.root = n
	}
	if len(p.open) == maxDepth {
		return p.doc.fail(n, "save the drawing with fewer groups in groups", "more than %d elements inside of each other", maxDepth)
	}
	if n.name == "style" {
		p.inSheet = true
		p.open = append(p.open, n)
		return nil
	}
	if err := p.take(n, t.Attr); err != nil {
		return err
	}
	if err := p.weigh(n); err != nil {
		return err
	}
	if n.outline == nil && n.box == nil && !containers[n.name] {
		if len(n.name) <= 40 {
			p.doc.notes.add("elements "+n.name+", which are not understood, left out", n)
		}
		return p.skip()
	}
	if len(p.open) > 0 {
		parent := p.open[len(p.open)-1]
		parent.children = append(parent.children, n)
	}
	if n.id != "" && p.doc.ids[n.id] == nil {
		p.doc.ids[n.id] = n
	}
	p.open = append(p.open, n)
	return nil
}

// skip passes over the rest of the element that has just begun.
func (p *parser) skip() error {
	if err := p.in.Skip(); err != nil {
		return p.broken(err)
	}
	return nil
}

func (p *parser) end() {
	n := p.open[len(p.open)-1]
	if n.name == "style" {
		rules, other := parseSheet(p.sheet.String())
		p.doc.rules = append(p.doc.rules, rules...)
		p.doc.notes.count("selectors of style sheets that are not understood, left out", other, n)
		p.sheet.Reset()
		p.inSheet = false
	}
	p.open = p.open[:len(p.open)-1]
}

func (p *parser) characters(text string) {
	if len(p.open) == 0 {
		return
	}
	n := p.open[len(p.open)-1]
	switch {
	case p.inSheet:
		p.sheet.WriteString(text)
	case n.name == "text" || n.name == "tspan" || n.name == "a":
		n.children = append(n.children, &node{name: "#text", text: text, line: n.line, column: n.column})
	}
}

package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"html/template"
	"io"
	"regexp"
	"slices"
	"strings"
)

// elements are those of a drawing that are kept; others go with all that they hold. None of them runs, fetches or refers.
var elements = []string{"svg", "g", "path", "line", "polyline", "polygon", "rect", "circle", "ellipse", "text", "tspan", "title", "desc"}

// looks are attributes, and properties of a style, that say how something looks; their values are words and figures.
var looks = []string{"fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-opacity", "stroke-dasharray", "stroke-dashoffset", "stroke-linecap", "stroke-linejoin",
	"stroke-miterlimit", "opacity", "font-family", "font-size", "font-weight", "font-style", "font-variant", "font-stretch", "text-anchor", "dominant-baseline", "paint-order", "line-height"}

// places are attributes that say where it is.
var places = []string{"width", "height", "viewBox", "x", "y", "x1", "y1", "x2", "y2", "dx", "dy", "cx", "cy", "r", "rx", "ry", "d", "points", "transform"}

// A value holds no quotation mark, colon, semicolon or angle bracket, so that no URI and no second declaration is one; url(…) is
// refused by name.
var value = regexp.MustCompile(`^[-+#%.,()\w\s]*$`)

// classes are what schematics call their parts by; page.css says how these look.
var classes = regexp.MustCompile(`^[a-z -]{1,40}$`)

const (
	deepest = 64
	most    = 8 << 20 // bytes of a drawing
)

// cleanSVG reads a drawing and writes it anew from the elements and attributes that are known to be harmless. An error says that it
// is no drawing.
func cleanSVG(text string) (template.HTML, error) {
	if len(text) > most {
		return "", fmt.Errorf("a drawing of %d bytes: %d at most", len(text), most)
	}
	d := xml.NewDecoder(strings.NewReader(text))
	var b strings.Builder
	depth := 0
	for {
		t, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return "", fmt.Errorf("a drawing that is no XML: %w", err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			name := t.Name.Local
			if depth == 0 && (name != "svg" || b.Len() > 0) {
				return "", fmt.Errorf("a drawing of <%s>: one <svg> is wanted", name)
			}
			if !slices.Contains(elements, name) || t.Name.Space != "http://www.w3.org/2000/svg" && t.Name.Space != "" {
				if err := d.Skip(); err != nil {
					return "", fmt.Errorf("a drawing that is no XML: %w", err)
				}
				continue
			}
			if depth++; depth > deepest {
				return "", fmt.Errorf("a drawing nested deeper than %d", deepest)
			}
			b.WriteString("<" + name)
			if depth == 1 {
				b.WriteString(` xmlns="http://www.w3.org/2000/svg" role="img"`)
			}
			for _, a := range t.Attr {
				if v, ok := harmlessAttr(a); ok {
					fmt.Fprintf(&b, ` %s="%s"`, a.Name.Local, html.EscapeString(v))
				}
			}
			b.WriteString(">")
		case xml.EndElement:
			depth--
			b.WriteString("</" + t.Name.Local + ">")
		case xml.CharData:
			if depth > 0 {
				b.WriteString(html.EscapeString(string(t)))
			}
		}
	}
	if b.Len() == 0 {
		return "", errors.New("an empty drawing")
	}
	return template.HTML(b.String()), nil
}

// harmlessAttr returns what of an attribute is kept.
func harmlessAttr(a xml.Attr) (string, bool) {
	if a.Name.Space != "" {
		return "", false
	}
	switch name := a.Name.Local; {
	case name == "class":
		return a.Value, classes.MatchString(a.Value)
	case name == "style":
		var kept []string
		for _, part := range strings.Split(a.Value, ";") {
			property, v, _ := strings.Cut(part, ":")
			property, v = strings.TrimSpace(property), strings.TrimSpace(v)
			if slices.Contains(looks, property) && harmlessValue(v) {
				kept = append(kept, property+":"+v)
			}
		}
		return strings.Join(kept, ";"), len(kept) > 0
	case slices.Contains(looks, name), slices.Contains(places, name):
		return a.Value, harmlessValue(a.Value)
	}
	return "", false
}

func harmlessValue(v string) bool {
	return value.MatchString(v) && !strings.Contains(strings.ToLower(v), "url")
}

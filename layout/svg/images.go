package svg

import "strings"

// findImages finds the pictures that are shown, and where. Those in defs and symbols are shown where use refers to them; what a
// style hides counts, since a photograph is often hidden when the drawing over it is done.
func (d *Document) findImages() error {
	f := &imageFinder{doc: d, towards: map[*node][]*node{}, open: map[*node]bool{}}
	if !f.leads(d.root) {
		return nil
	}
	return f.find(d.root, d.root.matrix)
}

// imageFinder goes to the pictures, and nowhere else: all else may be placed by use many times over.
type imageFinder struct {
	doc     *Document
	towards map[*node][]*node // children, or what use refers to, that pictures are in; empty: none
	open    map[*node]bool    // elements that are being looked at
	inUse   int               // how many uses are open
	copied  int               // elements that were met inside of use
}

// next are the elements that are drawn where n is.
func (f *imageFinder) next(n *node) []*node {
	if n.name != "use" {
		return n.children
	}
	if id, ok := strings.CutPrefix(n.href, "#"); ok && f.doc.ids[id] != nil {
		return []*node{f.doc.ids[id]}
	}
	return nil
}

// leads reports whether there are pictures in n.
func (f *imageFinder) leads(n *node) bool {
	if n.name == "image" {
		return true
	}
	list, known := f.towards[n]
	if known || f.open[n] { // what contains itself by way of use is an error once it is drawn
		return len(list) > 0
	}
	f.open[n] = true
	for _, to := range f.next(n) {
		if to.name != "defs" && (n.name == "use" || to.name != "symbol") && f.leads(to) {
			list = append(list, to)
		}
	}
	f.towards[n] = list
	delete(f.open, n)
	return len(list) > 0
}

// maxImages bounds what is met on the way to pictures by way of use.
const maxImages = 1 << 16

// find goes to the pictures in n, whose units m takes to those of the drawing.
func (f *imageFinder) find(n *node, m matrix) error {
	if f.inUse > 0 {
		if f.copied++; f.copied > maxImages {
			return f.doc.fail(n, "leave one picture in the drawing, or draw it without use", "more than %d pictures, with what they lie in, are drawn by way of use", maxImages)
		}
	}
	if f.open[n] {
		return nil
	}
	f.open[n] = true
	defer delete(f.open, n)
	b := n.box
	switch n.name {
	case "image":
		f.doc.Images = append(f.doc.Images, Image{Href: n.href, Line: n.line, Box: Box{b.x, b.y, b.width, b.height}, aspect: b.aspect, matrix: m})
		return nil
	case "use":
		f.inUse++
		defer func() { f.inUse-- }()
		for _, to := range f.towards[n] {
			inside := to.matrix.then(translate(b.x, b.y).then(m))
			if to.name == "symbol" || to.name == "svg" {
				inside = to.placedBy(b, f.doc.View).then(inside)
			}
			if err := f.find(to, inside); err != nil {
				return err
			}
		}
		return nil
	}
	for _, child := range f.towards[n] {
		inside := child.matrix.then(m)
		if child.name == "svg" {
			inside = child.inner(f.doc.View).then(inside)
		}
		if err := f.find(child, inside); err != nil {
			return err
		}
	}
	return nil
}

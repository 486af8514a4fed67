package svg

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
)

// bounds are those of what a compressed drawing unpacks to, since a small file can unpack to blanks, or to elements, without
// end.
type bounds struct {
	bytes int64
	parts int // elements and points
}

var packedBounds = bounds{1 << 28, 1 << 21}

// maxShrunk is how many times longer than the file what is unpacked may be. Drawings shrink to a tenth or so, gzip can make a
// thousandth of what is all alike.
const maxShrunk = 200

var (
	errUnpacked = errors.New("the file unpacks to too much")
	errShrunk   = errors.New("the file unpacks to too much for its size")
)

// gzipMagic are the first bytes of a file that gzip compressed (RFC 1952, 2.3.1).
var gzipMagic = []byte{0x1F, 0x8B}

// unpackedHead unpacks the beginning of a file as far as it goes.
func unpackedHead(head []byte) []byte {
	z, err := gzip.NewReader(bytes.NewReader(head))
	if err != nil {
		return nil
	}
	out, _ := io.ReadAll(io.LimitReader(z, 4096)) // it ends where the head ends
	return out
}

// unpack returns what in holds, unpacked if it is compressed.
func (p *parser) unpack(in *bufio.Reader) (*bufio.Reader, error) {
	if head, err := in.Peek(len(gzipMagic)); err != nil || !bytes.Equal(head, gzipMagic) {
		return in, nil // sniff meets the error again
	}
	z, err := gzip.NewReader(in)
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return nil, p.broken(err)
	}
	p.packed = true
	return bufio.NewReaderSize(&bounded{in: z, left: p.most.bytes, file: p.file}, 1<<16), nil
}

// weigh counts an element with its points, where a small file could hold no end of them.
func (p *parser) weigh(n *node) error {
	if !p.packed {
		return nil
	}
	p.weight++
	if n.outline != nil {
		p.weight += len(n.outline.at)
	}
	if p.weight > p.most.parts {
		return p.doc.fail(n, "unpack the file", "the file is compressed, and holds more than the %d elements and points that are read of such a file", p.most.parts)
	}
	return nil
}

// counted counts the bytes that are read.
type counted struct {
	io.Reader
	n int64
}

func (c *counted) Read(to []byte) (int, error) {
	n, err := c.Reader.Read(to)
	c.n += int64(n)
	return n, err
}

// bounded reads so many bytes, and fails where there are more, or where they are too many for what was read of the file.
type bounded struct {
	in   io.Reader
	left int64
	file *counted // nil: any number of bytes may come of it
	done int64
}

func (b *bounded) Read(to []byte) (int, error) {
	if int64(len(to)) > b.left+1 {
		to = to[:b.left+1]
	}
	n, err := b.in.Read(to)
	if b.left -= int64(n); b.left < 0 {
		return 0, errUnpacked
	}
	if b.done += int64(n); b.file != nil && b.done > maxShrunk*b.file.n {
		return 0, errShrunk
	}
	return n, err
}

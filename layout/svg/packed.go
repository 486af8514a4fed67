package svg

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"io"
)

// MaxUnpacked bounds what a compressed drawing unpacks to, in bytes: a small file can unpack to blanks without end.
const MaxUnpacked = 1 << 28

var errUnpacked = errors.New("the file unpacks to too much")

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
	return bufio.NewReaderSize(&bounded{z, p.most}, 1<<16), nil
}

// bounded reads so many bytes, and fails where there are more.
type bounded struct {
	in   io.Reader
	left int64
}

func (b *bounded) Read(to []byte) (int, error) {
	if int64(len(to)) > b.left+1 {
		to = to[:b.left+1]
	}
	n, err := b.in.Read(to)
	if b.left -= int64(n); b.left < 0 {
		return 0, errUnpacked
	}
	return n, err
}

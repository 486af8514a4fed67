package graphics

import (
	"bytes"
	"strconv"
)

// Query asks a terminal what it can show, in one write, before anything else is sent. The last of the three is answered by
// every terminal since the VT100, so that its answer is the end of all; a terminal that is none says nothing, which a limit
// of time has to tell.
//
// Source: the kitty graphics protocol, "Querying support and available transmission mediums"; ctlseqs of xterm for CSI 16 t
// and DA1 (both from memory).
const Query = queryKitty + queryCell + queryDevice

const (
	queryKitty  = "\x1b_Gi=31,s=1,v=1,a=q,t=d,f=24;AAAA\x1b\\"
	queryCell   = "\x1b[16t"
	queryDevice = "\x1b[c"
)

// Capabilities are what a terminal said of itself.
type Capabilities struct {
	Kitty, Sixel          bool
	CellWidth, CellHeight int  // px; 0: it did not say. tmux claims 16 × 32, whatever it runs in, so neither alone says that there are pixels
	Done                  bool // the last answer is there
	Rest                  []byte
}

// Parse reads what a terminal has answered so far; it may be asked again with more. Rest is what is no answer: what was
// typed meanwhile, or an answer that is not whole yet.
func Parse(answer []byte) Capabilities {
	var c Capabilities
	for len(answer) > 0 {
		n := c.one(answer)
		if n == 0 {
			c.Rest = append(c.Rest, answer[0])
			n = 1
		}
		answer = answer[n:]
	}
	return c
}

// one reads an answer that b begins with, and returns its length, or 0 where it begins with none.
func (c *Capabilities) one(b []byte) int {
	if body, ok := bytes.CutPrefix(b, []byte("\x1b_G")); ok {
		end := bytes.Index(body, []byte("\x1b\\"))
		if end < 0 {
			return 0
		}
		keys, status, _ := bytes.Cut(body[:end], []byte(";"))
		for key := range bytes.SplitSeq(keys, []byte(",")) {
			if string(key) == "i=31" && string(status) == "OK" {
				c.Kitty = true
			}
		}
		return len("\x1b_G") + end + len("\x1b\\")
	}
	body, ok := bytes.CutPrefix(b, []byte("\x1b["))
	if !ok {
		return 0
	}
	end := bytes.IndexFunc(body, func(r rune) bool { return r >= 0x40 && r <= 0x7e })
	if end < 0 {
		return 0
	}
	params, final := body[:end], body[end]
	private := bytes.HasPrefix(params, []byte("?"))
	numbers := parameters(bytes.TrimPrefix(params, []byte("?")))
	switch {
	case final == 'c' && private:
		c.Done = true
		for i, n := range numbers { // the first one is the class of the terminal
			c.Sixel = c.Sixel || i > 0 && n == 4
		}
	case final == 't' && !private && len(numbers) == 3 && numbers[0] == 6:
		if h, w := numbers[1], numbers[2]; h > 0 && w > 0 && h < 1000 && w < 1000 {
			c.CellWidth, c.CellHeight = w, h
		}
	default:
		return 0
	}
	return len("\x1b[") + end + 1
}

// parameters reads numbers between semicolons; what is none is -1.
func parameters(b []byte) (all []int) {
	for field := range bytes.SplitSeq(b, []byte(";")) {
		n, err := strconv.Atoi(string(field))
		if err != nil {
			n = -1
		}
		all = append(all, n)
	}
	return all
}

package simulate

import (
	"fmt"
	"sync"
)

// keepEnd is how much of the beginning and of the end of an output is kept.
const keepEnd = 64 << 10

// mouth takes what a simulator prints on one of its outputs: it gives each line to hear, keeps head and tail, and counts
// the bytes. It takes any amount and never blocks the writer for long.
type mouth struct {
	mu      sync.Mutex
	hear    func(line string)
	current []byte // the line that has no end yet, at most keepEnd of it
	head    []byte
	tail    []byte // at most 2·keepEnd, the end of it counts
	count   int64
}

// Write takes p. It never fails.
func (m *mouth) Write(p []byte) (int, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.count += int64(len(p))
	for _, c := range p {
		if c == '\n' || c == '\r' {
			m.flush()
		} else if len(m.current) < keepEnd {
			m.current = append(m.current, c)
		}
	}
	rest := p
	if room := keepEnd - len(m.head); room > 0 {
		n := min(room, len(rest))
		m.head = append(m.head, rest[:n]...)
		rest = rest[n:]
	}
	if len(rest) > keepEnd {
		m.tail, rest = m.tail[:0], rest[len(rest)-keepEnd:]
	}
	m.tail = append(m.tail, rest...)
	if len(m.tail) > 2*keepEnd {
		m.tail = append(m.tail[:0], m.tail[len(m.tail)-keepEnd:]...)
	}
	return len(p), nil
}

func (m *mouth) flush() {
	m.hear(string(m.current))
	m.current = m.current[:0]
}

// end hears the last line, which need not have an end.
func (m *mouth) end() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.current) > 0 {
		m.flush()
	}
}

// bytes returns how much was taken.
func (m *mouth) bytes() int64 {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.count
}

// String returns what was taken, its middle left out where it was too much.
func (m *mouth) String() string {
	m.mu.Lock()
	defer m.mu.Unlock()
	tail := m.tail[max(0, len(m.tail)-keepEnd):]
	if left := m.count - int64(len(m.head)) - int64(len(tail)); left > 0 {
		return fmt.Sprintf("%s\n[%d bytes left out]\n%s", m.head, left, tail)
	}
	return string(m.head) + string(tail)
}

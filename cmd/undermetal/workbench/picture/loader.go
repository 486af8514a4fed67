package picture

import (
	"fmt"
	"sync"

	"undermetal/layout/shot"
)

// want is a tile that a picture needs, or will need.
type want struct {
	of                 *shot.Pyramid
	level, column, row int
}

// loader fetches tiles, those first that were asked for last.
type loader struct {
	ready func() // tells that a better picture can be drawn

	mu      sync.Mutex
	more    sync.Cond // there is something in the queue, or the end has come
	queue   []want    // of the latest plan, the next first
	needed  map[want]bool
	loading map[want]bool
	failed  map[want]error
	told    bool // since the latest plan
	closed  bool
	working sync.WaitGroup
}

func newLoader(workers int, ready func()) *loader {
	l := &loader{ready: ready, needed: map[want]bool{}, loading: map[want]bool{}, failed: map[want]error{}}
	l.more.L = &l.mu
	for range workers {
		l.working.Go(l.work)
	}
	return l
}

// plan replaces what is to be fetched: what is left of the plan before, and was not begun, is stale. needed is seen in the picture,
// ahead may soon be.
func (l *loader) plan(needed, ahead []want) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.queue = append(append(l.queue[:0], needed...), ahead...)
	clear(l.needed)
	for _, w := range needed {
		l.needed[w] = true
	}
	l.told = false
	l.more.Broadcast()
}

// failure returns why a tile could not be read, or nil.
func (l *loader) failure(w want) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.failed[w]
}

// next waits for a tile to be fetched; ok is false at the end.
func (l *loader) next() (w want, ok bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for {
		for len(l.queue) == 0 && !l.closed {
			l.more.Wait()
		}
		if l.closed {
			return want{}, false
		}
		w, l.queue = l.queue[0], l.queue[1:]
		if !l.loading[w] && l.failed[w] == nil {
			l.loading[w] = true
			return w, true
		}
	}
}

// arrived takes note of a tile, and reports whether somebody is to be told.
func (l *loader) arrived(w want, err error) (tell bool) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.loading, w)
	if err != nil {
		l.failed[w] = fmt.Errorf("level %d, tile %d, %d: %w", w.level, w.column, w.row, err)
	}
	if !l.needed[w] || l.closed {
		return false
	}
	delete(l.needed, w)
	tell = !l.told
	l.told = true
	return tell
}

func (l *loader) work() {
	for {
		w, ok := l.next()
		if !ok {
			return
		}
		_, err := w.of.Tile(w.level, w.column, w.row) // which keeps it
		if l.arrived(w, err) && l.ready != nil {
			l.ready()
		}
	}
}

// forget has tiles that could not be read be tried again.
func (l *loader) forget() {
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(l.failed)
}

// close ends all work and waits for it.
func (l *loader) close() {
	l.mu.Lock()
	l.closed = true
	l.more.Broadcast()
	l.mu.Unlock()
	l.working.Wait()
}

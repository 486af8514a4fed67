package extract

import "sync"

// progress counts strips and tells the caller.
type progress struct {
	mu          sync.Mutex
	tell        func(done, total int)
	done, total int
}

func (p *progress) one() {
	if p.tell == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done++
	p.tell(p.done, p.total)
}

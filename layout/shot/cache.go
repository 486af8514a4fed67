package shot

import (
	"container/list"
	"sync"
)

// Cache keeps unpacked tiles, those that were used last, of one or several pyramids.
type Cache struct {
	most int

	mu    sync.Mutex
	tiles map[tileKey]*list.Element
	order list.List // of *cached, the latest used first
	bytes int
}

type tileKey struct {
	of                 *Pyramid
	level, column, row int32
}

type cached struct {
	key tileKey
	px  *Pixels
}

// NewCache returns a cache that keeps as many tiles as fit so many bytes, but one at least.
func NewCache(bytes int) *Cache { return &Cache{most: bytes, tiles: map[tileKey]*list.Element{}} }

// Bytes returns how much is kept.
func (c *Cache) Bytes() int {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.bytes
}

// get returns a tile that is kept, or nil.
func (c *Cache) get(key tileKey) *Pixels {
	c.mu.Lock()
	defer c.mu.Unlock()
	e := c.tiles[key]
	if e == nil {
		return nil
	}
	c.order.MoveToFront(e)
	return e.Value.(*cached).px
}

func (c *Cache) keep(key tileKey, px *Pixels) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.tiles[key] != nil {
		return // another goroutine was first
	}
	c.tiles[key] = c.order.PushFront(&cached{key, px})
	for c.bytes += len(px.Data); c.bytes > c.most && c.order.Len() > 1; {
		last := c.order.Remove(c.order.Back()).(*cached)
		c.bytes -= len(last.px.Data)
		delete(c.tiles, last.key)
	}
}

func (p *Pyramid) key(level, column, row int) tileKey {
	return tileKey{p, int32(level), int32(column), int32(row)}
}

// Share has the pyramid keep its tiles in a cache that others have, too. It is for a pyramid that nobody else uses yet.
func (p *Pyramid) Share(c *Cache) { p.cache = c }

// Cached returns a tile as Tile does where it is kept, and nil where it would have to be fetched.
func (p *Pyramid) Cached(level, column, row int) *Pixels {
	return p.cache.get(p.key(level, column, row))
}

// Tile returns the unpacked pixels of a tile, as stored. They are shared: not to be written to.
func (p *Pyramid) Tile(level, column, row int) (*Pixels, error) {
	key := p.key(level, column, row)
	if px := p.cache.get(key); px != nil {
		return px, nil
	}
	px, err := p.read(level, column, row)
	if err != nil {
		return nil, err
	}
	p.cache.keep(key, px)
	return px, nil
}

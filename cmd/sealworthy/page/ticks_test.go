package page

import (
	"sync"
	"time"
)

// swift is a time of day that goes on by as much as is waited for, and as soon as somebody waits.
type swift struct {
	mu  sync.Mutex
	now time.Time
}

func (c *swift) read() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *swift) every(d time.Duration) (<-chan time.Time, func()) {
	tick, end := make(chan time.Time), make(chan struct{})
	go func() {
		for {
			select {
			case tick <- c.read():
				c.mu.Lock()
				c.now = c.now.Add(d)
				c.mu.Unlock()
			case <-end:
				return
			}
		}
	}()
	return tick, func() { close(end) }
}

// swiftly has a server wait by a clock of its own.
func swiftly(o *Options) {
	c := &swift{now: time.Date(2026, 11, 28, 9, 0, 0, 0, time.UTC)}
	o.Now, o.Every = c.read, c.every
}

package exchange

import (
	"sync"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
)

// Shared is a port with several instruments on it, each with an address of its own.
// Those that make a Line over it get the same one and take turns.
type Shared struct {
	instruments.Port
	mu   sync.Mutex
	line *Line
}

// Share makes a port that several instruments may use.
func Share(p instruments.Port) *Shared { return &Shared{Port: p} }

// join gives the one Line of the port. From the second instrument on the line comes
// into step by silence: a question to one of them must not stop the others.
func (s *Shared) join(c clock.Clock, name string, o Options) *Line {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.line != nil && s.line.users.Load() > 0 {
		s.line.users.Add(1)
		s.line.shared.Store(true)
		s.line.sync.Store(nil)
		return s.line
	}
	s.line = newLine(s.Port, c, name, o)
	return s.line
}

// Alive tells whether another instrument can still be spoken to over it.
func (s *Shared) Alive() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.line != nil && s.line.users.Load() > 0 && !s.line.gone.Load()
}

// Close closes the port unless an instrument uses it; the last Line closes it then.
func (s *Shared) Close() error {
	if s.Alive() {
		return nil
	}
	return s.Port.Close()
}

package bench

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"sealworthy/instruments"
	"sealworthy/instruments/exchange"
)

// Sharing returns an opener that opens a port once where a bench says that several
// instruments with addresses are on it. Other ports are opened as before.
func Sharing(open instruments.Opener, c *Config) instruments.Opener {
	s := &sharing{open: open, ports: map[string]opened{}, shared: c.sharedPorts()}
	if len(s.shared) == 0 {
		return open
	}
	return s.port
}

type sharing struct {
	open  instruments.Opener
	mu    sync.Mutex
	ports map[string]opened

	shared []string
}

type opened struct {
	port *exchange.Shared
	line instruments.Line
}

func (s *sharing) port(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
	if !slices.Contains(s.shared, name) {
		return s.open(ctx, name, l)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if was, ok := s.ports[name]; ok && was.port.Alive() {
		if !sameLine(was.line, l) {
			return nil, &instruments.PortError{Port: name, Op: "open",
				Err: fmt.Errorf("another instrument is on this line at %d baud, parity %s", was.line.Baud,
					was.line.Parity),
				Hint: "instruments on one line need the same speed, parity and stop bits"}
		}
		return was.port, nil
	}
	p, err := s.open(ctx, name, l)
	if err != nil {
		return nil, err
	}
	x := opened{port: exchange.Share(p), line: l}
	s.ports[name] = x
	return x.port, nil
}

func sameLine(a, b instruments.Line) bool {
	return a.Baud == b.Baud && a.DataBits == b.DataBits && a.Parity == b.Parity && a.StopBits == b.StopBits
}

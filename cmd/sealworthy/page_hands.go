package main

import (
	"context"
	"errors"
)

// Simulated gives a copy of a build on a simulated bench, or the example, with a fault
// drawn anew.
func (p *pageWork) Simulated(_ context.Context, of string) (string, error) {
	if of != "" {
		b, err := p.open(of)
		if err != nil {
			return "", err
		}
		dir, err := p.copied(b)
		if err != nil {
			return "", err
		}
		return p.simulate(&simulatedBuild{dir: dir, seed: p.seed()}), nil
	}
	b, err := unpack(p.quiet(), "")
	if err != nil {
		return "", err
	}
	s := &simulatedBuild{dir: b.dir, seed: p.seed()}
	if s.faults, err = demoFaults(b.plan, s.seed); err != nil {
		return "", err
	}
	return p.simulate(s), nil
}

// simulate puts a build on a simulated bench.
func (p *pageWork) simulate(s *simulatedBuild) string {
	p.mu.Lock()
	defer p.mu.Unlock()
	id := buildID(s.dir)
	p.sims[id] = s
	return id
}

// Hand does what hands do at a build's simulated bench.
func (p *pageWork) Hand(id, line string) error {
	s := p.simulated(id)
	if s == nil {
		return errors.New("this bench isn't simulated")
	}
	s.mu.Lock()
	b := s.bench
	s.mu.Unlock()
	if b == nil {
		return errors.New("the simulated bench isn't up")
	}
	_, err := hand(b, line)
	return err
}

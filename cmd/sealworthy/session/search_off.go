package session

import (
	"context"
	"errors"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
)

// offSupply is a supply that a trial has switched off. It stays open as long as the search
// asks, so that it's read back off meanwhile: before its trial it may power something that is
// none of ours, and nothing is said of its output. Its port may be opened anew under it.
type offSupply struct {
	instruments.Supply // the one that is there now
	c                  *bench.Connected
	s                  *Search
	x                  *Looked
	release            func() // of the guard
}

// hold takes a supply that is open over until it's let go.
func (s *Search) hold(c *bench.Connected, x *Looked) *offSupply {
	s.off = &offSupply{c.Supply, c, s, x, s.Guard.Register(theSupply, c.Supply)}
	return s.off
}

// letGo closes it. It was switched off.
func (o *offSupply) letGo() error {
	o.s.off = nil
	o.release()
	return o.c.Port.Close()
}

// Protect is the supply's, where it has one.
func (o *offSupply) Protect(ctx context.Context, volts, amps float64) error {
	if p, ok := o.Supply.(instruments.Protector); ok {
		return p.Protect(ctx, volts, amps)
	}
	return instruments.ErrNoProtection
}

// reopen opens it on its port again, where it's the same one.
func (o *offSupply) reopen(ctx context.Context) (instruments.Supply, error) {
	_ = o.c.Port.Close() // it's gone; its port mustn't be in use by us when it comes back
	c, err := bench.Connect(ctx, o.s.World.Clock, o.s.World.Open, o.x.Port, o.x.Use)
	if err != nil {
		return nil, err
	}
	if c.Identity != o.c.Identity {
		return nil, errors.Join(&capture.StrangerError{Which: theSupply, Was: o.c.Identity, Is: c.Identity,
			Port: o.x.Port}, c.Port.Close())
	}
	o.release()
	o.c, o.Supply, o.release = c, c.Supply, o.s.Guard.Register(theSupply, c.Supply)
	return c.Supply, nil
}

// put asks, and minds meanwhile that the output is off of a supply that was switched off.
func (s *Search) put(ctx context.Context, q Question) (capture.Answer, error) {
	if s.off == nil {
		return s.Desk.ask(ctx, q)
	}
	b := capture.Bench{Clock: s.World.Clock, Supply: s.off.Supply, SupplyName: theSupply, ReopenSupply: s.off.reopen}
	return capture.AskOff(ctx, b, aboutIt{s.Desk, q.About}, s.Guard, q.Question)
}

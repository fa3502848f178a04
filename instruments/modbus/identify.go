package modbus

import (
	"context"
	"errors"
	"fmt"

	"sealworthy/instruments"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// syncQuantity is read for nothing else, so its response can't be mistaken.
func (pr *protocol) syncQuantity() int {
	q := mostWords + int(pr.spare.Load()) + 1
	if pr.p.Relays != nil && pr.p.Relays.Channels == q {
		q++
	}
	return q
}

// alive is a read that the module knows, since the profile makes it, too.
func (pr *protocol) alive() (Request, bool) {
	var pt *profile.Point
	switch p := pr.p; {
	case p.Identity.Ask.Given():
		pt = &p.Identity.Ask
	case p.Supply != nil:
		pt = &p.Supply.GetOutput
	case p.Meter != nil && p.Meter.Current.Read.Given():
		pt = &p.Meter.Current.Read
	case p.Meter != nil:
		pt = &p.Meter.Voltage.Read
	case p.Relays != nil:
		pt = &p.Relays.Closed
	}
	if pt == nil || !pt.Given() {
		return Request{}, false
	}
	r := Request{Address: byte(pr.p.Bus.Address), Function: Function(pt.Function), Start: uint16(*pt.Register),
		Quantity: max(1, pt.Words)}
	if pr.p.Relays != nil && pt == &pr.p.Relays.Closed {
		r.Quantity = pr.p.Relays.Channels
	}
	return r, true
}

// Identify makes sure that a server answers at all, and finds out what brings the
// line into step: a read of a length that is used for nothing else, if the module
// answers that, if only to refuse it. A module that knows few functions may say
// nothing to it, and may refuse registers that are read along: then late answers
// are waited for in silence, and after trouble a first answer isn't used.
func (pr *protocol) Identify(ctx context.Context) (string, error) {
	id := fmt.Sprintf("%s, address %d", pr.p.Name, pr.p.Bus.Address)
	if ask := &pr.p.Identity.Ask; ask.Given() {
		a, err := pr.Ask(ctx, "identify", ask, profile.Args{}, false)
		if err != nil {
			return "", err
		}
		id = fmt.Sprintf("%s, type %v", id, a.Number.Value)
	}
	own, known := pr.alive()
	if !known {
		return "", pr.fail("identify", errors.New("the profile reads nothing"))
	}
	if _, _, err := pr.exchange(ctx, "identify", own, 0, false); err != nil {
		if !answered(err) {
			return "", err
		}
	}
	return id, pr.findSync(ctx, own)
}

// findSync chooses how the line is brought into step. own is a read that is known
// to be answered.
func (pr *protocol) findSync(ctx context.Context, own Request) error {
	if spare := int(pr.spare.Load()); spare > 0 && (own.Function == ReadHolding || own.Function == ReadInputRegs) {
		long := own
		long.Quantity += spare
		if _, _, err := pr.exchange(ctx, "identify", long, 0, false); err != nil {
			if gaveUp(ctx, err) {
				return err
			}
			if !answered(err) || refused(err) { // one that is busy may do it later
				pr.spare.Store(0)
			}
		}
	}
	if pr.line.Shared() { // the silence of one module must not stop the others
		return nil
	}
	r := own
	r.Quantity = pr.syncQuantity()
	m, split, err := pr.syncFrame(r)
	if err != nil {
		return pr.fail("identify", err)
	}
	switch _, err := pr.line.Ask(ctx, "identify", m, split, false); {
	case err == nil: // data or an exception: both are answers
		pr.line.SetSync(&exchange.Sync{Message: m, Split: split, Mine: func([]byte) bool { return true }})
		return nil
	case gaveUp(ctx, err):
		return err
	}
	return nil
}

// plain: nothing but silence tells a late answer from the next one.
func (pr *protocol) plain() bool { return !pr.tcp && !pr.line.Synced() }

// answered: the module is there, even if it won't do what it was asked.
func answered(err error) bool {
	var e Exception
	return errors.As(err, &e)
}

// refused: the module will never do it: it doesn't know the function, the registers
// or so many of them (exceptions 1 to 3). One that is busy or failed may do it later.
func refused(err error) bool {
	const illegalFunction, illegalValue = 1, 3
	var e Exception
	return errors.As(err, &e) && e.Code >= illegalFunction && e.Code <= illegalValue
}

// gaveUp: it is no matter of what a module knows.
func gaveUp(ctx context.Context, err error) bool {
	return ctx.Err() != nil || errors.Is(err, instruments.ErrPortGone)
}

func (pr *protocol) syncFrame(r Request) ([]byte, exchange.Split, error) {
	if !pr.tcp {
		return pr.frame(r, 0)
	}
	m, err := r.EncodeTCP(syncTransaction)
	return m, r.SplitTCP(syncTransaction), err
}

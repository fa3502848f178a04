package capture

import (
	"context"
	"errors"
	"fmt"

	"sealworthy/instruments"
)

// same compares who an instrument is with who it was at the start.
func (e *engine) same(ctx context.Context, which role, x any) error {
	was := e.ids[which]
	i, ok := x.(instruments.Identifier)
	if !ok || was == "" {
		e.warn(fmt.Sprintf("the %s was plugged in again; whether it is the same one can't be told", which))
		return nil
	}
	var off error
	if s, ok := x.(instruments.Supply); ok && Nameless(x, was) {
		// It may be live, and whether it is ours takes more than one question.
		if off = e.guard.off(ctx, s); errors.Is(off, instruments.ErrPortGone) {
			return off
		}
	}
	is, err := instruments.Who(ctx, i, was)
	if err != nil && ctx.Err() == nil && !errors.Is(err, instruments.ErrPortGone) {
		is, err = instruments.Who(ctx, i, was) // one bad reply makes no other instrument of it
	}
	if err != nil {
		return err
	}
	if is != was {
		return &StrangerError{Which: string(which), Was: was, Is: is}
	}
	if off != nil {
		return off
	}
	if Nameless(x, is) {
		if s, ok := x.(instruments.Supply); ok {
			if err := e.sameSettings(ctx, s); err != nil {
				return err
			}
		}
		// It has no name of its own: it only speaks like the one before.
		e.warn(
			fmt.Sprintf("the %s was plugged in again; it speaks like the one before, it can't say that it is the same",
				which))
	}
	return nil
}

// identify notes who the instruments are.
func (e *engine) identify(ctx context.Context) error {
	for _, x := range []struct {
		which role
		name  string
		it    any
	}{{theSupply, e.b.SupplyName, e.b.Supply}, {theMeter, e.b.MeterName, e.b.Meter},
		{theRelays, "relays", e.b.Relays}} {
		if x.it == nil {
			continue
		}
		var d instruments.Description
		if y, ok := x.it.(instruments.Describer); ok {
			d = y.Describe()
		}
		if i, ok := x.it.(instruments.Identifier); ok {
			id, err := e.whoIs(ctx, x.which, i, d.Identity)
			if err != nil {
				return fmt.Errorf("the %s doesn't say who it is: %w", x.which, err)
			}
			e.ids[x.which], d.Identity = id, id
		}
		e.desc[x.name] = d
	}
	return nil
}

// whoIs asks an instrument who it is, which may be known since it was opened. Of a meter that says nothing the maker is
// asked whether it has switched itself off.
func (e *engine) whoIs(ctx context.Context, which role, i instruments.Identifier, known string) (string, error) {
	for {
		id, err := instruments.Who(ctx, i, known)
		if errors.Is(err, instruments.ErrNoReply) && ctx.Err() == nil {
			id, err = instruments.Who(ctx, i, known) // one lost reply doesn't end a test
		}
		if which != theMeter || unattended(e.f) || !errors.Is(err, instruments.ErrNoReply) {
			return id, err
		}
		a, aerr := e.ask(ctx, Question{Kind: AskPlug, Text: "The meter says nothing. Has it switched itself off? " +
			"Switch it on and let it send. The output is off.",
			Choices: []string{"done", "stop"}})
		if aerr != nil {
			return "", aerr
		}
		if err := choice(a); err != nil {
			return "", err
		}
	}
}

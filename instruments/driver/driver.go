// Package driver is the supply, the meter and the relay board as such: limits
// checked, settings read back, readings given times and a half-width. How a
// point of the profile is told or asked is left to a Protocol; packages scpi,
// terse and modbus implement it and make these drivers.
//
// What a driver promises is written at the interfaces of package instruments.
// It refuses to hand out a number that is stale, overloaded or beyond what the
// instrument can measure, and it never repeats a setting by itself. The one
// command that is repeated is "output off".
package driver

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// Protocol tells and asks the points of a profile.
type Protocol interface {
	// Tell sends a setting. An urgent one is sent before all others, even though
	// ctx is cancelled.
	Tell(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) error
	// Ask asks for a number. A mark of overload or not-a-number is a Number.
	Ask(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) (Answer, error)
	// AskChannels asks which relays are closed.
	AskChannels(ctx context.Context, op string, pt *profile.Point, r *profile.Relays) ([]int, error)
	// Check finds out whether the settings before it were accepted.
	Check(ctx context.Context, op string) error
	// Identify asks who the instrument is and compares it with the profile.
	Identify(ctx context.Context) (string, error)
	// Shown is how long the instrument takes for a command, 0 before it has shown it.
	Shown() time.Duration
	// Doubt says that the last answer can't have been one: the next question
	// first brings the line into step.
	Doubt()
	// Close closes the port.
	Close() error
}

// Mark says what a Number is. The zero Mark is no valid answer.
type Mark int

// The marks.
const (
	Finite Mark = iota + 1
	Over
	NaN
)

// Number is one number of a reply. Value is meaningless unless Mark is Finite.
type Number struct {
	Value float64
	Mark  Mark
}

// Answer is a reply that carries a number, already in SI.
type Answer struct {
	Number Number
	Raw    string    // the reply as it came
	Sent   time.Time // when the question had been handed to the port
	Start  time.Time // when the instrument began to send it
	End    time.Time // when its last byte was here
}

// base is what all drivers share.
type base struct {
	name    string // "supply", "meter": Reading.Instrument
	profile *profile.Profile
	proto   Protocol
	clk     clock.Clock
	id      identity
}

// New makes the driver of the kind that a profile describes: a *Supply, *Meter or *Relays.
func New(p *profile.Profile, proto Protocol, c clock.Clock) (any, error) {
	switch {
	case p.Kind == profile.SupplyKind && p.Supply != nil:
		return &Supply{base: newBase(p, proto, c), s: p.Supply}, nil
	case p.Kind == profile.MeterKind && p.Meter != nil:
		return &Meter{base: newBase(p, proto, c), m: p.Meter, fixed: map[instruments.Quantity]instruments.Range{}}, nil
	case p.Kind == profile.RelaysKind && p.Relays != nil:
		return &Relays{base: newBase(p, proto, c), r: p.Relays}, nil
	}
	return nil, fmt.Errorf("profile %q doesn't say how to drive a %s", p.Name, p.Kind)
}

func newBase(p *profile.Profile, proto Protocol, c clock.Clock) base {
	return base{name: string(p.Kind), profile: p, proto: proto, clk: c}
}

// Identify asks who the instrument is. It is the same for the same instrument
// on any port; an instrument that can't say answers with its profile's name.
func (b *base) Identify(ctx context.Context) (string, error) {
	id, err := b.proto.Identify(ctx)
	if err != nil {
		return "", err
	}
	if id == "" {
		id = b.profile.Name
	}
	b.id.set(id)
	return id, nil
}

// Describe tells what is known without asking.
func (b *base) Describe() instruments.Description {
	d := b.profile.Describe()
	d.Identity = b.id.get()
	d.Simulated = b.clk.Simulated() || IsSimulated(d.Identity)
	return d
}

// simulatedBench begins the identity of every instrument of the rig, so that a
// rig in another process is known as one.
const simulatedBench = "SIMULATED BENCH"

// IsSimulated tells by what an instrument calls itself whether it's one of the rig.
func IsSimulated(identity string) bool { return strings.HasPrefix(identity, simulatedBench) }

// Close closes the port.
func (b *base) Close() error { return b.proto.Close() }

// plausible is how far beyond its largest range a number may lie and still have
// been sent by this instrument.
const plausible = 1.1

// implausible is the share of its finest resolution below which no instrument
// sends a number that isn't zero: a digit of its exponent was flipped.
const implausible = 1e-4

func finest(ranges []instruments.Range) float64 {
	least := 0.0
	for _, r := range ranges {
		if r.Resolution > 0 && (least == 0 || r.Resolution < least) {
			least = r.Resolution
		}
	}
	return least
}

// reading makes a Reading of an answer. fixed is the range in use, where it is known.
func (b *base) reading(q instruments.Quantity, a Answer, fixed *instruments.Range) (instruments.Reading, error) {
	r := instruments.Reading{
		Instrument: b.name, Quantity: q, Unit: q.Unit(), Raw: a.Raw,
		At: a.Start, Window: b.profile.Window(), Latency: a.End.Sub(a.Sent),
	}
	if fixed != nil {
		r.Range = fixed.Name
	}
	switch a.Number.Mark {
	case Over:
		r.Status = instruments.Overload
		return r, nil
	case NaN:
		r.Status = instruments.NotANumber
		return r, nil
	case Finite:
	default:
		return instruments.Reading{}, fmt.Errorf("%s: read %s: %w: no number in %q", b.name, q, instruments.ErrGarbled,
			a.Raw)
	}
	v := a.Number.Value
	ranges := b.profile.RangesOf(q)
	if most := largest(ranges); most > 0 && math.Abs(v) > most*plausible {
		b.proto.Doubt()
		return instruments.Reading{}, fmt.Errorf("%s: read %s: %w: %q is more than the instrument can measure", b.name,
			q, instruments.ErrGarbled, a.Raw)
	}
	if least := finest(ranges) * implausible; v != 0 && math.Abs(v) < least {
		b.proto.Doubt()
		return instruments.Reading{}, fmt.Errorf("%s: read %s: %w: %q is far below what the instrument resolves",
			b.name, q, instruments.ErrGarbled, a.Raw)
	}
	if fixed != nil && math.Abs(v) > fixed.Max*plausible {
		r.Status = instruments.Overload
		return r, nil
	}
	r.Status, r.Value = instruments.OK, &v
	if fixed != nil {
		r.HalfWidth = fixed.Accuracy.HalfWidth(v)
	} else {
		r.HalfWidth, r.Range = halfWidth(ranges, v)
	}
	return r, nil
}

func largest(ranges []instruments.Range) float64 {
	most := 0.0
	for _, r := range ranges {
		most = max(most, r.Max)
	}
	return most
}

// halfWidth is that of the range which an instrument with free choice may be
// in. Near the top of a range it may be in the next one already, so the wider
// counts (common practice, no source: up at 100 to 110 %, down below 90 %).
func halfWidth(ranges []instruments.Range, v float64) (float64, string) {
	a := math.Abs(v)
	for i, r := range ranges {
		last := i == len(ranges)-1
		if a > r.Max && !last {
			continue
		}
		hw := r.Accuracy.HalfWidth(v)
		if a > 0.9*r.Max && !last {
			hw = max(hw, ranges[i+1].Accuracy.HalfWidth(v))
		}
		return hw, r.Name
	}
	return 0, ""
}

// yes tells whether an answer to a yes-or-no point means yes.
func (b *base) yes(pt *profile.Point, a Answer) (bool, error) {
	y, err := yes(pt, a)
	if err == nil && pt.Not {
		y = !y
	}
	if err != nil {
		b.proto.Doubt()
		err = fmt.Errorf("%s: %w", b.name, err)
	}
	return y, err
}

func yes(pt *profile.Point, a Answer) (bool, error) {
	v := a.Number.Value / pt.Scale
	if a.Number.Mark != Finite || v != math.Trunc(v) || math.Abs(v) > 1<<31 {
		return false, fmt.Errorf("%w: %q is neither yes nor no", instruments.ErrGarbled, a.Raw)
	}
	n := int64(v)
	switch {
	case pt.Is != nil:
		return n == int64(*pt.Is), nil
	case pt.Bit != nil:
		return n>>*pt.Bit&1 == 1, nil
	case n != 0 && n != 1:
		return false, fmt.Errorf("%w: %q is neither 0 nor 1", instruments.ErrGarbled, a.Raw)
	}
	return n == 1, nil
}

// confirmTries is how often what was set is asked for: a question may be asked
// again, a setting may not. One bad answer, lost, garbled or well formed and
// wrong, doesn't leave a setting in doubt.
const confirmTries = 3

// confirmed asks until an answer says that it is so.
func confirmed(ctx context.Context, ask func() error) error {
	var err error
	for range confirmTries {
		if err = ask(); err == nil || ctx.Err() != nil || errors.Is(err, instruments.ErrPortGone) {
			break
		}
	}
	return notSet(err)
}

// notSet marks err as a setting that was not confirmed and keeps its cause.
func notSet(err error) error {
	if err == nil || errors.Is(err, instruments.ErrNotSet) {
		return err
	}
	return fmt.Errorf("%w: %w", instruments.ErrNotSet, err)
}

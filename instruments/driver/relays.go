package driver

import (
	"context"
	"fmt"
	"slices"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// Relays is a relay board.
type Relays struct {
	base
	r    *profile.Relays
	lock clock.Lock // over one change
}

var (
	_ instruments.Relays     = (*Relays)(nil)
	_ instruments.Identifier = (*Relays)(nil)
	_ instruments.Describer  = (*Relays)(nil)
)

// Close closes exactly these channels and reads back. With no channels it opens
// all. What is closed already stays closed all the while where the board can
// do so; the board is asked first, since it may have been reset.
func (r *Relays) Close(ctx context.Context, channels ...int) error {
	want := slices.Clone(channels)
	slices.Sort(want)
	want = slices.Compact(want)
	for _, c := range want {
		if c < r.r.First || c >= r.r.First+r.r.Channels {
			return fmt.Errorf("%s: %w: there is no channel %d, only %d to %d", r.name, instruments.ErrNotSet, c,
				r.r.First, r.r.First+r.r.Channels-1)
		}
	}
	if err := r.lock.Acquire(ctx, r.clk, time.Time{}); err != nil {
		return err
	}
	defer r.lock.Release(r.clk)
	if err := r.change(ctx, want); err != nil {
		return notSet(err)
	}
	if err := r.proto.Check(ctx, "switch relays"); err != nil {
		return notSet(err)
	}
	err := confirmed(ctx, func() error {
		got, err := r.Closed(ctx)
		if err == nil && !slices.Equal(got, want) {
			r.proto.Doubt()
			err = fmt.Errorf("%s: %w: channels %v should be closed, the board says %v", r.name, instruments.ErrNotSet,
				want, got)
		}
		return err
	})
	if err != nil {
		return err
	}
	if r.r.SettleMs > 0 {
		return r.clk.Wait(ctx, nil, r.clk.Now().Add(time.Duration(r.r.SettleMs)*time.Millisecond))
	}
	return nil
}

// Closed asks which channels are closed, in rising order.
func (r *Relays) Closed(ctx context.Context) ([]int, error) {
	got, err := r.proto.AskChannels(ctx, "which relays are closed", &r.r.Closed, r.r)
	if err != nil {
		return nil, err
	}
	slices.Sort(got)
	return slices.Compact(got), nil
}

func (r *Relays) change(ctx context.Context, want []int) error {
	const op = "switch relays"
	if r.r.Exactly.Given() {
		return r.proto.Tell(ctx, op, &r.r.Exactly, profile.Args{Channels: want}, false)
	}
	have, err := r.Closed(ctx)
	if err != nil {
		return err
	}
	drop := without(have, want)
	switch {
	case len(drop) == 0:
	case r.r.Open.Given():
		if err := r.each(ctx, &r.r.Open, drop); err != nil {
			return err
		}
	default:
		if err := r.proto.Tell(ctx, op, &r.r.OpenAll, profile.Args{}, false); err != nil {
			return err
		}
		have = nil
	}
	return r.each(ctx, &r.r.Close, without(want, have))
}

// each tells a point for channels: at once with a list, one by one on Modbus.
func (r *Relays) each(ctx context.Context, pt *profile.Point, channels []int) error {
	const op = "switch relays"
	if len(channels) == 0 {
		return nil
	}
	if pt.Register == nil {
		return r.proto.Tell(ctx, op, pt, profile.Args{Channels: channels}, false)
	}
	for _, c := range channels {
		if err := r.proto.Tell(ctx, op, pt, profile.Args{Channels: []int{c}, Channel: c - r.r.First},
			false); err != nil {
			return err
		}
	}
	return nil
}

func without(a, b []int) []int {
	var out []int
	for _, x := range a {
		if !slices.Contains(b, x) {
			out = append(out, x)
		}
	}
	return out
}

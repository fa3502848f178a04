package rig

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sort"
	"strings"
	"sync/atomic"
	"time"

	"sealworthy/instruments/clock"
)

// relays is a board whose contacts connect terminals and press buttons.
type relays struct {
	device
	b      *Bench
	o      RelayOptions
	n      int
	closed map[int]bool
	reset  atomic.Bool // the processor was reset; closed is out of date
}

func newRelays(c clock.Clock, o Options, b *Bench, r *rand.Rand) *relays {
	d := &relays{device: device{c: c, name: Relays, opt: o.Relays.LineOptions}, b: b, o: o.Relays,
		closed: map[int]bool{}}
	for ch := range o.Channels {
		d.n = max(d.n, ch)
	}
	for ch := range o.ButtonChannels {
		d.n = max(d.n, ch)
	}
	if o.Relays.ResetOnOpen {
		d.opened = func() {
			d.reset.Store(true)
			d.b.relaysMoved(d.c.Now(), nil)
		}
		d.before = func() {
			if d.reset.Swap(false) {
				clear(d.closed)
				d.queue = nil
			}
		}
	}
	d.addCommon(fmt.Sprintf("SIMULATED BENCH,RELAYS,SN%06d,1.0", r.IntN(1e6)), func() { d.openAll() })
	d.addCommands()
	return d
}

// set moves contacts, waits until they have settled, and only then counts them.
func (d *relays) set(ctx context.Context, channels []int, closed bool) error {
	if len(channels) == 0 {
		return nil
	}
	if d.o.Operate > 0 {
		if err := d.c.Wait(ctx, nil, d.c.Now().Add(d.o.Operate)); err != nil {
			return err
		}
	}
	for _, ch := range channels {
		if closed {
			d.closed[ch] = true
		} else {
			delete(d.closed, ch)
		}
	}
	d.b.relaysMoved(d.c.Now(), d.closed)
	return nil
}

// openAll is at once, as at a loss of the board's power.
func (d *relays) openAll() {
	clear(d.closed)
	d.b.relaysMoved(d.c.Now(), d.closed)
}

func (d *relays) list(args []string) ([]int, error) {
	// A list holds commas, so it is one parameter in parentheses.
	a, err := one(args)
	if err != nil {
		return nil, err
	}
	return channels(a, d.n)
}

func (d *relays) addCommands() {
	move := func(closed bool) func(context.Context, []string) error {
		return func(ctx context.Context, args []string) error {
			ch, err := d.list(args)
			if err != nil {
				return err
			}
			return d.set(ctx, ch, closed)
		}
	}
	ask := func(closed bool) func(context.Context, []string) (string, error) {
		return func(_ context.Context, args []string) (string, error) {
			ch, err := d.list(args)
			if err != nil {
				return "", err
			}
			var out []string
			for _, n := range ch {
				out = append(out, onOff(d.closed[n] == closed))
			}
			return strings.Join(out, ","), nil
		}
	}
	d.add("[ROUTe]:CLOSe", move(true), ask(true))
	d.add("[ROUTe]:OPEN", move(false), ask(false))
	d.add("[ROUTe]:OPEN:ALL", func(ctx context.Context, args []string) error {
		if err := none(args); err != nil {
			return err
		}
		all := make([]int, 0, d.n)
		for n := 1; n <= d.n; n++ {
			all = append(all, n)
		}
		return d.set(ctx, all, false)
	}, nil)
	d.add("[ROUTe]:CLOSe:STATe", nil, func(_ context.Context, args []string) (string, error) {
		var on []int
		for n := range d.closed {
			on = append(on, n)
		}
		sort.Ints(on)
		return "(@" + strings.Trim(strings.ReplaceAll(fmt.Sprint(on), " ", ","), "[]") + ")", none(args)
	})
}

// pressed is how long a button's contact must be closed to count.
const pressed = 50 * time.Millisecond

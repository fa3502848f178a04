package rig

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig/odd"
)

// Bench is a simulated bench that is up. Its methods may be called from any
// goroutine; those that act do so at the clock's present moment.
type Bench struct {
	c      clock.Clock
	o      Options
	model  *model
	supply *supply
	meter  *meter
	relays *relays

	stop    context.CancelFunc
	parties sync.WaitGroup

	mu        sync.Mutex // guards what follows
	terminals []string
	clipped   map[string]bool // by hand
	relayed   map[string]bool
	buttons   map[string]time.Time // held down since
	lines     map[string]*line     // by instrument
}

// New puts up a bench with a load on it. The output is off and no terminal is
// connected. It is taken down by Close; when ctx ends its instruments fall silent.
func New(ctx context.Context, c clock.Clock, load Load, o Options) (*Bench, error) {
	terminals := slices.Clone(load.Terminals())
	o = o.filled(terminals)
	for ch, t := range o.Channels {
		if !slices.Contains(terminals, t) || ch < 1 {
			return nil, fmt.Errorf("relay channel %d is to switch %q, which is no terminal of the model", ch, t)
		}
		if b, twice := o.ButtonChannels[ch]; twice {
			return nil, fmt.Errorf("relay channel %d is to switch %q and to press %q; use one channel for each",
				ch, t, b)
		}
	}
	now := c.Now()
	m := &model{load: load, on: make([]bool, len(terminals)), last: now, started: now, leads: o.LeadsOhm,
		fuseA: o.Meter.FuseAmps, ambient: o.AmbientC, presses: map[string]int{}, farads: o.Supply.OutputF}
	b := &Bench{c: c, o: o, model: m, terminals: terminals, clipped: map[string]bool{}, relayed: map[string]bool{},
		buttons: map[string]time.Time{}, lines: map[string]*line{}}
	// A generator for each instrument: what one draws doesn't move the others.
	random := func(stream uint64) *rand.Rand { return rand.New(rand.NewPCG(o.Seed, stream)) }
	b.supply = newSupply(c, o, m, random(1))
	b.meter = newMeter(c, o, m, random(2))
	b.relays = newRelays(c, o, b, random(3))
	m.change(now, b.supply.apply)
	for _, d := range b.devices() {
		l, err := plug(c, d, o, "")
		if err != nil {
			return nil, errors.Join(err, b.unplugAll())
		}
		b.lines[d.name] = l
	}
	ctx, b.stop = context.WithCancel(ctx)
	if o.Supply.Odd.Has(odd.Watchdog) {
		b.parties.Add(1)
		c.Go(func() {
			defer b.parties.Done()
			b.supply.watch(ctx)
		})
	}
	for _, d := range b.devices() {
		b.parties.Add(1)
		c.Go(func() {
			defer b.parties.Done()
			d.run(ctx)
		})
	}
	return b, nil
}

func (b *Bench) devices() []*device {
	return []*device{&b.supply.device, &b.meter.device, &b.relays.device}
}

func (b *Bench) device(name string) *device {
	for _, d := range b.devices() {
		if d.name == name {
			return d
		}
	}
	return nil
}

// Close takes the bench down and waits until its instruments have ended.
func (b *Bench) Close() error {
	b.stop()
	b.parties.Wait()
	return b.unplugAll()
}

func (b *Bench) unplugAll() error {
	var errs []error
	for _, d := range b.devices() {
		errs = append(errs, b.Unplug(d.name))
	}
	return errors.Join(errs...)
}

// PortNames are the names under which the instruments can be opened; "" is one
// that is unplugged.
type PortNames struct {
	Supply string `json:"supply"` // of the supply
	Meter  string `json:"meter"`  // of the meter
	Relays string `json:"relays"` // of the relay board
}

// Ports names the ports as they are now.
func (b *Bench) Ports() PortNames {
	b.mu.Lock()
	defer b.mu.Unlock()
	name := func(inst string) string {
		if l := b.lines[inst]; l != nil {
			return l.name
		}
		return ""
	}
	return PortNames{Supply: name(Supply), Meter: name(Meter), Relays: name(Relays)}
}

// Opener opens the bench's ports: pseudo terminals through the serial library,
// or memory. Other names are refused with wire.ErrNoSuchPort.
func (b *Bench) Opener() instruments.Opener {
	return func(ctx context.Context, name string, l instruments.Line) (instruments.Port, error) {
		b.mu.Lock()
		var found *line
		for _, x := range b.lines {
			if x != nil && x.name == name {
				found = x
			}
		}
		b.mu.Unlock()
		if found == nil {
			return nil, noSuchPort(name)
		}
		return found.open(ctx, l)
	}
}

// Unplug pulls the cable of an instrument: the port hangs up and is gone. The
// instrument itself stays as it is. It does nothing if it is unplugged.
func (b *Bench) Unplug(instrument string) error {
	b.mu.Lock()
	l := b.lines[instrument]
	b.lines[instrument] = nil
	b.mu.Unlock()
	if l == nil {
		return nil
	}
	l.cut()
	return l.device.detach()
}

// Replug puts the cable of an instrument back and returns the name of its port.
// With another true the name is another one than before, as a system does that
// counts its ports; else it may be the same.
func (b *Bench) Replug(instrument string, another bool) (string, error) {
	d := b.device(instrument)
	if d == nil {
		return "", fmt.Errorf("the bench has no instrument called %q; it has supply, meter and relays", instrument)
	}
	if err := b.Unplug(instrument); err != nil {
		return "", err
	}
	not := ""
	switch {
	case another && b.o.MemoryPorts:
		d.opt.Name += "'"
	case another:
		not = d.lastPty
	}
	l, err := plug(b.c, d, b.o, not)
	if err != nil {
		return "", err
	}
	b.mu.Lock()
	b.lines[instrument] = l
	b.mu.Unlock()
	return l.name, nil
}

// Connect clips exactly these terminals to the jack by hand. What relays
// connect stays.
func (b *Bench) Connect(terminals ...string) error {
	for _, t := range terminals {
		if !slices.Contains(b.terminals, t) {
			return fmt.Errorf("the model has no terminal called %q", t)
		}
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	clear(b.clipped)
	for _, t := range terminals {
		b.clipped[t] = true
	}
	b.connect(b.c.Now())
	return nil
}

// Connected names the terminals that are connected, by hand or by relay.
func (b *Bench) Connected() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var out []string
	for _, t := range b.terminals {
		if b.clipped[t] || b.relayed[t] {
			out = append(out, t)
		}
	}
	return out
}

// connect hands the terminals to the model. mu is held.
func (b *Bench) connect(now time.Time) {
	b.model.change(now, func() {
		m := b.model
		starts, _ := m.load.(Powerer)
		for i, t := range b.terminals {
			on := b.clipped[t] || b.relayed[t]
			switch {
			case on && !m.on[i]:
				if m.src.on && (starts == nil || starts.StartsAtPower(t)) {
					m.started = now
				}
			case !on && m.on[i]:
				delete(m.presses, t) // the board behind it has lost its power
			}
		}
		// The load may have kept the slice that it was given.
		next := make([]bool, len(b.terminals))
		for i, t := range b.terminals {
			next[i] = b.clipped[t] || b.relayed[t]
		}
		m.on = next
	})
}

// relaysMoved takes over the contacts of the relay board.
func (b *Bench) relaysMoved(now time.Time, closed map[int]bool) {
	b.mu.Lock()
	defer b.mu.Unlock()
	clear(b.relayed)
	for ch, t := range b.o.Channels {
		if closed[ch] {
			b.relayed[t] = true
		}
	}
	b.connect(now)
	for ch, button := range b.o.ButtonChannels {
		since, down := b.buttons[button]
		switch {
		case closed[ch] && !down:
			b.buttons[button] = now
		case !closed[ch] && down:
			delete(b.buttons, button)
			if now.Sub(since) >= pressed {
				b.press(now, button)
			}
		}
	}
}

// Put puts another model on the bench in the place of this one: the same one, mended
// or broken. It must have the same terminals. The output stays as it is, and the clips
// stay where they are.
func (b *Bench) Put(load Load) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if !slices.Equal(load.Terminals(), b.terminals) {
		return fmt.Errorf("the model has other terminals than the one that is on the bench")
	}
	b.model.change(b.c.Now(), func() { b.model.load = load })
	return nil
}

// Press presses and releases a board's button by hand. Without power it does
// nothing, as on a real board.
func (b *Bench) Press(board string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.press(b.c.Now(), board)
}

// press counts a press if the board has power: the output is on, and the
// terminal of the same name, where there is one, is connected. mu is held.
func (b *Bench) press(now time.Time, board string) {
	i := slices.Index(b.terminals, board)
	b.model.change(now, func() {
		m := b.model
		if !m.src.on || i >= 0 && !m.on[i] {
			return
		}
		next := map[string]int{}
		for k, v := range m.presses {
			next[k] = v
		}
		next[board]++
		m.presses = next
	})
}

// Key presses the supply's own key: its output goes on as it was set last, or off, and
// nobody tells the program.
func (b *Bench) Key(on bool) { b.supply.switched(on, "its own key") }

// Across puts the clips on a resistor instead of the model: a known one, or
// none of 0.001 ohm when they are held together. Zero or less puts them back.
// Boards lose their power over it.
func (b *Bench) Across(ohms float64) {
	b.model.change(b.c.Now(), func() {
		if b.model.across = max(0, ohms); b.model.across == 0 {
			b.model.started = b.model.last
		}
		b.model.presses = map[string]int{}
	})
}

// BlowMeterFuse opens the fuse behind the meter's jack.
func (b *Bench) BlowMeterFuse() { b.model.change(b.c.Now(), func() { b.model.blown = true }) }

// ReplaceMeterFuse puts a good fuse in.
func (b *Bench) ReplaceMeterFuse() { b.model.change(b.c.Now(), func() { b.model.blown = false }) }

// MeterFuseBlown reports whether the fuse is open.
func (b *Bench) MeterFuseBlown() bool {
	b.model.now(b.c.Now())
	b.model.mu.Lock()
	defer b.model.mu.Unlock()
	return b.model.blown
}

// Warm sets the temperature around the model.
func (b *Bench) Warm(celsius float64) {
	b.model.change(b.c.Now(), func() { b.model.ambient = celsius })
}

// OutputState is the supply's output as it is.
type OutputState struct {
	On     bool    // switched on, limiting or not
	Volts  float64 // set
	LimitA float64 // set
	// What there is at the jack.
	JackVolts, Amps float64
	Limiting        bool // it holds the current back
}

// Output looks at the output without asking the supply over its line.
func (b *Bench) Output() OutputState {
	b.model.mu.Lock()
	defer b.model.mu.Unlock()
	m := b.model
	m.advance(b.c.Now())
	p := m.at(m.last)
	return OutputState{On: m.src.on, Volts: m.setV, LimitA: m.setA, JackVolts: p.jackV, Amps: p.amps,
		Limiting: p.limiting}
}

// Outputs tells each switching of the output since the bench was put up.
func (b *Bench) Outputs() []OutputEvent {
	b.model.mu.Lock()
	defer b.model.mu.Unlock()
	return slices.Clone(b.model.events)
}

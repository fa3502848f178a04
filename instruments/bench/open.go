package bench

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
)

// Overrides is what the command line says against the file.
type Overrides struct {
	SupplyPort, MeterPort, RelaysPort string // replace the ports; profiles default to the SCPI ones
	ProfileFolder                     string // the maker's own profiles; "" is none
}

// Opened is every instrument of a bench, open and identified. What the bench
// doesn't have is nil.
type Opened struct {
	Supply instruments.Supply
	Meter  instruments.Meter
	Relays instruments.Relays
	// Identities by "supply", "meter", "relays".
	Identities map[string]string

	ports []instruments.Port
}

// Close closes the ports. It doesn't switch anything off: that comes first.
func (o *Opened) Close() error {
	var errs []error
	for _, p := range o.ports {
		errs = append(errs, p.Close())
	}
	o.ports = nil
	return errors.Join(errs...)
}

// ErrOther is an instrument that isn't the one that bench.toml remembers.
var ErrOther = errors.New("another instrument than before")

// Open opens and identifies all. On an error everything that was opened is
// closed again.
func Open(ctx context.Context, c clock.Clock, open instruments.Opener, cfg *Config, over Overrides) (*Opened, error) {
	b := *cfg
	override(&b.Supply.Port, &b.Supply.Profile, &b.Supply.Identity, over.SupplyPort, "scpi supply")
	override(&b.Meter.Port, &b.Meter.Profile, &b.Meter.Identity, over.MeterPort, "scpi meter")
	override(&b.Relays.Port, &b.Relays.Profile, &b.Relays.Identity, over.RelaysPort, "scpi relays")
	o := &Opened{Identities: map[string]string{}}
	opening := opening{ctx: ctx, clk: c, open: open, folder: over.ProfileFolder, into: o}
	if err := errors.Join(opening.all(&b)...); err != nil {
		return nil, errors.Join(err, o.Close())
	}
	return o, nil
}

func override(port, prof, identity *string, by, usual string) {
	if by == "" {
		return
	}
	if *port != by {
		*identity = ""
	}
	*port = by
	if *prof == "" {
		*prof = usual
	}
}

type opening struct {
	ctx    context.Context
	clk    clock.Clock
	open   instruments.Opener
	folder string
	into   *Opened
}

func (o opening) all(b *Config) []error {
	var errs []error
	if b.Supply.Port != "" {
		errs = append(errs,
			o.one("supply", b.Supply.Port, b.Supply.Profile, b.Supply.Identity, profile.SupplyKind,
				func(p *profile.Profile) error {
					return errors.Join(atOutput(p, b.Supply.Channel), atAddress(p, b.Supply.Address))
				}))
	}
	if b.Meter.Port != "" {
		errs = append(errs,
			o.one("meter", b.Meter.Port, b.Meter.Profile, b.Meter.Identity, profile.MeterKind,
				func(p *profile.Profile) error {
					return errors.Join(atJack(p, b.Meter), atAddress(p, b.Meter.Address))
				}))
	}
	if b.Relays.Port != "" {
		errs = append(errs,
			o.one("relays", b.Relays.Port, b.Relays.Profile, b.Relays.Identity, profile.RelaysKind,
				func(p *profile.Profile) error {
					return atAddress(p, b.Relays.Address)
				}))
	}
	return errs
}

// atOutput chooses one output of several. A profile that can't choose would drive
// the first one whatever the bench says.
func atOutput(p *profile.Profile, channel int) error {
	switch {
	case channel == 0:
		return nil
	case channel > 1 && p.Channel.By == "":
		return fmt.Errorf("supply: profile %q doesn't choose between outputs, so channel = %d would drive another "+
			"one: take \"scpi supply outputs\", or write [channel] into a profile of your own", p.Name, channel)
	}
	p.Channel.Number = channel
	return nil
}

// atAddress is where on its line a Modbus module is; 0 leaves it to the profile.
func atAddress(p *profile.Profile, address int) error {
	switch {
	case address == 0:
		return nil
	case p.Bus == nil:
		return fmt.Errorf("profile %q has no address: only Modbus modules have one", p.Name)
	}
	p.Bus.Address = address
	return nil
}

// atJack leaves the ranges that the jack in use has, and its fuse.
func atJack(p *profile.Profile, m Meter) error {
	if m.WindowMs > 0 && p.Meter != nil {
		p.Meter.IntegrationMs = m.WindowMs
	}
	if m.FuseAmps > 0 {
		p.Meter.JackFuseAmps = m.FuseAmps
	}
	if m.Jack == "" {
		return nil
	}
	p.Ranges = slices.DeleteFunc(slices.Clone(p.Ranges), func(r profile.Range) bool {
		return r.Jack != "" &&
			r.Jack != m.Jack
	})
	if len(p.Ranges) == 0 {
		return fmt.Errorf("meter: profile %q has no range at jack %q", p.Name, m.Jack)
	}
	return nil
}

func (o opening) one(name, port, profileName, remembered string, kind profile.Kind,
	adjust func(*profile.Profile) error) error {
	p, err := profile.Load(profileName, o.folder)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if p.Kind != kind {
		return fmt.Errorf("%s: profile %q is for a %s", name, profileName, p.Kind)
	}
	if err := adjust(p); err != nil {
		return err
	}
	x, err := Connect(o.ctx, o.clk, o.open, port, p)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	o.into.ports = append(o.into.ports, x.Port)
	if remembered != "" && x.Identity != remembered {
		return fmt.Errorf("%s on %s: %w: %q, bench.toml has %q; if that is right, take its identity out of bench.toml",
			name, port, ErrOther, x.Identity, remembered)
	}
	o.into.Identities[name] = x.Identity
	switch {
	case x.Supply != nil:
		o.into.Supply = x.Supply
	case x.Meter != nil:
		o.into.Meter = x.Meter
	case x.Relays != nil:
		o.into.Relays = x.Relays
	}
	return nil
}

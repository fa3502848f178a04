package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/compare"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

// The instruments of a bench, as bench.Opened names them.
const (
	theSupply = "supply"
	theMeter  = "meter"
	theRelays = "relays"
)

// only is what a bench and the command line say of one instrument. Each is
// opened by itself, so that each can be closed and opened again by itself.
func only(cfg *bench.Config, over bench.Overrides, which string) (one *bench.Config, overOne bench.Overrides, port string) {
	one, overOne = &bench.Config{}, bench.Overrides{ProfileFolder: over.ProfileFolder}
	switch which {
	case theSupply:
		one.Supply, overOne.SupplyPort = cfg.Supply, over.SupplyPort
		port = or(over.SupplyPort, cfg.Supply.Port)
	case theMeter:
		one.Meter, overOne.MeterPort = cfg.Meter, over.MeterPort
		port = or(over.MeterPort, cfg.Meter.Port)
	default:
		one.Relays, overOne.RelaysPort = cfg.Relays, over.RelaysPort
		port = or(over.RelaysPort, cfg.Relays.Port)
	}
	return one, overOne, port
}

// openBench opens what bench.toml and the command line name, and switches the
// supply's output off before anything else; f is told if it was found on. f asks
// where the maker is the instrument.
func openBench(ctx context.Context, c clock.Clock, open instruments.Opener, b build, cfg *bench.Config, over bench.Overrides, f capture.Face) (*benchSet, error) {
	s := &benchSet{opened: map[string]*bench.Opened{}, at: map[string]string{}, leads: compare.Leads{Ohm: cfg.Leads.Ohms, HalfOhm: cfg.Leads.HalfWidthOhm}}
	var errs []error
	for _, which := range []string{theSupply, theMeter, theRelays} {
		one, overOne, port := only(cfg, over, which)
		o, err := bench.Open(ctx, c, open, one, overOne)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		s.opened[which], s.at[which] = o, port
	}
	if errs != nil {
		return nil, withHint(errors.Join(append(errs, s.Close())...), "sealworthy ports lists the ports and tries an instrument on one")
	}
	o := bench.Opened{Supply: s.opened[theSupply].Supply, Meter: s.opened[theMeter].Meter, Relays: s.opened[theRelays].Relays}
	s.Bench = capture.Bench{
		Clock: c, Supply: o.Supply, Meter: o.Meter, Relays: o.Relays,
		SupplyName: compare.SupplyName, MeterName: compare.MeterName, LeadsOhm: cfg.Leads.Ohms, MeterFuseAmps: cfg.Meter.FuseAmps,
		MostVolts: cfg.NeverAbove.Volts, MostAmps: cfg.NeverAbove.Amps,
	}
	switch {
	case o.Supply == nil && cfg.Supply.ByHand:
		s.Supply = &byhand.Supply{Face: f}
	case o.Supply == nil:
		return nil, errors.Join(withHint(errors.New("no supply is named"),
			"give its port: --supply PORT", "or set it yourself: --supply-by-hand"), s.Close())
	}
	found, err := capture.NewGuard(c).Quiet(ctx, s.Supply)
	if err != nil {
		return nil, errors.Join(withHint(err, "THE OUTPUT MAY STILL BE ON: switch the supply off by hand now"), s.Close())
	}
	if found {
		f.Show(capture.Event{At: c.Now(), What: capture.Warning, Text: capture.FoundOn})
	}
	if o.Meter == nil && cfg.Meter.Typed {
		s.Meter = &byhand.Meter{Face: f, Clock: c, JackFuseAmps: cfg.Meter.FuseAmps}
	}
	if o.Relays != nil {
		s.Channels, s.Buttons = channels(b.plan, cfg)
	}
	if d, ok := s.Meter.(instruments.Describer); ok && s.Meter != nil {
		x := d.Describe()
		s.window = x.Window
		if s.MeterFuseAmps == 0 {
			s.MeterFuseAmps = x.JackFuseAmps
		}
	}
	if d, ok := s.Supply.(instruments.Describer); ok {
		s.maxA = d.Describe().MaxAmps
	}
	r := reopener{set: s, c: c, open: open, cfg: cfg, over: over, others: otherPorts}
	s.ReopenMeter, s.ReopenSupply, s.ReopenRelays = r.meter, r.supply, r.relays
	return s, nil
}

// openAwake is openBench for somebody who is there: an instrument that says
// nothing is asleep or switched off more often than not, so it is asked for and
// tried again.
func openAwake(ctx context.Context, c clock.Clock, open instruments.Opener, b build, cfg *bench.Config, over bench.Overrides, f capture.Face, g *capture.Guard) (*benchSet, error) {
	for {
		s, err := openBench(ctx, c, open, b, cfg, over, f)
		if err == nil || !errors.Is(err, instruments.ErrNoReply) {
			return s, err
		}
		if n, ok := f.(interface{ Nobody() bool }); ok && n.Nobody() {
			return nil, err
		}
		asking, done := g.Context(ctx) // a signal ends the question
		a, aerr := f.Ask(asking, capture.Question{Kind: capture.AskPlug, Text: err.Error() + ". When it is ready, it is tried again.",
			Choices: []string{"done", "stop"}})
		done()
		if aerr != nil {
			return nil, aerr
		}
		if a.Choice == "stop" {
			return nil, err
		}
	}
}

// reopener opens a lost instrument again, on its old port or on any other that
// answers with the same identity.
type reopener struct {
	set  *benchSet
	c    clock.Clock
	open instruments.Opener
	cfg  *bench.Config
	over bench.Overrides

	others func() []string // ports where it may be now
}

func (r reopener) meter(ctx context.Context) (instruments.Meter, error) {
	o, err := r.one(ctx, theMeter)
	if err != nil {
		return nil, err
	}
	return o.Meter, nil
}

func (r reopener) supply(ctx context.Context) (instruments.Supply, error) {
	o, err := r.one(ctx, theSupply)
	if err != nil {
		return nil, err
	}
	return o.Supply, nil
}

func (r reopener) relays(ctx context.Context) (instruments.Relays, error) {
	o, err := r.one(ctx, theRelays)
	if err != nil {
		return nil, err
	}
	return o.Relays, nil
}

// one tries the port it had, then those that the system lists and this bench
// doesn't use. Where the instrument said who it is, strangers are passed over.
func (r reopener) one(ctx context.Context, which string) (*bench.Opened, error) {
	was := r.set.opened[which]
	_ = was.Close() // it is gone; its port mustn't be in use by us when it comes back
	ports := []string{r.set.at[which]}
	for _, p := range r.others() {
		if !slices.ContainsFunc([]string{theSupply, theMeter, theRelays}, func(x string) bool { return r.set.at[x] == p }) {
			ports = append(ports, p)
		}
	}
	var first error
	for _, p := range ports {
		o, err := r.on(ctx, which, p, was.Identities[which])
		if err == nil {
			r.set.opened[which], r.set.at[which] = o, p
			return o, nil
		}
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		if first == nil {
			first = err
		}
	}
	return nil, first
}

// on opens an instrument on a port, if it is the one that is looked for.
func (r reopener) on(ctx context.Context, which, port, who string) (*bench.Opened, error) {
	cfg, over, _ := only(r.cfg, r.over, which)
	switch which {
	case theSupply:
		over.SupplyPort = port
	case theMeter:
		over.MeterPort = port
	default:
		over.RelaysPort = port
	}
	o, err := bench.Open(ctx, r.c, r.open, cfg, over)
	if err != nil {
		return nil, err
	}
	if is := o.Identities[which]; who != "" && is != who {
		return nil, errors.Join(fmt.Errorf("another %s answers on %s: it is %q, it was %q", which, port, is, who), o.Close())
	}
	return o, nil
}

// otherPorts lists where a replugged instrument may have gone. On Linux listing
// opens the machine's own ports, which may be in use by this test: there only
// those that come and go are looked at.
func otherPorts() []string {
	if runtime.GOOS != "linux" {
		ports, err := wire.List()
		if err != nil {
			return nil
		}
		var out []string
		for _, p := range ports {
			out = append(out, p.Name)
		}
		return out
	}
	var out []string
	for _, pattern := range []string{"/dev/ttyUSB*", "/dev/ttyACM*"} {
		m, _ := filepath.Glob(pattern) // the patterns are well formed
		out = append(out, m...)
	}
	return out
}

package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

var _ page.Bencher = (*pageWork)(nil)

// Instruments tells what is written down of the maker's bench and, where listed is
// wanted, which ports are plugged in.
func (p *pageWork) Instruments(_ context.Context, listed bool) (page.Instruments, error) {
	out := page.Instruments{Listed: listed}
	folder := ""
	if config, err := configDir(p.e); err == nil {
		folder, out.File = profileFolder(config), makersBenchFile(config)
		switch cfg, err := session.ReadBench(config); {
		case err != nil:
			out.Problem = err.Error()
		default:
			out.Written = instrumentsOf(cfg)
		}
	}
	f, broken := finderOf(p.w, folder)
	out.Broken = broken
	for _, x := range f.Profiles {
		out.Profiles = append(out.Profiles, page.Profile{Name: x.Name, Kind: string(x.Kind), About: x.About})
	}
	if !listed {
		return out, nil
	}
	var err error
	out.Ports, err = p.plugged()
	return out, err
}

// plugged lists the ports that are plugged in, and those that were named where the
// program was started.
func (p *pageWork) plugged() (out []page.Port, err error) {
	list := p.ports
	if list == nil {
		list = wire.List
	}
	ports, err := list()
	if err != nil {
		return nil, err
	}
	for _, x := range ports {
		out = append(out, page.Port{Name: cmp.Or(x.Lasting, x.Name), Hint: x.Hint})
	}
	over := p.flags.over
	for _, name := range []string{over.SupplyPort, over.MeterPort, over.RelaysPort} {
		if name != "" && !slices.ContainsFunc(out, func(x page.Port) bool { return x.Name == name }) {
			out = append(out, page.Port{Name: name, Hint: "named where the program was started"})
		}
	}
	return out, nil
}

// search looks for the instruments, tries them and writes them down. A port is one that
// is plugged in, or is on the network: nothing else is opened because a page names it.
func (p *pageWork) search(ctx context.Context, e env, o page.Order) (int, error) {
	ports, err := p.plugged()
	if err != nil {
		return exitFailure, err
	}
	v := benchVerb{ports: o.Ports, supplyByHand: o.SupplyByHand, typed: o.TypedMeter,
		looked: func() ([]wire.Listed, error) { return nil, nil }} // those of the order and no others
	for _, name := range o.Ports {
		_, network := instruments.Network(name)
		if !network && !slices.ContainsFunc(ports, func(x page.Port) bool { return x.Name == name }) {
			return exitUsage, fmt.Errorf("%s isn't plugged in: one on the network is written tcp://HOST:PORT", name)
		}
		if as := o.As[name]; as != "" {
			v.profiles = append(v.profiles, name+"="+as)
		}
	}
	folder := ""
	if config, err := configDir(e); err == nil {
		folder = profileFolder(config)
	}
	rep, err := v.search(ctx, *e.at, p.w, folder)
	if err != nil {
		return statusOf(err), err
	}
	return exitReady, e.found(rep)
}

// stands says what a build is measured with, an instrument a sentence: what was named
// where the program was started goes first.
func (p *pageWork) stands(cfg *bench.Config) []string {
	c, f := *cfg, p.flags
	for _, x := range []struct {
		given  string
		forget func()
	}{
		{f.over.SupplyPort, func() { c.Supply = bench.Supply{Port: f.over.SupplyPort} }},
		{f.over.MeterPort, func() { c.Meter = bench.Meter{Port: f.over.MeterPort} }},
		{f.over.RelaysPort, func() { c.Relays = bench.Relays{Port: f.over.RelaysPort} }},
	} {
		if x.given != "" {
			x.forget()
		}
	}
	if f.supplyByHand {
		c.Supply = bench.Supply{ByHand: true}
	}
	if f.typedMeter {
		c.Meter = bench.Meter{Typed: true}
	}
	return instrumentsOf(&c)
}

// instrumentsOf says what stands on a bench, an instrument a sentence.
func instrumentsOf(c *bench.Config) (out []string) {
	say := func(kind profile.Kind, port, identity string, more ...string) {
		if port == "" {
			return
		}
		who := strings.TrimPrefix(strings.TrimPrefix(port, "/dev/"), "serial/by-id/")
		if identity != "" {
			who = identity + ", on " + who
		}
		out = append(out, string(kind)+": "+strings.Join(append([]string{who}, more...), ", "))
	}
	if c.Supply.ByHand {
		out = append(out, "supply: you set it by hand")
	}
	var output []string
	if c.Supply.Channel > 0 {
		output = append(output, fmt.Sprintf("output %d", c.Supply.Channel))
	}
	say(profile.SupplyKind, c.Supply.Port, c.Supply.Identity, output...)
	if c.Meter.Typed {
		out = append(out, "meter: you type what it shows")
	}
	var jack []string
	if c.Meter.Jack != "" {
		jack = append(jack, c.Meter.Jack+" jack")
	}
	if c.Meter.FuseAmps > 0 {
		jack = append(jack, fmt.Sprintf("its fuse %g A", c.Meter.FuseAmps))
	}
	say(profile.MeterKind, c.Meter.Port, c.Meter.Identity, jack...)
	say(profile.RelaysKind, c.Relays.Port, c.Relays.Identity)
	return out
}

// onPageHints are the hints to an error as they are on a page: where a command says which
// flags there are, it has buttons.
func onPageHints(err error, hints []string) []string {
	switch {
	case errors.Is(err, session.ErrNoSupply):
		return []string{"\"Your bench\", at the foot of each page, finds your instruments",
			"without a port: set the supply by hand, under More of the build"}
	case errors.Is(err, session.ErrNotOpened) && !slices.Contains(hints, mayBeOn):
		return []string{"is it switched on, its cable in?",
			"\"Your bench\", at the foot of each page, finds your instruments anew: a port may have another name now"}
	}
	if errors.As(err, new(*session.NoTestError)) {
		return []string{"begin a new one"}
	}
	// what a command takes is no hint here
	return slices.DeleteFunc(slices.Clone(hints), func(h string) bool {
		return strings.HasPrefix(h, "sealworthy ") || strings.Contains(h, "--")
	})
}

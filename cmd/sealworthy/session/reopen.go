package session

import (
	"context"
	"errors"
	"path/filepath"
	"runtime"
	"slices"

	"sealworthy/capture"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/wire"
)

// reopener opens a lost instrument again, on its old port or on any other that
// answers with the same identity. The bench has it from then on: the port of the lost one is
// closed, and what comes next on that bench, a test after a question, would begin with it.
type reopener struct {
	set  *Bench
	w    World
	cfg  *bench.Config
	over bench.Overrides
}

func (r reopener) meter(ctx context.Context) (instruments.Meter, error) {
	o, err := r.one(ctx, theMeter)
	if err != nil {
		return nil, err
	}
	r.set.Meter = o.Meter
	return o.Meter, nil
}

func (r reopener) supply(ctx context.Context) (instruments.Supply, error) {
	o, err := r.one(ctx, theSupply)
	if err != nil {
		return nil, err
	}
	r.set.Supply = o.Supply
	return o.Supply, nil
}

func (r reopener) relays(ctx context.Context) (instruments.Relays, error) {
	o, err := r.one(ctx, theRelays)
	if err != nil {
		return nil, err
	}
	r.set.Relays = o.Relays
	return o.Relays, nil
}

// one tries the port it had, then those that the system lists and this bench
// doesn't use. Where the instrument said who it is, strangers are passed over.
func (r reopener) one(ctx context.Context, which string) (*bench.Opened, error) {
	was := r.set.opened[which]
	_ = was.Close() // it is gone; its port mustn't be in use by us when it comes back
	var first error
	for _, p := range r.ports(which) {
		o, err := r.on(ctx, which, p, was.Identities[which])
		if err == nil {
			r.set.opened[which], r.set.at[which] = o, p
			return o, nil
		}
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		if stranger := (*capture.StrangerError)(nil); first == nil || errors.As(err, &stranger) &&
			!errors.As(first, &stranger) {
			first = err
		}
	}
	return nil, first
}

// ports are those where an instrument may be now: the one that it had, then those that
// the system lists and this bench doesn't use.
func (r reopener) ports(which string) (out []string) {
	if p := r.set.at[which]; p != "" {
		out = append(out, p)
	}
	for _, p := range r.w.others() {
		if !slices.ContainsFunc([]string{theSupply, theMeter, theRelays},
			func(x string) bool { return r.set.at[x] == p }) {
			out = append(out, p)
		}
	}
	return out
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
	o, err := bench.Open(ctx, r.w.Clock, r.w.Open, cfg, over)
	if err != nil {
		return nil, err
	}
	if is := o.Identities[which]; who != "" && is != who {
		return nil, errors.Join(&capture.StrangerError{Which: which, Was: who, Is: is, Port: port}, o.Close())
	}
	return o, nil
}

// others are the ports where an instrument that was lost may be now.
func (w World) others() []string {
	if w.Others != nil {
		return w.Others()
	}
	return otherPorts()
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

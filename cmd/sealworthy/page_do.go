package main

import (
	"cmp"
	"context"
	"errors"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// putUp puts a simulated build's bench up, in real time.
func (s *simulatedBuild) putUp(ctx context.Context, b build, stage string) (*rig.Bench, world, error) {
	cfg, err := b.readBench()
	if err != nil {
		return nil, world{}, err
	}
	c := clock.Wall{}
	o := load.Options{Loose: stage == compare.Loose}
	r, err := putUp(ctx, c, b.plan, cfg, s.faults, s.seed, o, true)
	if err != nil {
		return nil, world{}, err
	}
	s.mu.Lock()
	s.bench = &atRig{Bench: r, plan: b.plan, faults: s.faults, seed: s.seed, o: o}
	s.mu.Unlock()
	return r, world{World: session.World{Clock: c, Open: r.Opener()}, terminal: func(any) bool { return true }}, nil
}

// portsOf names the ports of a build's bench, or of the maker's, where no flag does: an
// order is to measure, never to tell what was measured last.
func portsOf(e env, f *benchFlags, b build) error {
	cfg, err := benchOf(e, b.dir, f.over)
	if err != nil {
		return err
	}
	f.supplyByHand = f.supplyByHand || cfg.Supply.ByHand && f.over.SupplyPort == ""
	f.typedMeter = f.typedMeter || cfg.Meter.Typed && f.over.MeterPort == ""
	f.over.SupplyPort = cmp.Or(f.over.SupplyPort, cfg.Supply.Port)
	if f.supplyByHand {
		f.over.SupplyPort = ""
	}
	if f.typedMeter {
		f.over.MeterPort = ""
	}
	return nil
}

// onPage runs the power-on test and tells the findings, of a test that was stopped, too.
func (m *measureFlags) onPage(ctx context.Context, e env, w world, b build) (int, error) {
	_, err := m.test(ctx, e, w, b)
	return m.toldAfter(e, b, err)
}

// toldAfter tells the findings, whatever ended the test.
func (m *measureFlags) toldAfter(e env, b build, ended error) (int, error) {
	leads, err := b.leads()
	if err != nil {
		return exitFailure, errors.Join(ended, err)
	}
	files, _ := filesOf(e, b) // before they are read: what changes meanwhile isn't taken for what was judged
	cs, _, err := b.findings(e, m.closure, leads)
	if err == nil {
		err = e.found(whatIsMeasured{Closures: cs, files: files})
	}
	if ended != nil || err != nil {
		return exitFailure, errors.Join(ended, err)
	}
	return exitOf(cs), nil
}

// diagnoseOnPage measures what tells most until nothing is in doubt, and says what is
// likely then.
func diagnoseOnPage(ctx context.Context, e env, w world, b build, m measureFlags) (int, error) {
	n := nextRun{e: e, w: w, b: b, m: m, closure: m.closure, do: true}
	_, ended := n.measure(ctx)
	if ended == nil || errors.Is(ended, capture.ErrStopped) {
		ds, err := n.doubts()
		if err != nil {
			return exitFailure, errors.Join(ended, err)
		}
		sayDoubts(e.stdout, ink{}, ds)
	}
	return m.toldAfter(e, b, ended)
}

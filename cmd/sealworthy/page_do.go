package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// Do carries out an order.
func (p *pageWork) Do(ctx context.Context, o page.Order, d *session.Desk, g *capture.Guard) page.Result {
	var text bytes.Buffer
	e := p.quiet()
	beside, done := p.under(o.Build)
	defer func() {
		done()
		if b, err := p.open(o.Build); err == nil { // the build's page is looked at next
			p.ahead([]string{b.dir})
		}
	}()
	e.at, e.stdout = &seat{desk: d, guard: g, beside: beside}, flowing(&text)
	status, err := p.do(ctx, e, o)
	r := page.Result{Status: status, Text: text.String(), Err: err}
	if err != nil {
		r.Err = explained(err)
		r.Status = statusOf(err)
		var h *hinted
		if errors.As(r.Err, &h) {
			r.Hints = onPageHints(r.Err, h.hints)
		}
	}
	return r
}

func (p *pageWork) do(ctx context.Context, e env, o page.Order) (int, error) {
	if o.Verb == page.Bench {
		return p.search(ctx, e, o)
	}
	b, err := p.open(o.Build)
	if err != nil {
		return exitFailure, err
	}
	m := measureFlags{benchFlags: p.flags, closure: o.Closure, redo: o.Redo,
		noSweep: o.Verb == page.Diagnose || o.Short}
	m.prove = !o.NoProof
	m.stage, m.resume, m.handsFree = o.Stage, o.Resume, o.HandsFree
	m.supplyByHand, m.typedMeter = m.supplyByHand || o.SupplyByHand, m.typedMeter || o.TypedMeter
	w := p.w
	if s := p.simulated(o.Build); s != nil {
		// it answers until it was switched off
		bench, simulated, err := s.putUp(context.WithoutCancel(ctx), b, o.Stage)
		if err != nil {
			return exitFailure, err
		}
		defer bench.Close()
		w, m.prove = simulated, false
		ports := bench.Ports()
		m.over.SupplyPort, m.over.MeterPort, m.over.RelaysPort = ports.Supply, ports.Meter, ports.Relays
		if o.Hands {
			m.over.RelaysPort = ""
		}
	}
	if err := portsOf(e, &m.benchFlags, b); err != nil {
		return exitFailure, err
	}
	switch o.Verb {
	case page.Measure:
		return m.onPage(ctx, e, w, b)
	case page.Diagnose:
		return diagnoseOnPage(ctx, e, w, b, m)
	case page.Soak:
		a := atJack{benchFlags: m.benchFlags, world: w}
		return a.soak(ctx, e, b.dir, o.Stage, time.Duration(o.Hours*float64(time.Hour)), nil)
	case page.Keep:
		a := atJack{benchFlags: m.benchFlags, world: w, warm: p.warm, trace: p.trace, adapter: o.Adapter}
		return a.keep(ctx, e, b.dir, o.Stage, compare.WholeOptions{AllPaces: true}, nil)
	case page.Return:
		a := atJack{benchFlags: m.benchFlags, world: w, warm: p.warm, trace: p.trace}
		return a.returned(ctx, e, b.dir, "", compare.WholeOptions{AllPaces: true}, session.ReturnAnswers{}, nil)
	}
	return exitUsage, fmt.Errorf("nothing of the kind %q can be done from the page", o.Verb)
}

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

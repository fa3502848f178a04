package capture

import (
	"context"
	"fmt"
	"time"
)

// sweepInrush is how long constant current is no trip after a voltage was set:
// capacitors take up or give back their charge (common practice, no source).
const sweepInrush = 100 * time.Millisecond

// sweepArrive is how long a supply may take on its way down, whose output capacitor
// the feed alone discharges (common practice, no source).
const sweepArrive = time.Second

// sweep walks the voltages of a step, each with its own limit set before it
// counts. What is set or read by hand has no sweep.
func (e *engine) sweep(ctx context.Context, s Step) error {
	if len(s.Sweep) == 0 {
		return nil
	}
	if byHand(e.b.Supply) || byHand(e.b.Meter) {
		e.warn("no sweep: its many voltages need a supply and a meter on a port")
		return nil
	}
	e.sweeping = true
	defer func() { e.sweeping = false }()
	for _, p := range s.Sweep {
		if p.Volts > s.Volts+1e-9 || p.LimitA <= 0 {
			return &brokenError{which: "step",
				err: fmt.Errorf("has a sweep point of %.2f V, limit %s: above its own %.2f V, or without a limit",
					p.Volts, amps(p.LimitA), s.Volts)}
		}
		if err := e.set(ctx, RampPoint{Volts: p.Volts, LimitA: p.LimitA, MaxA: p.MaxA}); err != nil {
			return err
		}
		now := e.b.Clock.Now()
		e.out.inrushUntil = now.Add(max(sweepInrush, min(p.Settle, s.Inrush)))
		e.rec.Points = append(e.rec.Points, PointAt{Volts: p.Volts, At: now})
		if err := e.mark(Mark{Kind: MarkPoint, At: now}); err != nil {
			return err
		}
		e.show(Event{What: RampStep})
		if err := e.wait(ctx, now.Add(p.Settle), Settling); err != nil {
			return err
		}
		if err := e.arrived(ctx, p.Volts, sweepArrive, Settling); err != nil {
			return err
		}
		if err := e.sample(ctx, s, sampling{span: p.For}); err != nil {
			return err
		}
	}
	return nil
}

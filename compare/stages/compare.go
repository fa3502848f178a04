package stages

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// Compare sets a whole model against the stage before. The error says why the
// two can't be set side by side at all.
func (c *Comparer) Compare(before, now Reading) (Change, error) {
	out := Change{Stage: now.Stage, Before: before.Stage, Jack: now.Jack, Pace: now.Pace, At: now.At,
		BeforeAt:  before.At,
		Simulated: before.Simulated || now.Simulated}
	if before.Jack != now.Jack || before.Pace != now.Pace || !slices.Equal(before.On, now.On) {
		return out, fmt.Errorf("%q at %q and %q at %q can't be compared: not the same jack, pace or feeds",
			before.Jack, before.Pace, now.Jack, now.Pace)
	}
	m, err := c.newModel(now)
	if err != nil {
		return out, err
	}
	p := pair{c: c, m: m, before: before, now: now}
	if err := p.prepare(); err != nil {
		return out, err
	}
	parts, err := p.parts()
	if err != nil {
		return out, err
	}
	out.Notes = p.notes()
	for _, x := range parts {
		out.Parts = append(out.Parts, x.Part)
	}
	p.verdict(&out, parts)
	return out, nil
}

// pair is two readings under comparison.
type pair struct {
	c           *Comparer
	m           *model
	before, now Reading
	a, b        blink.Parted // of before and now
	// What the plan draws under the conditions of each, base and steps, and by
	// how much per unit of what isn't known.
	wantA, wantB               []float64
	perVolt, perOhm, perKelvin []float64
	atVolts, atOhms, atKelvin  []float64 // wantA moved to now's volts, ohms, room one at a time, less wantA
}

// Steps of the sensitivities.
const (
	stepV, stepOhm, stepK = 0.02, 0.02, 1.0
)

// off is a scene so many volts, ohms and kelvin away.
func off(s scene.Scene, volts, ohms, kelvin float64) scene.Scene {
	s.Volts = scene.Is(*s.Volts + volts)
	r := s.RoomOr()
	r.C += kelvin
	s.Room = &r
	s.LeadsOhm += ohms
	return s
}

func (p *pair) prepare() error {
	before, now := p.before.Scene, p.now.Scene
	for _, s := range []*scene.Scene{&before, &now} {
		if s.Volts == nil {
			j, _ := p.m.p.Jack(p.m.jack)
			s.Volts = scene.Is(j.Volts)
		}
	}
	// A room that is known at one stage only is taken for the other as well: the
	// doubt says so.
	switch {
	case before.Room == nil:
		before.Room = now.Room
	case now.Room == nil:
		now.Room = before.Room
	}
	var err error
	if p.wantA, err = p.m.draws(before); err != nil {
		return err
	}
	if p.wantB, err = p.m.draws(now); err != nil {
		return err
	}
	volts, ohms, room := before, before, before
	volts.Volts, room.Room = now.Volts, now.Room
	ohms.BurdenOhm, ohms.LeadsOhm = now.BurdenOhm, now.LeadsOhm
	for _, x := range []struct {
		into *[]float64
		in   scene.Scene
		less []float64
		per  float64
	}{
		{&p.perVolt, off(now, stepV, 0, 0), p.wantB, stepV}, {&p.perOhm, off(now, 0, stepOhm, 0), p.wantB, stepOhm},
		{&p.perKelvin, off(now, 0, 0, stepK), p.wantB, stepK},
		{&p.atVolts, volts, p.wantA, 1}, {&p.atOhms, ohms, p.wantA, 1}, {&p.atKelvin, room, p.wantA, 1},
	} {
		y, err := p.m.draws(x.in)
		if err != nil {
			return err
		}
		for i := range y {
			y[i] = (y[i] - x.less[i]) / x.per
		}
		*x.into = y
	}
	if p.before.Sum != nil {
		p.a = *p.before.Sum
	} else if p.a, err = p.m.apart(p.before, p.wantA, nil); err != nil {
		return fmt.Errorf("%s: %w", p.before.Stage, err)
	}
	if p.b, err = p.m.apart(p.now, p.wantB, &p.a); err != nil {
		return fmt.Errorf("%s: %w", p.now.Stage, err)
	}
	return nil
}

// judged is a part with what could have changed it.
type judged struct {
	Part
	index      int // of the part in the model
	candidates []candidate
	scale      float64 // of the model's currents to those measured before
	state      string  // what an output does now that it didn't: "stays lit"
}

func (p *pair) parts() ([]judged, error) {
	if !p.a.Known || !p.b.Known {
		x, err := p.mean()
		return []judged{x}, err
	}
	base, err := p.part(0, "all that is always lit", nil, p.a.BaseA, p.a.BaseU, p.b.BaseA, p.b.BaseU)
	if err != nil {
		return nil, err
	}
	out := []judged{base}
	then, now := p.m.blinkers(p.a), p.m.blinkers(p.b)
	p.litAlways(&out[0], then, now)
	for k, o := range p.m.outputs {
		x, err := p.part(k+1, o.name(p.m.p), o.groups, then[k].StepA, then[k].StepU, now[k].StepA, now[k].StepU)
		if err != nil {
			return nil, err
		}
		x.states(then[k], now[k])
		out = append(out, x)
	}
	return out, nil
}

// gone tells whether an output ran and surely doesn't any more.
func gone(then, now blink.Blinking) bool {
	return then.State == blink.Running && (now.State == blink.NotRunning || placed(now))
}

// litAlways weighs the outputs that stay lit against what is always lit: one
// that stays lit is in there now, and explains as much as its step was.
func (p *pair) litAlways(base *judged, then, now []blink.Blinking) {
	sum, u := 0.0, 0.0
	for k := range now {
		if !gone(then[k], now[k]) {
			continue
		}
		if !placed(now[k]) && base.DeltaA > then[k].StepA/2 && base.DeltaA > p.c.rule.K*base.U {
			now[k].State = blink.StaysLit // by the draw that came on top, even if it isn't what it was
		}
		if now[k].State == blink.StaysLit {
			sum += then[k].StepA
			u = math.Hypot(u, boardRel*then[k].StepA)
		}
	}
	if sum == 0 {
		return
	}
	base.ExpectedA += sum
	base.DeltaA -= sum
	base.Doubts = append(base.Doubts, Doubt{doubtBoard, u})
	base.U = math.Hypot(base.U, u)
	base.decide(p.c.rule)
}

// placed tells whether it is known of an output that doesn't run what it does.
func placed(b blink.Blinking) bool { return b.State == blink.StaysLit || b.State == blink.StaysDark }

// states lets what an output does decide over how much it draws.
func (x *judged) states(then, now blink.Blinking) {
	switch {
	case gone(then, now):
		x.Verdict = Changed
		x.state = "doesn't blink any more"
		if placed(now) {
			x.state = string(now.State)
		}
	case placed(then) && now.State == blink.Running:
		x.Verdict, x.state = Changed, "blinks now, which it didn't"
	case x.Verdict == Unchanged && (then.State != blink.Running || now.State != blink.Running):
		x.Verdict = CantTell
	}
}

// mean compares the draw over whole periods, where outputs take turns without a
// dark moment.
func (p *pair) mean() (judged, error) {
	x := judged{Part: Part{What: "the whole over full periods"}}
	wa, wb := p.blend(p.wantA), p.blend(p.wantB)
	x.fill(p, p.a.MeanA, p.a.MeanU, p.b.MeanA, p.b.MeanU, wa, wb, func(y []float64) float64 { return p.blend(y) },
		true)
	for part := range len(p.m.outputs) + 1 {
		cs, err := p.m.candidates(p.now.Scene, part)
		if err != nil {
			return x, err
		}
		for _, c := range cs {
			if part > 0 {
				c.deltaA *= p.m.outputs[part-1].pace.LitShare()
			}
			x.candidates = append(x.candidates, c)
		}
	}
	x.SmallestA = x.scale * leastOf(x.candidates)
	x.decide(p.c.rule)
	return x, nil
}

// blend is base and steps by their planned duty.
func (p *pair) blend(y []float64) float64 {
	sum := y[0]
	for k, o := range p.m.outputs {
		sum += o.pace.LitShare() * y[k+1]
	}
	return sum
}

// part compares one part of the draw.
func (p *pair) part(index int, what string, groups []string, beforeA, beforeU, nowA, nowU float64) (judged, error) {
	x := judged{Part: Part{What: what, Groups: groups}, index: index}
	x.fill(p, beforeA, beforeU, nowA, nowU, p.wantA[index], p.wantB[index],
		func(y []float64) float64 { return y[index] }, index == 0)
	cs, err := p.m.candidates(p.now.Scene, index)
	if err != nil {
		return x, err
	}
	x.candidates = cs
	x.SmallestA = x.scale * leastOf(cs)
	x.decide(p.c.rule)
	return x, nil
}

// fill sets the figures of a part. of picks the part out of base and steps.
func (x *judged) fill(p *pair, beforeA, beforeU, nowA, nowU, wantA, wantB float64, of func([]float64) float64,
	base bool) {
	x.BeforeA, x.BeforeU, x.NowA, x.NowU = beforeA, beforeU, nowA, nowU
	x.scale = 1
	if wantA > 1e-6 && beforeA > 0 {
		x.scale = beforeA / wantA
	}
	x.ExpectedA = x.scale * wantB
	if !(wantA > 1e-6) {
		x.ExpectedA = beforeA
	}
	x.DeltaA = nowA - x.ExpectedA
	x.Doubts = p.doubts(x.Part, x.scale, of, base)
	sum := 0.0
	for _, d := range x.Doubts {
		sum += d.U * d.U
	}
	x.U = math.Sqrt(sum)
	x.SeenFromA = (p.c.rule.K + p.c.rule.Guard) * x.U
}

// decide applies the rule.
func (x *judged) decide(r rule.Rule) {
	smallest := x.SmallestA
	if smallest == 0 {
		smallest = math.Inf(1) // without a known branch nothing is excluded by name; a note says so
	}
	switch r.Decide(x.DeltaA, 0, x.U, smallest) {
	case rule.FailLow, rule.FailHigh:
		x.Verdict = Changed
	case rule.Pass:
		x.Verdict = Unchanged
	default:
		x.Verdict = CantTell
	}
}

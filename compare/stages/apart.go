package stages

import (
	"errors"
	"math"
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// What a base is uncertain by that is held against one read, as shares of it.
const (
	planRelU  = 0.05  // the plan's
	builtRelU = 0.005 // as built, on another day and another bench
)

// Apart takes the trace of a reading apart. built is how the same model was
// when it was known to be good; nil takes the plan's word for it, which tells
// an output that stays lit from one that stays dark less surely.
func (c *Comparer) Apart(x Reading, built *blink.Parted) (blink.Parted, error) {
	m, err := c.newModel(x)
	if err != nil {
		return blink.Parted{}, err
	}
	want, err := m.draws(x.Scene)
	if err != nil {
		return blink.Parted{}, err
	}
	return m.apart(x, want, built)
}

// apart does so where the plan draws want: base, then the step of each output.
func (m *model) apart(x Reading, want []float64, built *blink.Parted) (blink.Parted, error) {
	want = slices.Clone(want)
	base, baseU := want[0], planRelU*want[0]
	if built != nil {
		for k, b := range m.blinkers(*built) {
			if b.State == blink.Running {
				want[k+1] = b.StepA
			}
		}
		if built.Known {
			base, baseU = built.BaseA, math.Hypot(built.BaseU, builtRelU*built.BaseA)
		}
	}
	p := blink.Joint(x.Trace, blink.Known{WindowS: x.WindowS}, m.clocks(want[1:]))
	if !p.Usable {
		return p, errors.New(p.Why)
	}
	p.Settle(base, baseU)
	return p, nil
}

// clocks lists what blinks: a board whose outputs run together or in turn, or
// one output that runs free, each with the step to be expected of it.
func (m *model) clocks(steps []float64) []blink.Clock {
	var out []blink.Clock
	last := -1
	for k, o := range m.outputs {
		b := m.p.Boards[o.board]
		if o.board != last || b.Run == plan.Free {
			out = append(out, blink.Clock{Name: b.Name, PeriodS: o.pace.PeriodS, PeriodRel: o.pace.PeriodRelTol,
				DutyAbs: o.pace.DutyTol})
			last = o.board
		}
		c := &out[len(out)-1]
		c.Outputs = append(c.Outputs, blink.Blinker{Name: o.name(m.p), Spans: b.Spans(o.pace, o.number(m.p)),
			Amps: math.Max(0, steps[k])})
	}
	return out
}

// blinkers of a trace, in the order of the model's outputs.
func (m *model) blinkers(p blink.Parted) []blink.Blinking {
	out := make([]blink.Blinking, len(m.outputs))
	for k, o := range m.outputs {
		for _, c := range p.Beats {
			for _, b := range c.Outputs {
				if c.Name == m.p.Boards[o.board].Name && b.Name == o.name(m.p) {
					out[k] = b
				}
			}
		}
	}
	return out
}

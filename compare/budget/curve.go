package budget

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// curveTrials: the most of 200 trials lies near the 99.5 % point, which leaves
// one healthy feed in 200 above it.
const curveTrials = 200

// Curve gives the draw of one feed (a group on a joint, a board, or a group on
// a board for its board) over voltages at the source, burden and leads in. It
// is what the ramp of the power-on test compares with: HighA is the most that a
// healthy feed draws there, whatever the law of its LEDs below their service
// current. The budget must come from Of, not from a file. It
// changes nothing in the budget and may be called from several goroutines.
func (b *Budget) Curve(feed string, volts ...float64) ([]RampPoint, error) {
	if b.model == nil {
		return nil, errors.New("a budget read from a file has no circuit: make it anew from the plan")
	}
	fd, ok := b.FeedNamed(feed)
	if !ok {
		return nil, fmt.Errorf("no feed or group is called %q in this budget", feed)
	}
	for _, v := range volts {
		if !(v >= 0 && v <= 60) {
			return nil, fmt.Errorf("%g V is no voltage for a ramp: expected 0 to 60 V", v)
		}
	}
	for _, a := range b.model.sides {
		for i := range a.feeds {
			if a.side.w.Terminals[a.feeds[i].terminal].Name == fd.Feed {
				return b.model.curve(a, &a.feeds[i], fd.Feed, volts)
			}
		}
	}
	return nil, fmt.Errorf("no feed or group is called %q in this budget", feed)
}

// again is a copy of a setting that may be solved without touching the budget.
func (t *setting) again() *setting {
	c := &setting{site: t.clone(), src: t.src, leads: t.leads, metered: t.metered, applied: slices.Clone(t.applied),
		reads: t.reads}
	c.dv, c.dr = t.dv, t.dr
	return c
}

func (m *model) curve(a *alone, f *feedPlace, name string, volts []float64) ([]RampPoint, error) {
	s := a.side
	low, high := -1, -1
	for k, l := range f.levels {
		if !l.usual {
			continue
		}
		x := a.drawn.draws[f.outs[k]].NominalA
		if low < 0 || x < a.drawn.draws[f.outs[low]].NominalA {
			low = k
		}
		if high < 0 || x > a.drawn.draws[f.outs[high]].NominalA {
			high = k
		}
	}
	points := make([]RampPoint, len(volts))
	dev := make([]float64, s.law.inputs)
	smp := newSampler(s.law, m.seed)
	for n, k := range []int{high, low} {
		if n == 1 && low == high {
			break // one level: it was walked already
		}
		t := f.settings[k].again()
		y, most := make([][]float64, len(volts)), make([]int, len(volts)) // the trial that draws most
		for trial := -1; trial < curveTrials; trial++ {
			clear(dev)
			if trial >= 0 {
				smp.draw(trial, dev)
			}
			for i, v := range volts {
				t.src.EmfV, t.solved = v, false
				if err := t.solve(s, dev); err != nil {
					return nil, fmt.Errorf("%s at %g V: %w", name, v, err)
				}
				x := t.w.JackAmps(t.w.Point)
				if trial >= 0 {
					if y[i] = append(y[i], x); x > y[i][most[i]] {
						most[i] = trial
					}
				} else if k == high {
					points[i] = RampPoint{Volts: v, NominalA: x, LowA: x, HighA: x}
				}
			}
		}
		for i := range points {
			p := &points[i]
			for _, x := range y[i] {
				p.LowA = math.Min(p.LowA, x)
				if k == high {
					p.HighA = math.Max(p.HighA, x)
				}
			}
			if k == high {
				p.UA = stat.StdDev(y[i], nil)
			}
		}
		if k == high {
			if err := m.loosest(s, f.settings[k], smp, most, points); err != nil {
				return nil, fmt.Errorf("%s: %w", name, err)
			}
		}
	}
	return points, nil
}

// loosest raises HighA to what the trials that draw most would draw if the law of
// their LEDs were the loosest one.
func (m *model) loosest(s *side, at *setting, smp *sampler, most []int, points []RampPoint) error {
	t := at.again()
	dev := make([]float64, s.law.inputs)
	if t.solved = false; t.solve(s, dev) != nil {
		return nil // it has no service point to keep: then the plan's law stands
	}
	t.loosen()
	for i := range points {
		smp.draw(most[i], dev)
		t.src.EmfV, t.solved = points[i].Volts, false
		if err := t.solve(s, dev); err != nil {
			return err
		}
		points[i].HighA = math.Max(points[i].HighA, t.w.JackAmps(t.w.Point))
	}
	return nil
}

package stages

import (
	"fmt"
	"math"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/blink"
)

// SumOf takes together what the feeds of a model drew one by one at stage
// fitted, as the whole would draw it under the conditions of like: for each feed
// the plan's current in the whole, times measured over planned of that feed
// alone. A single feed is read cold, seconds after it was switched on: against a
// warm whole that is most of the doubt, and a small branch can hide in it. The
// error names the feed that wasn't measured.
func (c *Comparer) SumOf(steps []capture.StepRecord, l compare.Leads, like Reading) (Reading, error) {
	m, err := c.newModel(like)
	if err != nil {
		return Reading{}, err
	}
	w, err := m.at(like.Scene)
	if err != nil {
		return Reading{}, err
	}
	if _, err := draw(w, like.Scene); err != nil {
		return Reading{}, err
	}
	share := make([]float64, len(w.Terminals))
	for t := range w.Terminals {
		share[t] = w.FeedAmps(w.Point, t)
	}
	want, err := m.draws(like.Scene)
	if err != nil {
		return Reading{}, err
	}
	s := adder{c: c, m: m, want: want, steps: steps, l: l, sum: blink.Parted{Known: true}}
	s.out = Reading{Stage: compare.Fitted, Jack: like.Jack, Pace: like.Pace, Scene: like.Scene,
		VoltsRead: like.VoltsRead, OnS: math.Inf(1), SupplyIs: like.SupplyIs}
	s.out.Room = nil
	for t, x := range w.Terminals {
		if !here(w, x.Name) || !m.isOn(x.Name) {
			continue
		}
		if err := s.feed(x.Name, x.Board, share[t]); err != nil {
			return Reading{}, err
		}
	}
	s.sum.MeanU = s.sum.BaseU
	s.out.Sum = &s.sum
	return s.out, nil
}

// adder gathers the feeds of a sum.
type adder struct {
	c     *Comparer
	m     *model
	want  []float64
	steps []capture.StepRecord
	l     compare.Leads
	out   Reading
	sum   blink.Parted
	n     int
}

// feed adds one feed: shareA is what it has in the whole by the plan.
func (s *adder) feed(name string, board int, shareA float64) error {
	pace := ""
	if board >= 0 {
		b := s.m.p.Boards[board]
		if len(b.Paces) > 0 {
			pace = b.Paces[0].Name
		}
		if p := paceOf(s.out.Pace, b.Name); p != "" {
			pace = p
		}
	}
	r, ok := s.latest(name, pace)
	if !ok {
		return fmt.Errorf("%q was not measured alone at stage fitted", name)
	}
	x, err := ReadingOf(r, s.l)
	if err != nil {
		return err
	}
	m, err := s.c.newModel(x)
	if err != nil {
		return err
	}
	want, err := m.draws(x.Scene)
	if err != nil {
		return err
	}
	if !(want[0] > 0) {
		return fmt.Errorf("the plan expects nothing of %q: it can't be scaled", name)
	}
	a, err := m.apart(x, want, nil)
	if err != nil {
		return err
	}
	if !a.Known {
		return fmt.Errorf("%q: its outputs take turns without a dark moment", name)
	}
	ratio := a.BaseA / want[0]
	s.sum.BaseA += shareA * ratio
	s.sum.BaseU = math.Hypot(s.sum.BaseU, shareA*a.BaseU/want[0])
	s.sum.MeanA += shareA * ratio
	s.out.HalfWidthA += shareA / want[0] * x.HalfWidthA
	s.blinks(a, m, want)
	s.seen(x)
	return nil
}

// blinks adds the outputs of a board.
func (s *adder) blinks(a blink.Parted, m *model, want []float64) {
	for _, c := range a.Beats {
		for i := range c.Outputs {
			b := &c.Outputs[i]
			for k, o := range m.outputs {
				for q, mine := range s.m.outputs {
					if b.Name == o.name(m.p) && mine.board == o.board && mine.ats[0] == o.ats[0] && want[k+1] > 0 {
						scale := s.want[q+1] / want[k+1]
						b.StepA, b.StepU, b.BuiltA = scale*b.StepA, scale*b.StepU, s.want[q+1]
						s.sum.MeanA += b.Duty * b.StepA
					}
				}
			}
		}
		s.sum.Beats = append(s.sum.Beats, c)
	}
}

// seen takes over what the doubts need to know of a reading.
func (s *adder) seen(x Reading) {
	if s.n == 0 {
		s.out.MeterIs, s.out.MeterName, s.out.Room, s.out.Range = x.MeterIs, x.MeterName, x.Room, x.Range
	}
	if x.MeterIs.Identity != s.out.MeterIs.Identity {
		s.out.MeterIs.Identity = "" // several: none that a later one could be the same as
	}
	if x.Range != s.out.Range {
		s.out.Range = "several"
	}
	if x.Room == nil {
		s.out.Room = nil
	}
	s.out.OnS = math.Min(s.out.OnS, x.OnS)
	s.out.WarmS = s.out.OnS
	if x.At.After(s.out.At) {
		s.out.At = x.At
	}
	s.out.Simulated = s.out.Simulated || x.Simulated
	s.n++
}

// latest is the last measurement of a feed alone.
func (s *adder) latest(feed, pace string) (capture.StepRecord, bool) {
	for i := len(s.steps) - 1; i >= 0; i-- {
		r := s.steps[i]
		if r.Step.Kind == capture.Power && r.Step.Way == capture.Alone && r.Step.Feed == feed && r.Step.Pace == pace &&
			r.Stage == compare.Fitted && r.Outcome == capture.Measured && len(r.Step.Outputs) == 0 {
			return r, true
		}
	}
	return capture.StepRecord{}, false
}

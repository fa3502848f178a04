package compare

import (
	"math"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/budget"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Guide hands the steps of a test to the engine and answers what it asks.
type Guide struct {
	judge  *Judge
	budget *budget.Budget
	steps  []capture.Step
	byHand bool
	nobody bool
	heard  heard
	drawn  map[atVolts]drawn // what was worked out already
}

// atVolts is a feed at a voltage, drawn what it draws there.
type (
	atVolts struct {
		feed  string
		volts float64
	}
	drawn struct {
		fit capture.Fit
		u   float64
		ok  bool
	}
)

var _ capture.Guide = (*Guide)(nil)

// NewGuide makes a guide through steps. b must hold under the conditions of
// the test; byHand is true where the maker moves a clip between steps.
func NewGuide(j *Judge, b *budget.Budget, steps []capture.Step, byHand bool) *Guide {
	return &Guide{judge: j, budget: b, steps: steps, byHand: byHand, heard: newHeard(History{})}
}

// Unattended says that nobody is there: looks and wiggles will be left out.
func (g *Guide) Unattended() *Guide {
	g.nobody = true
	return g
}

// Next gives the first step that isn't done yet. A look that was made of some of
// its groups is made of the others.
func (g *Guide) Next(done []capture.StepRecord) (capture.Step, bool) {
	for _, s := range g.steps {
		if isDone(s, done) {
			left := []string(nil)
			if s.Kind == capture.Look {
				left = unseen(s, done)
			}
			if len(left) == 0 {
				continue
			}
			s = lookAgain(s, left)
		}
		if s, any := g.withoutStopped(s, done); any {
			return s, true
		}
	}
	return capture.Step{}, false
}

// withoutStopped leaves out of what is powered together each feed that was stopped when it was
// powered by itself, until it was measured without: what is shorted there, or without its
// resistor, would bear the current of all the others. False where nothing is left.
func (g *Guide) withoutStopped(s capture.Step, done []capture.StepRecord) (capture.Step, bool) {
	if s.Kind == capture.Power || s.Way != capture.Alone {
		return s, true
	}
	stopped := map[string]bool{}
	for _, r := range done {
		if r.Step.Kind == capture.Power && r.Step.Way == capture.Alone {
			stopped[r.Step.Feed] = r.Outcome == capture.Tripped
		}
	}
	var off, left []string
	for _, t := range s.On {
		if stopped[t] {
			off = append(off, t)
			continue
		}
		left = append(left, s.GroupsBy[t]...)
	}
	if len(off) == 0 {
		return s, true
	}
	s = lookAgain(s, slices.DeleteFunc(slices.Clone(s.Groups), func(x string) bool { return !slices.Contains(left, x) }))
	if g.byHand {
		s.Ask = words.ClipWithout(s.On, off)
	}
	return s, len(s.On) > 0
}

// unseen are the groups of a look that no record of it is of any more.
func unseen(s capture.Step, done []capture.StepRecord) []string {
	return slices.DeleteFunc(slices.Clone(s.Groups), func(g string) bool {
		return slices.ContainsFunc(done, func(r capture.StepRecord) bool {
			return r.Step.ID == s.ID && slices.Contains(r.Step.Groups, g)
		})
	})
}

// lookAgain is a look at some of its groups, or their wires moved: only what they hang on is lit.
func lookAgain(s capture.Step, groups []string) capture.Step {
	s.Groups = groups
	if s.GroupsBy != nil && s.Way != capture.Joined {
		s.On = slices.DeleteFunc(slices.Clone(s.On), func(t string) bool {
			return !slices.ContainsFunc(s.GroupsBy[t], func(g string) bool { return slices.Contains(groups, g) })
		})
	}
	s.See = nil
	for _, t := range s.On {
		for i, g := range s.GroupsBy[t] {
			if slices.Contains(groups, g) && i < len(s.SeeBy[t]) {
				s.See = append(s.See, s.SeeBy[t][i])
			}
		}
	}
	return s
}

// Understand implements capture.Looker.
func (g *Guide) Understand(groups []string, typed string) capture.Understood {
	var lit []plan.Group
	for _, x := range g.judge.Expected.Plan.Groups {
		if slices.Contains(groups, x.Name) {
			lit = append(lit, x)
		}
	}
	u := look.Read(typed, lit)
	return capture.Understood{Seen: Kept(u.Seen), Whole: u.Whole, Text: u.Text}
}

// Kept is what was seen as the record keeps it.
func Kept(seen []look.GroupSeen) []capture.GroupSeen {
	var out []capture.GroupSeen
	for _, x := range seen {
		out = append(out, capture.GroupSeen(x))
	}
	return out
}

var _ capture.Looker = (*Guide)(nil)

func isDone(s capture.Step, done []capture.StepRecord) bool {
	return slices.ContainsFunc(done, func(r capture.StepRecord) bool { return r.Step.ID == s.ID })
}

// clipTime is what a maker takes to move a clip or to look (common practice,
// no source).
const clipTime = 15 * time.Second

// hands is how often the maker moves a clip, looks or moves wires in a step. By hand all of
// a closure is on one clip to have its wires moved, and still is when it's looked at then;
// else each feed is lit by itself.
func (g *Guide) hands(s capture.Step) int {
	moved := slices.ContainsFunc(g.steps, func(x capture.Step) bool {
		return x.Kind == capture.Wiggle && slices.Equal(x.On, s.On)
	})
	switch {
	case s.Kind == capture.Power && !g.byHand:
		return 0
	case s.Kind == capture.Look && g.byHand && s.Way != capture.Joined && !moved:
		return max(1, len(s.On))
	}
	return 1
}

// Remaining estimates how long what isn't done will take.
func (g *Guide) Remaining(done []capture.StepRecord) time.Duration {
	var d time.Duration
	for _, s := range g.steps {
		if !isDone(s, done) {
			if g.nobody && (s.Kind == capture.Look || s.Kind == capture.Wiggle) {
				continue
			}
			d += Lasts(s)
			d += time.Duration(g.hands(s)) * clipTime
		}
	}
	return d.Round(time.Second)
}

// rampPause is about what one point of a ramp takes, beside a reading.
const rampPause = 150 * time.Millisecond

// sweepPause is about what setting a voltage and reading it back takes.
const sweepPause = 150 * time.Millisecond

// Lasts estimates how long a step takes, without what the maker does by hand. Where
// it may end sooner, half of its reading counts.
func Lasts(s capture.Step) time.Duration {
	read := s.For
	if s.Enough.Readings > 0 {
		read /= 2
	}
	d := time.Duration(s.RampPoints())*(rampPause+s.Settle.Window) + s.Settle.Min + s.Settle.Window + read
	for _, p := range s.Sweep {
		d += sweepPause + p.Settle + p.For
	}
	return d
}

// Recognise implements capture.Guide.
func (g *Guide) Recognise(s capture.Step, amps, halfWidthA float64) (own capture.Fit, others []capture.Fit) {
	noise := g.judge.Rule.K * halfWidthA / math.Sqrt(3)
	if math.Abs(amps) <= noise+nothingA {
		return own, nil // no feed is known by its drawing nothing
	}
	own, u, ok := g.draws(s.Feed, s.Volts)
	fits := func(f capture.Fit, slack float64) bool {
		return amps >= f.LowA-slack && amps <= f.HighA+slack
	}
	// Its own feed is any that a fault may have made of it; another one is named only
	// where the draw lies in what is said of that: the extremes of a few hundred, with what
	// the meter may be off by, and the leads, whose ohms aren't known yet.
	if !ok || fits(own, math.Hypot(noise, g.judge.Rule.K*u)) {
		return own, nil
	}
	for _, f := range g.budget.Feeds {
		x, u, ok := g.draws(f.Feed, s.Volts)
		slack := math.Hypot(noise, u)
		x.LowA, x.HighA = max(0, x.LowA-slack), x.HighA+slack
		if ok && f.Feed != s.Feed && fits(x, 0) {
			others = append(others, x)
		}
	}
	return own, others
}

// nothingA and less is nothing at the bench.
const nothingA = 1e-4

// draws is what a healthy feed draws at volts, a board anything from its lowest to
// its highest level, and the uncertainty of the highest; false where nobody planned it.
func (g *Guide) draws(feed string, volts float64) (fit capture.Fit, u float64, ok bool) {
	at := atVolts{feed, volts}
	d, known := g.drawn[at]
	if !known {
		d = g.workedOut(at)
		if g.drawn == nil {
			g.drawn = map[atVolts]drawn{}
		}
		g.drawn[at] = d
	}
	return d.fit, d.u, d.ok
}

func (g *Guide) workedOut(at atVolts) drawn {
	f, ok := g.budget.FeedNamed(at.feed)
	if !ok || f.AsFound {
		return drawn{}
	}
	c, err := g.budget.Curve(f.Feed, at.volts)
	if err != nil || len(c) != 1 {
		return drawn{}
	}
	return drawn{capture.Fit{Feed: f.Feed, LowA: c[0].LowA, HighA: c[0].HighA}, c[0].UA, true}
}

// Say puts a finding into the words that a maker reads.
func Say(f Finding) capture.Said {
	s := capture.Said{Group: f.Group, Pace: f.Pace, Verdict: string(f.Verdict), Good: f.Verdict == InBand,
		Undecided: f.Verdict == CantTell}
	if f.Readings > 0 {
		s.Measured = words.Milliamps(f.MeasuredA, f.MeasuredU)
	}
	if f.Band.Coverage > 0 {
		s.Expected = words.MilliampBand(f.Band.LowA, f.Band.HighA)
		s.LowA, s.HighA = f.Band.LowA, f.Band.HighA
	}
	s.Yet, s.Word = YetInBand(f), f.Word()
	for _, c := range f.Causes {
		s.Causes = append(s.Causes, c.Text)
	}
	if len(f.Causes) == 0 {
		if f.Why != "" {
			s.Causes = append(s.Causes, f.Why)
		}
		s.Causes = append(s.Causes, f.Settle...)
	}
	return s
}

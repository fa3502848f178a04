package main

import (
	"fmt"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
)

// returnGuide leads through a return: little current first, warm, single
// voltages each chosen by what it tells, until one cause stands out; then all
// of it for the record. It begins anew from what was recorded.
type returnGuide struct {
	p     *plan.Plan
	s     *returns.Signature
	l     returns.Leads
	steps returns.Guided
	// warmFor is how long the model is on before it is read; cold: it wasn't on
	// for that in this sitting yet.
	warmFor time.Duration
	cold    bool
	byHand  bool // somebody puts the clips on
	weigh   returns.Options

	nobody bool // there's nobody to look
	said   answers

	search *returns.Search
	taken  map[string]bool // probes that the search has, by step
	text   string          // what to say of the step that ended last
	total  int             // about how many steps it will be in all
	err    error           // why nothing is searched for
}

var _ capture.Guide = (*returnGuide)(nil)

// newReturnGuide makes a guide through steps.
func newReturnGuide(b build, s *returns.Signature, l compare.Leads, steps returns.Guided, warm time.Duration) *returnGuide {
	return &returnGuide{p: b.plan, s: s, l: returns.Leads{Ohm: l.Ohm}, steps: steps, warmFor: warm, cold: true, taken: map[string]bool{}}
}

// Next gives the next step. What stopped the model by its limit ends it: a
// short isn't fed again.
func (g *returnGuide) Next(done []capture.StepRecord) (capture.Step, bool) {
	s, more := g.next(done)
	g.total = len(done)
	if more {
		g.total += g.ahead(s, done)
	}
	return s, more
}

func (g *returnGuide) next(done []capture.StepRecord) (capture.Step, bool) {
	if slices.ContainsFunc(done, func(r capture.StepRecord) bool { return r.Outcome == capture.Tripped }) {
		return capture.Step{}, false
	}
	limit, ok := doneAs(g.steps.Limit.ID, done)
	if !ok {
		return g.steps.Limit, true
	}
	if limit.Outcome != capture.Measured {
		return capture.Step{}, false
	}
	if _, ok := doneAs(g.steps.Warm.ID, done); !ok {
		return g.steps.Warm, true
	}
	next, ok := g.probe(done)
	if !ok {
		next, ok = g.whole(done)
	}
	if ok && g.looksNext(done, returns.IsProbe(next)) {
		next = g.steps.Look
	}
	if ok && g.cold && g.warmFor > 0 {
		return g.again(done), true
	}
	return next, ok
}

// looksNext: somebody is there, hasn't looked, and a look tells more for its effort
// than the next reading; or nothing else is left that would settle it.
func (g *returnGuide) looksNext(done []capture.StepRecord, probes bool) bool {
	if _, ok := doneAs(g.steps.Look.ID, done); ok || g.nobody || g.search == nil || g.err != nil {
		return false
	}
	if g.said[askedLook] != "" {
		return false
	}
	better, err := g.search.LookNext(probes)
	return err == nil && better
}

// Understand implements capture.Looker.
func (g *returnGuide) Understand(groups []string, typed string) capture.Understood {
	lit := slices.DeleteFunc(slices.Clone(g.p.Groups), func(x plan.Group) bool { return !slices.Contains(groups, x.Name) })
	u := look.Read(typed, lit)
	return capture.Understood{Seen: compare.Kept(u.Seen), Whole: u.Whole, Text: u.Text}
}

// see gives the search what was seen and heard so far.
func (g *returnGuide) see(done []capture.StepRecord) {
	if g.search == nil {
		return
	}
	seen := returns.SeenIn(g.p, done)
	if len(seen) == 0 && g.said[askedLook] != "" {
		seen, _ = returns.SeenAs(g.p, g.s, g.said[askedLook])
	}
	g.search.See(append(seen, g.said.heard(g.p, g.s)...))
}

// ahead is about how many steps there are from s on, s among them.
func (g *returnGuide) ahead(s capture.Step, done []capture.StepRecord) int {
	n := 0
	for _, x := range g.steps.Whole {
		if _, ok := doneAs(x.ID, done); !ok {
			n++
		}
	}
	left := max(0, min(expectedProbes, len(g.steps.Probes))-g.probed(done))
	switch {
	case s.ID == g.steps.Limit.ID:
		return 2 + left + n
	case returns.IsWarmUp(s):
		return 1 + left + n
	case returns.IsProbe(s):
		return max(1, left) + n
	}
	return n
}

// probed counts the single voltages that were tried.
func (g *returnGuide) probed(done []capture.StepRecord) int {
	n := 0
	for _, s := range g.steps.Probes {
		if _, ok := doneAs(s.ID, done); ok {
			n++
		}
	}
	return n
}

func doneAs(id string, done []capture.StepRecord) (capture.StepRecord, bool) {
	i := slices.IndexFunc(done, func(r capture.StepRecord) bool { return r.Step.ID == id })
	if i < 0 {
		return capture.StepRecord{}, false
	}
	return done[i], true
}

// again is a warm-up of a return that was cut: the model went cold.
func (g *returnGuide) again(done []capture.StepRecord) capture.Step {
	for n := 2; ; n++ {
		s := g.steps.Again(n)
		if _, ok := doneAs(s.ID, done); !ok {
			return s
		}
	}
}

// probe is the next single voltage, if one is worth it.
func (g *returnGuide) probe(done []capture.StepRecord) (capture.Step, bool) {
	g.take(done)
	if g.search == nil || g.err != nil {
		return capture.Step{}, false
	}
	for range g.steps.Probes {
		v, _, more, err := g.search.Next()
		if err != nil || !more {
			g.err = err
			return capture.Step{}, false
		}
		i := slices.IndexFunc(g.steps.Probes, func(s capture.Step) bool { return s.Volts == v })
		if i < 0 {
			return capture.Step{}, false
		}
		if _, tried := doneAs(g.steps.Probes[i].ID, done); !tried {
			return g.steps.Probes[i], true
		}
		g.search.Drop(v) // it was skipped or failed
	}
	return capture.Step{}, false
}

// take gives the search every reading that it hasn't yet.
func (g *returnGuide) take(done []capture.StepRecord) {
	for _, r := range done {
		if r.Step.ID == g.steps.Look.ID && r.Seen != "" && !g.taken[r.Step.ID] && g.search != nil {
			g.taken[r.Step.ID] = true
			g.see(done)
		}
		if !returns.IsProbe(r.Step) || g.taken[r.Step.ID] || g.err != nil {
			continue
		}
		g.taken[r.Step.ID] = true
		x, trace, ok := returns.ProbeOf(g.p, g.s, r, g.l)
		if !ok {
			continue
		}
		if g.search == nil {
			if g.search, g.err = g.begin(x, trace); g.err != nil {
				return
			}
			g.search.Hear(trace)
			g.see(done)
		}
		g.err = g.search.Read(x)
	}
}

func (g *returnGuide) begin(x returns.Probe, trace *returns.Return) (*returns.Search, error) {
	set := []float64{g.steps.Warm.Volts}
	for _, s := range g.steps.Probes {
		set = append(set, s.Volts)
	}
	now := *trace
	now.DwellS = x.DwellS
	if len(g.steps.Probes) > 0 {
		now.DwellS = g.steps.Probes[0].For.Seconds()
	}
	return returns.NewSearch(g.p, g.s, &now, set, g.weigh)
}

// whole is the next step for the record.
func (g *returnGuide) whole(done []capture.StepRecord) (capture.Step, bool) {
	for _, s := range g.steps.Whole {
		if _, ok := doneAs(s.ID, done); !ok {
			return s, true
		}
	}
	return capture.Step{}, false
}

// expectedProbes is about how many single voltages a return takes.
const expectedProbes = 4

// handsTime is what it takes to put clips on.
const handsTime = 15 * time.Second

// Remaining estimates how long what isn't done will take.
func (g *returnGuide) Remaining(done []capture.StepRecord) time.Duration {
	var d time.Duration
	add := func(s capture.Step) {
		if _, ok := doneAs(s.ID, done); !ok {
			d += compare.Lasts(s)
		}
	}
	add(g.steps.Limit)
	add(g.steps.Warm)
	left := min(expectedProbes, len(g.steps.Probes)) - g.probed(done)
	if _, more := g.whole(done); more && left > 0 {
		d += time.Duration(left) * compare.Lasts(g.steps.Probes[0])
	}
	for _, s := range g.steps.Whole {
		add(s)
	}
	if g.byHand && len(done) == 0 {
		d += handsTime
	}
	return d.Round(time.Second)
}

// Recognise names no clip: there is one place to clip to.
func (g *returnGuide) Recognise(capture.Step, float64, float64) (own capture.Fit, others []capture.Fit) {
	return own, nil
}

// Judge makes the line that is said of a step. It gives no verdict on groups.
func (g *returnGuide) Judge(r capture.StepRecord) []capture.Said {
	g.text = ""
	if r.Outcome != capture.Measured {
		return nil
	}
	if r.Step.ID == g.steps.Look.ID {
		g.take([]capture.StepRecord{r})
		g.text = g.possible()
		return nil
	}
	x, _, ok := returns.ProbeOf(g.p, g.s, r, g.l)
	switch {
	case !ok:
		g.text = "too few readings to say anything of it"
	case r.Step.ID == g.steps.Limit.ID:
		g.text = g.flows(x) + ". No short"
		if x.Amps < nextToNothing*g.drew(r.Step.Volts) {
			g.text = g.flows(x) + ": next to nothing. Are the clips on, is the meter in its mA jack, is its fuse whole? If so, the model's own jack or its first wire is open"
		}
	case returns.IsProbe(r.Step):
		g.take([]capture.StepRecord{r})
		g.text = g.flows(x) + ". " + g.possible()
		g.cold = g.cold && r.Step.ID != g.steps.Warm.ID
	case returns.IsWarmUp(r.Step):
		g.text, g.cold = g.flows(x), false
	}
	return nil
}

// nextToNothing is a share of what the model drew.
const nextToNothing = 0.01

// drew is what the model drew when it left.
func (g *returnGuide) drew(volts float64) float64 {
	if len(g.s.Whole) == 0 {
		return 0
	}
	return g.s.Whole[0].Sweep.At(volts)
}

// flows says what was read, beside what it drew when it left.
func (g *returnGuide) flows(x returns.Probe) string {
	return fmt.Sprintf("%s; when it left %s", words.Milliamps(x.Amps, 0.002*x.Amps), words.Milliamps(g.drew(x.Volts), 0.002*x.Amps))
}

// possible is one plain line of what can be wrong yet.
func (g *returnGuide) possible() string {
	if g.search == nil || g.err != nil {
		return "What is still possible can't be told before the full sweep"
	}
	d, err := g.search.Standing()
	if err != nil {
		return "What is still possible can't be told before the full sweep"
	}
	return stillPossible(d)
}

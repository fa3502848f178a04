package session

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
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
	said   ReturnAnswers

	search *returns.Search
	taken  map[string]bool // probes that the search has, by step
	// What the step that ended last told.
	read     *ReturnRead
	standing *returns.Diagnosis
	total    int   // about how many steps it will be in all
	err      error // why nothing is searched for
}

var _ capture.Guide = (*returnGuide)(nil)

// newReturnGuide makes a guide through steps.
func newReturnGuide(p *plan.Plan, t Return, l compare.Leads, steps returns.Guided) *returnGuide {
	return &returnGuide{p: p, s: t.Signature, l: returns.Leads{Ohm: l.Ohm}, steps: steps,
		warmFor: t.Whole.Warm, weigh: t.Weigh, cold: true, taken: map[string]bool{}}
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
	if !ok {
		return g.resistor(done)
	}
	if g.looksNext(done, returns.IsProbe(next)) {
		next = g.steps.Look
	}
	if g.cold && g.warmFor > 0 {
		return g.again(done), true
	}
	return next, true
}

// resistor is that of the signature in the model's place, where all of it isn't settled by
// the rest and that would tell something; the model's own place needn't be warm for it.
func (g *returnGuide) resistor(done []capture.StepRecord) (capture.Step, bool) {
	if g.steps.Resistor == nil || g.nobody {
		return capture.Step{}, false
	}
	if _, ok := doneAs(g.steps.Resistor.ID, done); ok {
		return capture.Step{}, false
	}
	r, err := returns.ReturnOf(g.p, g.s, done, g.l, "")
	if err != nil {
		return capture.Step{}, false
	}
	if len(r.Seen) == 0 {
		r.Seen = g.said.Seen(g.p, g.s)
	}
	heard, _ := g.said.Heard(g.p, g.s)
	r.Seen = append(r.Seen, heard...)
	d, err := returns.Diagnose(g.p, g.s, r, g.weigh)
	if err != nil || !slices.ContainsFunc(d.Next, func(n returns.NextReading) bool { return n.Resistor }) {
		return capture.Step{}, false
	}
	return *g.steps.Resistor, true
}

// looksNext: somebody is there, hasn't looked, and a look tells more for its effort
// than the next reading; or nothing else is left that would settle it.
func (g *returnGuide) looksNext(done []capture.StepRecord, probes bool) bool {
	if _, ok := doneAs(g.steps.Look.ID, done); ok || g.nobody || g.search == nil || g.err != nil {
		return false
	}
	if g.said[ToldLook] != "" {
		return false
	}
	better, err := g.search.LookNext(probes)
	return err == nil && better
}

// Understand implements capture.Looker.
func (g *returnGuide) Understand(groups []string, typed string) capture.Understood {
	lit := slices.DeleteFunc(slices.Clone(g.p.Groups),
		func(x plan.Group) bool { return !slices.Contains(groups, x.Name) })
	u := look.Read(typed, lit)
	return capture.Understood{Seen: compare.Kept(u.Seen), Whole: u.Whole, Text: u.Text}
}

// see gives the search what was seen and heard so far.
func (g *returnGuide) see(done []capture.StepRecord) {
	if g.search == nil {
		return
	}
	seen := returns.SeenIn(g.p, done)
	if len(seen) == 0 {
		seen = g.said.Seen(g.p, g.s)
	}
	heard, _ := g.said.Heard(g.p, g.s)
	g.search.See(append(seen, heard...))
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

// Judge takes note of what a step told. It gives no verdict on groups.
func (g *returnGuide) Judge(r capture.StepRecord) []capture.Said {
	g.read, g.standing = nil, nil
	if r.Outcome != capture.Measured {
		return nil
	}
	if r.Step.ID == g.steps.Look.ID {
		g.take([]capture.StepRecord{r})
		g.standing = g.possible()
		return nil
	}
	x, _, ok := returns.ProbeOf(g.p, g.s, r, g.l)
	if !ok {
		return nil
	}
	then := g.drew(x.Volts)
	if r.Step.Kind == capture.Resistor {
		then = g.s.Resistor.Amps * x.Volts / g.s.Resistor.Volts
	}
	read := ReturnRead{Amps: x.Amps, ThenA: then}
	switch {
	case r.Step.ID == g.steps.Limit.ID:
		read.Nothing = x.Amps < nextToNothing*g.drew(r.Step.Volts)
	case returns.IsProbe(r.Step):
		g.take([]capture.StepRecord{r})
		g.standing = g.possible()
		g.cold = g.cold && r.Step.ID != g.steps.Warm.ID
	case returns.IsWarmUp(r.Step):
		g.cold = false
	}
	g.read = &read
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

// possible is what can be wrong yet; nil: it can't be told before the full sweep.
func (g *returnGuide) possible() *returns.Diagnosis {
	if g.search == nil || g.err != nil {
		return nil
	}
	d, err := g.search.Standing()
	if err != nil {
		return nil
	}
	return d
}

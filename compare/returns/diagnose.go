package returns

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// rankedPlaces is how many places a diagnosis lists.
const rankedPlaces = 8

// Diagnose says what is wrong with a model that came back. The plan gives what
// is inside the groups, the signature what they drew, the return what is drawn
// now. The error says which of them is not enough.
func Diagnose(p *plan.Plan, s *Signature, r *Return, o Options) (*Diagnosis, error) {
	p = p.InService()
	if r.Tripped != "" && len(r.Sweep.Volts) < 3 {
		return stopped(s, r), nil
	}
	if err := r.Sweep.check(); err != nil {
		return nil, fmt.Errorf("the sweep of the return: %w", err)
	}
	l, err := NewLibrary(p, s, r.Pace, r.Sweep.Volts, o.priors())
	if err != nil {
		return nil, err
	}
	return l.Diagnose(p, s, r, o)
}

func (o Options) priors() fault.ReturnPriors {
	if o.Priors != nil {
		return *o.Priors
	}
	return fault.DefaultPriors().Return
}

func (o Options) eye() look.Rates {
	if o.Eye != nil {
		return *o.Eye
	}
	return look.DefaultRates()
}

// Diagnose is the function of that name with a library made before: the
// voltages of the return must be those of the library.
func (l *Library) Diagnose(p *plan.Plan, s *Signature, r *Return, o Options) (*Diagnosis, error) {
	p = p.InService()
	if !slices.Equal(l.Volts, r.Sweep.Volts) {
		return nil, errors.New("this library was made for other voltages")
	}
	n := nuisancesOf(s, r)
	if o.Nuisances != nil {
		n = *o.Nuisances
	}
	n, why := n.withResistor(s, r)
	d := &Diagnosis{Build: s.Build, SignatureAt: s.TakenAt, At: r.At, Simulated: r.Simulated || s.Simulated,
		Notes: slices.Clone(l.Notes), Volts: l.Volts, MeasuredA: r.Sweep.Amps}
	t := readTrace(p, s, r)
	if why != "" {
		d.Notes = append(d.Notes, why)
	}
	d.Blinkers = t.states
	d.Notes = append(d.Notes, t.notes...)
	before := n
	noise := func(n Nuisances) []float64 { return l.noise(n, r.DwellS, r.Sweep.U) }
	weigh := func(d *Diagnosis, all []Seen) (*posterior, Nuisances, error) {
		known := t.says().and(seen(p, all, o.eye()))
		n, err := l.settle(r.Sweep.Amps, noise, before, o.priors(), known)
		if err != nil {
			return nil, n, err
		}
		d.NoiseA = noise(n)
		post, err := l.posterior(r.Sweep.Amps, d.NoiseA, n, o.priors(), known)
		if err != nil {
			return nil, n, err
		}
		d.PNothing, d.PUnknown, d.PTwo, d.PSlight = post.none, post.unknown, post.two, post.slight
		d.decide(d.rank(p, l, post))
		return post, n, nil
	}
	post, n, err := weigh(d, r.Seen)
	if err != nil {
		return nil, err
	}
	if d.Rests, err = restsOn(d.Named, r.Seen, func(all []Seen) (*Cause, error) {
		var x Diagnosis
		post, _, err := weigh(&x, all)
		if err != nil || l.byOdds(x.Named, twinsAmong(s, x.Set), post) {
			return nil, err
		}
		return x.Named, nil
	}); err != nil {
		return nil, err
	}
	d.fit(l, post, n)
	if d.Verdict == AsItLeft && d.PSlight > 0.01 {
		d.Notes = append(d.Notes, l.wouldNotShow(post))
	}
	if r.Adapter != nil {
		says := r.Adapter.Says(p, s)
		d.Adapter = &says
	}
	d.Drops, d.Seen = drops(p, s, r), r.Seen
	d.Notes = append(d.Notes, coloursOpen(r.Seen)...)
	d.Twins = twinsAmong(s, d.Set)
	if d.Named == nil && d.Verdict != AsItLeft {
		d.Next = append(l.next(p, s, r, post, n, d.NoiseA, o.eye()), nextPace(p, s, r, d.Set)...)
	}
	if r.Tripped != "" {
		d.Notes = append(d.Notes, fmt.Sprintf("stopped at %.1f V: %s", r.TripVolts, r.Tripped))
	}
	return d, nil
}

// rank gathers the hypotheses by place, the likeliest first, and gives that of
// nothing being wrong.
func (d *Diagnosis) rank(p *plan.Plan, l *Library, post *posterior) (nothing Cause) {
	var all []Cause
	find := func(place, second string) *Cause {
		for i := range all {
			if all[i].Place == place && all[i].Second == second {
				return &all[i]
			}
		}
		all = append(all, Cause{Place: place, Second: second})
		return &all[len(all)-1]
	}
	best := map[string]float64{}
	for i, h := range l.Hypotheses {
		c := find(h.at(), "")
		c.add(h, post.single[i])
		if post.single[i] >= best[h.at()] {
			best[h.at()] = post.single[i]
			c.DeltaA = h.DeltaA
		}
	}
	for _, q := range post.pairs[:min(len(post.pairs), 400)] {
		a, b := l.Hypotheses[q.a], l.Hypotheses[q.b]
		c := find(a.at(), b.at())
		if len(c.Classes) == 0 {
			c.Classes = []ClassP{{a.Class, a.Param, 0}, {b.Class, b.Param, 0}}
			c.DeltaA = added(a.DeltaA, b.DeltaA)
		}
		c.P += q.p
		c.Classes[0].P, c.Classes[1].P = c.P, c.P
	}
	all = append(all, Cause{Place: string(fault.Nothing), P: post.none,
		Classes: []ClassP{{fault.Nothing, 0, post.none}}, DeltaA: make([]float64, len(l.Volts))},
		Cause{Place: string(fault.Unknown), P: post.unknown, Classes: []ClassP{{fault.Unknown, 0, post.unknown}}})
	slices.SortStableFunc(all, func(a, b Cause) int { return cmp.Compare(b.P, a.P) })
	sum := 0.0
	for i := range all {
		if i >= rankedPlaces && sum >= setCovers {
			break
		}
		all[i].Text, all[i].Closure = text(p, all[i]), closureOf(p, all[i])
		if sum < setCovers {
			d.Set = append(d.Set, all[i])
		}
		if i < rankedPlaces {
			d.Ranked = append(d.Ranked, all[i])
		}
		sum += all[i].P
	}
	nothing = all[slices.IndexFunc(all, func(c Cause) bool { return c.Place == string(fault.Nothing) })]
	nothing.Text = text(p, nothing)
	return nothing
}

// add takes one hypothesis of a place.
func (c *Cause) add(h Hypothesis, p float64) {
	c.P += p
	i := slices.IndexFunc(c.Classes, func(x ClassP) bool { return x.Class == h.Class })
	switch {
	case i < 0:
		c.Classes = append(c.Classes, ClassP{h.Class, h.Param, p})
	case p > c.Classes[i].P:
		c.Classes[i].P, c.Classes[i].Param = c.Classes[i].P+p, h.Param
	default:
		c.Classes[i].P += p
	}
	slices.SortStableFunc(c.Classes, func(a, b ClassP) int { return cmp.Compare(b.P, a.P) })
}

// decide makes the verdict.
func (d *Diagnosis) decide(nothing Cause) {
	d.Alarm = d.PNothing < alarmBelow
	top := d.Ranked[0]
	switch {
	case !d.Alarm && d.PNothing+d.PSlight >= setCovers:
		nothing.P += d.PSlight
		d.Verdict, d.Set = AsItLeft, []Cause{nothing}
	case !d.Alarm:
		d.Verdict = CantTell
	case d.PUnknown > 0.5:
		d.Verdict = NotListed
	case top.P > nameAbove:
		d.Verdict = OnePlace
		d.Named = &d.Ranked[0]
		d.Set = []Cause{top}
	default:
		d.Verdict = OneOf
	}
}

// fit says what was fitted along under the likeliest explanation, and moves
// the healthy curve by it.
func (d *Diagnosis) fit(l *Library, post *posterior, n Nuisances) {
	best := d.Ranked[0]
	rest := post.rest
	if best.DeltaA != nil {
		rest = minus(rest, post.white.of(best.DeltaA))
	}
	d.HealthyA = l.expected(n)
	sd := map[string]struct {
		s    float64
		unit string
	}{"gain": {n.GainRel, "1"}, "offset": {n.OffsetA, "A"}, "temperature": {n.TempK, "K"},
		"set voltage": {n.SetV, "V"}, "jack": {n.JackOhm, "ohm"}}
	all := l.nuisances(n)
	theta := make([]float64, len(all))
	for i, x := range all {
		// The mean of theta given the readings: J' C^-1 d, J scaled by its sigma.
		theta[i] = linear.Dot(post.white.of(x.j), rest)
		d.HealthyA = added(d.HealthyA, scaled(theta[i], x.j))
	}
	n.unmix(theta)
	for i, x := range all {
		sigmas := theta[i]
		if u, ok := sd[x.name]; ok && finite(sigmas) {
			f := Fitted{What: x.name, Value: sigmas * u.s, Unit: u.unit, Sigmas: sigmas}
			if x.name == "temperature" {
				f.Value += n.ShiftK
			}
			d.Fitted = append(d.Fitted, f)
		}
	}
	d.Misfit = linear.Dot(rest, rest) / float64(len(rest))
	if d.Misfit > 3 && d.Verdict == OnePlace && math.Abs(d.PUnknown) < 0.5 {
		d.Notes = append(d.Notes, "the likeliest explanation doesn't account for the whole sweep: take it with care")
	}
}

func twinsAmong(s *Signature, set []Cause) []Twin {
	has := func(name string) bool { return slices.ContainsFunc(set, func(c Cause) bool { return c.Place == name }) }
	var out []Twin
	for _, t := range s.Twins {
		// Of a place that is named alone its twins are told, too: the likelihood
		// between them is no better than the plan's nominal values.
		if has(t.A) && has(t.B) || len(set) == 1 && (has(t.A) || has(t.B)) {
			out = append(out, t)
		}
	}
	return out
}

// stopped is the diagnosis of a return whose draw went over the limit.
func stopped(s *Signature, r *Return) *Diagnosis {
	what := "plus and minus touch somewhere, or a part lets everything through"
	if r.TripVolts > 4 {
		what = "more flows than the whole model ever drew: a short behind a resistor, or a resistor that is bridged"
	}
	return &Diagnosis{Build: s.Build, SignatureAt: s.TakenAt, At: r.At, Simulated: r.Simulated, Verdict: ShortedUp,
		Alarm: true,
		Volts: r.Sweep.Volts, MeasuredA: r.Sweep.Amps,
		Notes: []string{"stopped: " + r.Tripped, what,
			"measure ohms at the jack with nothing connected; a short in the plug itself is the commonest and needs " +
				"nothing opened"}}
}

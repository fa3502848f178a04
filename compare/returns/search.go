package returns

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"sealworthy/compare/fault"
	"sealworthy/compare/information"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

// Search finds what is wrong with a return in as few readings as it can, each
// at one voltage. It weighs the same hypotheses as Diagnose does, and chooses
// the next voltage by the information that it is expected to give.
type Search struct {
	p    *plan.Plan
	s    *Signature
	pace string
	n    Nuisances
	now  Nuisances // as the readings so far have them
	pr   fault.ReturnPriors

	l      *Library
	dwellS float64
	ohms   float64      // of meter and leads, by the readings so far
	left   []candidateV // what may be read yet
	reads  []Probe      // by rising voltage
	trace  evidence
	seen   evidence
	looked bool // by the maker
	eye    look.Rates

	told []float64  // bits that are open yet, by the number of readings
	sub  *Library   // the library at the voltages read; nil: not weighed yet
	post *posterior // after the readings so far
}

// Probe is one reading of the whole model at one voltage.
type Probe struct {
	Volts  float64 `json:"volts"` // at the model
	Amps   float64 `json:"amps"`  // mean
	U      float64 `json:"u"`     // standard uncertainty of the mean by scatter; 0: not known
	DwellS float64 `json:"dwell_s"`
	// SetVolts is what the supply was set to for it.
	SetVolts float64 `json:"set_volts"`
}

// candidateV is a voltage that may be read: as the supply is set for it, and
// what the model will get of that.
type candidateV struct{ set, at float64 }

// Most readings of a search: what isn't found by then the sweep has to tell.
const mostProbes = 12

// near: two voltages at the model that are the same, V.
const near = 1e-3

// NewSearch prepares a search at a pace, over voltages that the supply can be
// set to, service voltage among them. r says by what it is measured: its pace,
// instruments, room and dwell count, what it holds of readings doesn't.
func NewSearch(p *plan.Plan, s *Signature, r *Return, setVolts []float64, o Options) (*Search, error) {
	p = p.InService()
	q := &Search{p: p, s: s, pace: r.Pace, n: nuisancesOf(s, r), pr: o.priors(), dwellS: r.DwellS,
		left:  candidatesAt(setVolts),
		trace: nothingKnown(), seen: nothingKnown(), eye: o.eye()}
	if o.Nuisances != nil {
		q.n = *o.Nuisances
	}
	return q, q.prepare()
}

func candidatesAt(setVolts []float64) []candidateV {
	var out []candidateV
	for _, v := range slices.Sorted(slices.Values(setVolts)) {
		out = append(out, candidateV{v, v})
	}
	return out
}

// prepare makes the library for the voltages read and those that may be. Meter
// and leads take their part of what the supply is set to.
func (q *Search) prepare() error {
	var volts []float64
	for i, c := range q.left {
		if q.l != nil {
			q.left[i].at = c.set - q.ohms*q.HealthyA(c.set)
		}
		volts = append(volts, q.left[i].at)
	}
	for _, x := range q.reads {
		volts = append(volts, x.Volts)
	}
	slices.Sort(volts)
	l, err := NewLibrary(q.p, q.s, q.pace, volts, q.pr)
	if err == nil {
		q.l = l
	}
	return err
}

// Read takes a reading. Its voltage isn't asked for again.
func (q *Search) Read(x Probe) error {
	if !finite(x.Volts, x.Amps, x.U) || x.Volts <= 0 {
		return fmt.Errorf("%g A at %g V is no reading", x.Amps, x.Volts)
	}
	if slices.ContainsFunc(q.reads, func(y Probe) bool { return math.Abs(y.Volts-x.Volts) < near }) {
		return fmt.Errorf("%.2f V was read before", x.Volts)
	}
	q.reads, q.post = append(q.reads, x), nil
	slices.SortFunc(q.reads, func(a, b Probe) int { return cmp.Compare(a.Volts, b.Volts) })
	if x.SetVolts > x.Volts && x.Amps > 0 {
		q.ohms = (x.SetVolts - x.Volts) / x.Amps
	}
	set := x.SetVolts
	if set == 0 {
		set = x.Volts
	}
	q.left = slices.DeleteFunc(q.left, func(c candidateV) bool { return math.Abs(c.set-set) < near })
	if slices.Contains(q.l.Volts, x.Volts) {
		return nil
	}
	return q.prepare()
}

// Drop takes a voltage out that can't be read.
func (q *Search) Drop(setVolts float64) {
	q.left = slices.DeleteFunc(q.left, func(c candidateV) bool { return math.Abs(c.set-setVolts) < near })
}

// Hear takes what a trace at service voltage says of the blinkers.
func (q *Search) Hear(r *Return) {
	if len(r.Trace) > 0 {
		q.trace, q.post = readTrace(q.p, q.s, r).says(), nil
	}
}

// See takes what was seen of the lights, all of it.
func (q *Search) See(all []Seen) {
	q.seen, q.post = seen(q.p, all, q.eye), nil
	q.looked = slices.ContainsFunc(all, func(s Seen) bool { return !s.Client })
}

// LookNext: one look at all lights is expected to tell more about the place, for its
// effort, than the best further reading; or than nothing where none follows. One that
// draws what it drew is looked at in any case: something made its client send it back.
// false after the maker has looked, or where one place stands out.
func (q *Search) LookNext(readingFollows bool) (bool, error) {
	if q.looked {
		return false, nil
	}
	d, err := q.Standing()
	switch {
	case err != nil || d.Verdict == OnePlace:
		return false, err
	case d.Verdict == AsItLeft:
		return true, nil
	}
	bits := 0.0
	if readingFollows {
		_, bits, err = q.choose()
	}
	at := q.l.lookBits(q.p, q.post.alive(q.l), q.eye)
	return at >= leastBits && at/lookEffort > bits/readingEffort, err
}

// Efforts against each other (common practice, no source): a look is one question
// while it's lit; a reading switches the model off and on and waits for it.
const (
	readingEffort = 1.0
	lookEffort    = 1.0
	// The clips leave the model, and the resistor has to be found.
	resistorEffort = 2.0
)

// at gives the readings by the library's voltages: how many there are of those,
// the draw and the noise of one reading at each under given nuisances.
func (q *Search) at(n Nuisances) (measured []int, y, noise []float64) {
	y, noise = make([]float64, len(q.l.Volts)), q.l.noise(n, q.dwellS, nil)
	u := make([]float64, len(q.l.Volts))
	for _, x := range q.reads {
		i := slices.Index(q.l.Volts, x.Volts)
		if i < 0 {
			continue
		}
		measured = append(measured, i)
		y[i], u[i] = x.Amps, x.U
	}
	known := q.l.noise(n, q.dwellS, u)
	for _, i := range measured {
		if u[i] > 0 {
			noise[i] = known[i]
		}
	}
	return measured, y, noise
}

// weigh reckons the probabilities after the readings so far.
func (q *Search) weigh() error {
	if q.post != nil {
		return nil
	}
	measured, y, _ := q.at(q.n)
	if len(measured) == 0 {
		return errors.New("nothing was read yet")
	}
	q.sub = q.l.only(measured)
	known := q.trace.and(q.seen)
	noise := func(n Nuisances) []float64 {
		_, _, all := q.at(n)
		return take(all, measured)
	}
	var err error
	if q.now, err = q.sub.settle(take(y, measured), noise, q.n, q.pr, known); err != nil {
		return err
	}
	q.post, err = q.sub.posterior(take(y, measured), noise(q.now), q.now, q.pr, known)
	return err
}

// Standing is what is still possible after the readings so far: verdict, set
// and ranked causes as in the diagnosis of a sweep.
func (q *Search) Standing() (*Diagnosis, error) {
	if err := q.weigh(); err != nil {
		return nil, err
	}
	d := &Diagnosis{Build: q.s.Build, SignatureAt: q.s.TakenAt, PNothing: q.post.none, PUnknown: q.post.unknown,
		PTwo: q.post.two, PSlight: q.post.slight}
	d.decide(d.rank(q.p, q.sub, q.post))
	d.Twins = twinsAmong(q.s, d.Set)
	return d, nil
}

// HealthyA is what the model drew when it left at a voltage.
func (q *Search) HealthyA(volts float64) float64 {
	return Curve{Volts: q.l.Volts, Amps: q.l.HealthyA}.at([]float64{volts})[0]
}

// Next chooses what the supply is to be set to for the next reading, and says
// how many bits about the place are to be expected of it. more is false where
// one cause stands out already, or nothing more can be learned.
func (q *Search) Next() (setVolts, bits float64, more bool, err error) {
	if len(q.reads) >= mostProbes {
		return 0, 0, false, nil
	}
	d, err := q.Standing()
	if err != nil || d.settled() {
		return 0, 0, false, err
	}
	if q.stalls() {
		return 0, 0, false, nil
	}
	setVolts, bits, err = q.choose()
	return setVolts, bits, bits >= leastBits, err
}

// settled: one cause stands out, or nothing that shows.
func (d *Diagnosis) settled() bool { return d.Ranked[0].P > nameAbove || d.Verdict == AsItLeft }

// stalls: the last two readings told nothing, whatever was to be expected of
// them.
func (q *Search) stalls() bool {
	by := map[string]float64{}
	for _, h := range q.post.alive(q.l) {
		place := string(fault.Nothing)
		if h.Index >= 0 {
			place = q.l.Hypotheses[h.Index].answer()
		}
		by[place] += h.P
	}
	for len(q.told) <= len(q.reads) {
		q.told = append(q.told, math.Inf(1))
	}
	n := len(q.reads)
	q.told[n] = information.Entropy(slices.Collect(maps.Values(by)))
	return n > 2 && q.told[n-2]-q.told[n] < 2*leastBits
}

// choose gives the voltage, of those that are left, from which most is to be
// learned.
func (q *Search) choose() (setVolts, bits float64, err error) {
	if err := q.weigh(); err != nil {
		return 0, 0, err
	}
	measured, y, noise := q.at(q.now)
	info := q.l.Information(y, measured, q.now, noise, q.post.alive(q.l))
	for _, c := range q.left {
		if i := slices.Index(q.l.Volts, c.at); i >= 0 && info[i] > bits {
			setVolts, bits = c.set, info[i]
		}
	}
	return setVolts, bits, nil
}

// only is the library at some of its voltages, by rising index.
func (l *Library) only(at []int) *Library {
	sub := *l
	sub.Volts, sub.HealthyA, sub.slopeA, sub.warmA = take(l.Volts, at), take(l.HealthyA, at), take(l.slopeA, at),
		take(l.warmA, at)
	sub.blinkA, sub.brownA = take(l.blinkA, at), take(l.brownA, at)
	if l.keptU != nil {
		sub.keptU = take(l.keptU, at)
	}
	sub.ageA, sub.agesA = take(l.ageA, at), make([][]float64, len(l.agesA))
	for i, a := range l.agesA {
		sub.agesA[i] = take(a, at)
	}
	sub.groups = make([]grown, len(l.groups))
	for i, g := range l.groups {
		sub.groups[i] = grown{take(g.amps, at), take(g.slopeA, at), take(g.warmA, at), g.topA, g.leds}
	}
	sub.Hypotheses = make([]Hypothesis, len(l.Hypotheses))
	for i, h := range l.Hypotheses {
		h.DeltaA = take(h.DeltaA, at)
		extra := make([][]float64, len(h.extra))
		for k, x := range h.extra {
			extra[k] = take(x, at)
		}
		h.extra = extra
		sub.Hypotheses[i] = h
	}
	return &sub
}

func take(x []float64, at []int) []float64 {
	out := make([]float64, len(at))
	for i, k := range at {
		out[i] = x[k]
	}
	return out
}

package signature

import (
	"errors"
	"fmt"
	"math"
	"slices"

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
	pr   Priors

	l      *Library
	dwellS float64
	left   []float64 // voltages at the model that may be read yet
	reads  []Probe   // by rising voltage
	said   func(Hypothesis) float64

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

// Most readings of a search: what isn't found by then the sweep has to tell.
const mostProbes = 12

// near: two voltages at the model that are the same, V.
const near = 1e-3

// NewSearch prepares a search at a pace, over voltages at the model, rising,
// service voltage among them. r says by what it is measured: its instruments,
// room and dwell count, what it holds of readings doesn't.
func NewSearch(p *plan.Plan, s *Signature, r *Return, volts []float64, o Options) (*Search, error) {
	q := &Search{p: p, s: s, pace: r.Pace, n: nuisancesOf(s, r), pr: o.priors(), dwellS: r.DwellS, left: slices.Clone(volts)}
	if o.Nuisances != nil {
		q.n = *o.Nuisances
	}
	return q, q.prepare()
}

// over is a search on a library that was made before.
func (l *Library) over(p *plan.Plan, s *Signature, n Nuisances, pr Priors, dwellS float64) *Search {
	return &Search{p: p, s: s, n: n, pr: pr, dwellS: dwellS, left: slices.Clone(l.Volts), l: l}
}

// prepare makes the library anew where a reading was taken between its voltages.
func (q *Search) prepare() error {
	volts := slices.Clone(q.left)
	for _, x := range q.reads {
		volts = append(volts, x.Volts)
	}
	slices.Sort(volts)
	var err error
	q.l, err = NewLibrary(q.p, q.s, q.pace, volts, q.pr)
	return err
}

// Read takes a reading. Its voltage isn't asked for again.
func (q *Search) Read(x Probe) error {
	if !finite(x.Volts, x.Amps, x.U) || x.Volts <= 0 {
		return fmt.Errorf("%g A at %g V is no reading", x.Amps, x.Volts)
	}
	if slices.ContainsFunc(q.reads, func(y Probe) bool { return math.Abs(y.Volts-x.Volts) < near }) {
		return errors.New("this voltage was read before")
	}
	q.reads, q.post = append(q.reads, x), nil
	slices.SortFunc(q.reads, func(a, b Probe) int {
		if a.Volts < b.Volts {
			return -1
		}
		return 1
	})
	i := q.nearest(x)
	if i >= 0 {
		q.left = slices.Delete(q.left, i, i+1)
	}
	if slices.Contains(q.l.Volts, x.Volts) {
		return nil
	}
	return q.prepare()
}

// nearest finds which of the voltages left a reading stands for.
func (q *Search) nearest(x Probe) int {
	at := -1
	for i, v := range q.left {
		if at < 0 || math.Abs(v-x.Volts) < math.Abs(q.left[at]-x.Volts) {
			at = i
		}
	}
	return at
}

// Hear takes what a trace at service voltage says of the blinkers.
func (q *Search) Hear(r *Return) {
	if len(r.Trace) > 0 {
		q.said, q.post = readTrace(q.p, q.s, r).says(), nil
	}
}

// at gives the readings by the library's voltages: how many there are of those,
// the draw and the noise of one reading at each.
func (q *Search) at() (measured []int, y, noise []float64) {
	y, noise = make([]float64, len(q.l.Volts)), q.l.noise(q.n, q.dwellS, nil)
	u := make([]float64, len(q.l.Volts))
	for _, x := range q.reads {
		i := slices.Index(q.l.Volts, x.Volts)
		if i < 0 {
			continue
		}
		measured = append(measured, i)
		y[i], u[i] = x.Amps, x.U
	}
	known := q.l.noise(q.n, q.dwellS, u)
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
	measured, y, noise := q.at()
	if len(measured) == 0 {
		return errors.New("nothing was read yet")
	}
	q.sub = q.l.only(measured)
	post, err := q.sub.posterior(take(y, measured), take(noise, measured), q.n, q.pr, q.said)
	q.post = post
	return err
}

// Standing is what is still possible after the readings so far: verdict, set
// and ranked causes as in the diagnosis of a sweep.
func (q *Search) Standing() (*Diagnosis, error) {
	if err := q.weigh(); err != nil {
		return nil, err
	}
	d := &Diagnosis{Build: q.s.Build, SignatureAt: q.s.TakenAt, PNothing: q.post.none, PUnknown: q.post.unknown, PTwo: q.post.two}
	d.rank(q.p, q.sub, q.post)
	d.decide()
	d.Twins = twinsAmong(q.s, d.Set)
	return d, nil
}

// HealthyA is what the model drew when it left at a voltage.
func (q *Search) HealthyA(volts float64) float64 {
	return Curve{Volts: q.l.Volts, Amps: q.l.HealthyA}.at([]float64{volts})[0]
}

// Next chooses the voltage at the model to be read next, and says how many bits
// about the place are to be expected of it. more is false where one cause
// stands out already, or nothing more can be learned.
func (q *Search) Next() (volts, bits float64, more bool, err error) {
	if len(q.reads) >= mostProbes {
		return 0, 0, false, nil
	}
	d, err := q.Standing()
	if err != nil || d.Ranked[0].P > nameAbove {
		return 0, 0, false, err
	}
	volts, bits, err = q.choose()
	return volts, bits, bits >= leastBits, err
}

// choose gives the voltage, of those that are left, from which most is to be
// learned.
func (q *Search) choose() (volts, bits float64, err error) {
	if err := q.weigh(); err != nil {
		return 0, 0, err
	}
	measured, y, noise := q.at()
	for i, b := range q.l.Information(y, measured, q.n, noise, q.post.alive(q.l)) {
		if b > bits && slices.Contains(q.left, q.l.Volts[i]) {
			volts, bits = q.l.Volts[i], b
		}
	}
	return volts, bits, nil
}

// only is the library at some of its voltages, by rising index.
func (l *Library) only(at []int) *Library {
	sub := *l
	sub.Volts, sub.HealthyA, sub.slopeA, sub.warmA = take(l.Volts, at), take(l.HealthyA, at), take(l.slopeA, at), take(l.warmA, at)
	sub.blinkA, sub.brownA = take(l.blinkA, at), take(l.brownA, at)
	if l.keptU != nil {
		sub.keptU = take(l.keptU, at)
	}
	sub.groups = make([]grown, len(l.groups))
	for i, g := range l.groups {
		sub.groups[i] = grown{take(g.amps, at), take(g.slopeA, at), take(g.warmA, at)}
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

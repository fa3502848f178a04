package belief

import (
	"fmt"
	"math"
	"slices"
)

// before is what was read of a group's pieces loose, beside what was read of them
// joined. They are the same pieces: what each is off by is the same in both.
type before struct {
	joined *view // of what was read joined, by its ensemble's given
	jg     *given

	e    *Ensemble
	view *view
	g    *given
	near []int    // by its readings: the nearest among those read joined by what the pieces see, in their view
	both [2][]int // factors that both have and the clouds don't know: joined, loose
	// same is the covariance of a healthy group's readings joined and loose, A², by shift
	// of the shares.
	same [len(shareShifts)][][]float64
}

// beforeOf prepares what was read loose of a group; nil where nothing was.
func (t *together) beforeOf(i int) (*before, error) {
	return newBefore(t.views[i], t.givens[i], t.keys, t.ms[i].Loose)
}

// newBefore prepares what was read before of the pieces that a view is of; nil where nothing
// was. keys are of the factors that the clouds know.
func newBefore(joined *view, jg *given, keys []FactorKey, m *Measured) (*before, error) {
	if m == nil || len(joined.at) == 0 {
		return nil, nil
	}
	v, err := m.Ensemble.look(m.Readings)
	if err != nil {
		return nil, fmt.Errorf("group %q, before: %w", jg.e.Groups[0], err)
	}
	if v = v.aboveFaint(m.Ensemble); len(v.at) == 0 {
		return nil, nil
	}
	b := &before{joined: joined, jg: jg, e: m.Ensemble, view: v, g: &given{e: m.Ensemble}}
	b.g.know(keys)
	e := jg.e
	for _, k := range v.at {
		best := 0
		for a, j := range joined.at {
			if math.Abs(e.seenV[j]-b.e.seenV[k]) < math.Abs(e.seenV[joined.at[best]]-b.e.seenV[k]) {
				best = a
			}
		}
		b.near = append(b.near, best)
	}
	b.bothHave()
	for s := range b.same {
		b.same[s] = b.samePieces(s)
	}
	return b, nil
}

// aboveFaint is a view without what is so faint that no law holds there: a cause that takes
// most of it away would seem to know it better than a healthy group does.
func (v *view) aboveFaint(e *Ensemble) *view {
	out := &view{model: v.model}
	least := faintPart * slices.Max(e.m.healthy.mean)
	for a, k := range v.at {
		if e.m.healthy.mean[k] >= least {
			out.at, out.y = append(out.at, k), append(out.y, v.y[a])
			out.u2, out.gain = append(out.u2, v.u2[a]), append(out.gain, v.gain[a])
			out.off = append(out.off, v.off[a])
		}
	}
	return out
}

// samePieces is the covariance that a healthy group's readings joined have with those
// loose, but for what factors of the clouds explain: its own pieces, what other factors
// both have, and what the device law is off are the same in both.
func (b *before) samePieces(shift int) [][]float64 {
	e := b.jg.e
	out := make([][]float64, len(b.joined.at))
	for a, x := range b.joined.at {
		out[a] = make([]float64, len(b.near))
		for r, at := range b.near {
			y, k := b.joined.at[at], b.view.at[r]
			loose := b.e.branches(b.both[1], k, k, shift)
			if v := e.branches(b.both[0], y, y, shift); v > 0 && loose > 0 {
				out[a][r] = e.branches(b.both[0], x, y, shift) * math.Sqrt(loose/v)
			}
		}
	}
	return out
}

// bothHave finds the factors that both readings have and the clouds don't know.
func (b *before) bothHave() {
	e := b.jg.e
	for _, f := range b.jg.fold {
		if k := slices.Index(b.e.keys, e.keys[f]); k >= 0 && e.keys[f].Kind != LeadsFactor {
			b.both[0], b.both[1] = append(b.both[0], f), append(b.both[1], k)
		}
	}
}

// pieces is the covariance of a draw at two voltages by its own pieces, the device law and
// some factors, with the shares shifted.
func (e *Ensemble) pieces(m *moment, factors []int, x, y, shift int) float64 {
	n := e.m.n
	s := m.own[shift][x*n+y] + e.priors.Model*e.priors.Model*modelCorrelation*m.mean[x]*m.mean[y]
	for _, f := range factors {
		s += m.load[f*n+x] * m.load[f*n+y] * e.widerShare(f, shift)
	}
	return s
}

// branches is that of a healthy draw without what wires and joints add by themselves.
func (e *Ensemble) branches(factors []int, x, y, shift int) float64 {
	i := x*e.m.n + y
	return e.pieces(&e.m.healthy, factors, x, y, shift) - e.m.healthy.own[shift][i] + e.m.pieces[shift][i]
}

// factors are the numbers of those that load either reading.
func (b *before) factors() []int {
	out := slices.Clone(b.jg.number)
	for _, f := range b.g.number {
		if !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out
}

// always is what was left before of what a moment leaves now, by the readings of before.
func (b *before) always(m *moment) []float64 { return b.shared(b.joined.left(b.jg.e, m)) }

// shared is what was left before of what is left now, by their readings.
func (b *before) shared(left []float64) []float64 {
	out := make([]float64, len(b.near))
	for r, at := range b.near {
		out[r] = left[at]
	}
	return out
}

// eachReading: by so much of it two readings of the same healthy pieces differ, for what
// warms up and where a clip sits (common practice, no source).
const eachReading = 0.003

// left is what of a healthy draw a moment leaves, by readings joined. What flows beside the
// groups is theirs neither joined nor loose.
func (t *together) left(i int, m *moment) []float64 { return t.views[i].left(t.ms[i].Ensemble, m) }

func (v *view) left(e *Ensemble, m *moment) []float64 {
	h := &e.m.healthy
	out := make([]float64, len(v.at))
	for a, k := range v.at {
		out[a] = 1
		if own := h.mean[k] - e.asideA[k]; own > fewAmps {
			out[a] = math.Max(0, (m.mean[k]-e.asideA[k])/own)
		}
	}
	return out
}

// factorsOf lists the factors that a group's readings load, joined or loose, and
// the size's.
func (t *together) factorsOf(i int) []int {
	if b := t.before[i]; b != nil {
		return append(b.factors(), t.size())
	}
	return append(slices.Clone(t.givens[i].number), t.size())
}

// unit is a group with all that was read of it.
func (t *together) unit(i int, alts []alternative) unit {
	u := unit{y: t.views[i].y, factors: t.factors[i], alts: alts}
	if b := t.before[i]; b != nil {
		u.y = slices.Concat(u.y, b.view.y)
	}
	return u
}

// both is an alternative over the readings joined, where m holds, and loose, where of the
// healthy draw a share is left, by its readings; nil: all of it.
func (t *together) both(i int, m *moment, loose []float64, s dispersion) alternative {
	if b := t.before[i]; b != nil {
		return b.twice(t.factors[i], m, loose, s)
	}
	a := t.givens[i].alternative(t.views[i], m, s)
	k := len(t.views[i].at)
	out := alternative{mean: a.mean, cov: a.cov, load: make([]float64, len(t.factors[i])*k)}
	for q, f := range t.givens[i].number {
		copy(out.load[slices.Index(t.factors[i], f)*k:], a.load[q*k:q*k+k])
	}
	return out
}

// twice is an alternative over both readings, where m holds joined and before a share of
// the healthy draw was left; factors are the numbers of those that load it.
func (b *before) twice(factors []int, m *moment, loose []float64, s dispersion) alternative {
	a := b.jg.alternative(b.joined, m, s)
	o := b.g.alternative(b.view, b.e.m.healthy.leaving(b.view.at, loose), s)
	k, l := len(b.joined.at), len(b.view.at)
	n := k + l
	out := alternative{mean: slices.Concat(a.mean, o.mean), cov: make([]float64, n*n)}
	out.load = make([]float64, len(factors)*n)
	for x := range k {
		copy(out.cov[x*n:], a.cov[x*k:x*k+k])
	}
	for x := range l {
		copy(out.cov[(k+x)*n+k:], o.cov[x*l:x*l+l])
	}
	for q, f := range b.jg.number {
		copy(out.load[slices.Index(factors, f)*n:], a.load[q*k:q*k+k])
	}
	for q, f := range b.g.number {
		copy(out.load[slices.Index(factors, f)*n+k:], o.load[q*l:q*l+l])
	}
	for x := range n {
		out.cov[x*n+x] += eachReading * eachReading * out.mean[x] * out.mean[x]
	}
	// As large as its own pieces make it, joined and loose; one meter in one range is off by
	// the same in both.
	e, t2 := b.jg.e, s.tolerance*s.tolerance
	oneMeter := !b.jg.gain && e.bench.Meter != "" && e.bench.Meter == b.e.bench.Meter
	for x, j := range b.joined.at {
		f := 0.0
		if v := e.pieces(&e.m.healthy, b.both[0], j, j, s.shift); v > 0 {
			f = t2 * math.Sqrt(math.Max(0, e.pieces(m, b.both[0], j, j, s.shift)/v))
		}
		for y := range l {
			v := f * b.same[s.shift][x][y]
			if loose != nil {
				v *= loose[y]
			}
			// What the device model is off at one voltage is the same in both.
			if vs := b.e.Volts[b.view.at[y]]; math.Abs(vs-e.Volts[j]) < nearV {
				v += a.sameModel(x, o.mean[y], e.priors.Model)
			}
			if oneMeter {
				v += b.joined.gain[x] * b.view.gain[y] * out.mean[x] * out.mean[k+y]
			}
			out.cov[x*n+k+y], out.cov[(k+y)*n+x] = v, v
		}
	}
	return out
}

// sameModel is the covariance of what the device model is off at one voltage, beyond what it
// has in common with others, with a draw there.
func (a *alternative) sameModel(x int, amps, model float64) float64 {
	return model * model * (1 - modelCorrelation) * a.mean[x] * amps
}

// leaving is a healthy group of whose draw a share is left, at some voltages.
func (m *moment) leaving(at []int, share []float64) *moment {
	if share == nil {
		return m
	}
	all := make([]float64, len(m.mean))
	for i := range all {
		all[i] = 1
	}
	for i, k := range at {
		all[k] = share[i]
	}
	return m.scaled(all)
}

// scaled is a moment of whose draw a share is left, by voltage: a draw that is half as
// large is half as uncertain.
func (m *moment) scaled(share []float64) *moment {
	x, n := m.clone(), len(m.mean)
	for k := range n {
		x.mean[k] *= share[k]
		for j := range n {
			for s := range x.own {
				x.own[s][k*n+j] *= share[k] * share[j]
			}
			x.cov[k*n+j] *= share[k] * share[j]
		}
	}
	for i := range x.load {
		x.load[i] *= share[i%n]
	}
	return &x
}

// byItself are a group's alternatives where it has nothing in common with others.
func (t *together) byItself(i int, s dispersion) []alternative {
	well := t.both(i, &t.ms[i].Ensemble.m.healthy, nil, s)
	well.logPrior = t.none(i)
	out := []alternative{well, t.flat(i, t.unknown(i))}
	if t.before[i] != nil {
		// Something unknown since it was joined: not since always, as out[1] has it.
		out = append(out, t.somethingOwn(i, well, t.unknown(i))[1+len(ownSizes):]...)
	}
	return append(out, t.faults(i, nil, s)...)
}

// faults are those of a group's own.
func (t *together) faults(i int, x *cause, s dispersion) (out []alternative) {
	t.each(i, func(m *moment, log float64) {
		out = append(out, t.either(i, x, m, t.shared(i, t.left(i, m)), log, s)...)
	})
	return out
}

// flat is an alternative that predicts nothing.
func (t *together) flat(i int, log float64) alternative {
	a := alternative{flat: true, logPrior: log, logDensity: t.ms[i].Ensemble.logUnknown(t.views[i])}
	if b := t.before[i]; b != nil {
		a.logDensity += b.e.logUnknown(b.view)
	}
	return a
}

package belief

import (
	"math"
	"slices"

	"sealworthy/compare/wiring"
)

// loading is how a draw moves with every factor and, for itself alone, with what
// no other branch has, by voltage.
type loading struct {
	common []float64                   // factor, then voltage, for a half-width of a rectangular one
	own    [len(shareShifts)][]float64 // n x n covariance, by shift of the shares
	bends  []float64                   // of factors that bend far: the square's part, for one standard deviation
	skews  []float64                   // of those: what the square misses, a standard deviation
	both   []float64                   // of two together: what the sum of both misses, a standard deviation
	bend   []float64                   // what the curvature adds to the mean
	reel   []float64                   // of that, by what pieces of a reel have in common
	square []float64                   // the squares of what each piece adds by itself
}

func newLoading(factors, n int) loading {
	l := loading{common: make([]float64, factors*n), bends: make([]float64, factors*n),
		skews: make([]float64, factors*n), both: make([]float64, factors*n), bend: make([]float64, n),
		reel: make([]float64, n), square: make([]float64, n)}
	for i := range l.own {
		l.own[i] = make([]float64, n*n)
	}
	return l
}

// linear computes the moments from sensitivities at the nominal operating point
// (JCGM 100:2008, 5.1.2), each of variance 1/3 for a deviation of one half-width;
// the curvature of the diodes adds to the mean. Faults of the group's own wire
// are taken as uncertain in proportion to what they leave of the draw.
func (s *side) linear(vs []*variant, d *uncertain) (*moments, error) {
	n := len(s.volts)
	factors := len(d.keys)
	m := newMoments(n, factors, len(vs))
	all := newLoading(factors, n)
	each := make([]loading, len(s.list))
	for i := range s.list {
		each[i] = newLoading(factors, n)
		b := &s.list[i]
		th, err := s.giving(b.node)
		if err != nil {
			return nil, err
		}
		if b.id < 0 {
			continue
		}
		s.load(&each[i], d, i, &b.law, b.i, th.ohms, th.gain)
		all.sum(&each[i], 1)
	}
	pieces := newLoading(factors, n)
	pieces.copy(&all)
	if err := s.loadBench(&all, d); err != nil {
		return nil, err
	}
	for i := range m.pieces {
		copy(m.pieces[i], pieces.own[i])
	}
	m.healthy.from(&all, s.y0)
	volts, leads := (d.reels+voltsFactor)*n, (d.reels+leadsFactor)*n
	x := newLoading(factors, n)
	amps, mean := make([]float64, n), make([]float64, n)
	for i, v := range vs {
		if v.how != altered {
			continue
		}
		x.copy(&all)
		x.sum(&each[v.branch], -1)
		b := &s.list[v.branch]
		for k := range n {
			amps[k] = math.Max(0, b.i[k]+v.delta[k]/v.gain[k])
			mean[k] = s.y0[k] + v.delta[k]
		}
		s.load(&x, d, v.branch, &v.law, amps, v.node, v.gain)
		for k := range n {
			if was := all.common[volts+k] * s.y0[k]; was != 0 {
				x.common[leads+k] = all.common[leads+k] * x.common[volts+k] * mean[k] / was
			}
		}
		m.of[i].from(&x, mean)
		m.of[i].unevenBy(v)
	}
	for i, v := range vs {
		if v.how != altered {
			m.scaled(i, s, v)
		}
	}
	m.unsureBelow()
	return m, nil
}

// Below faintPart of its highest draw a group is near its knees, where leakage and
// what no law holds count: nothing there is known to better than faintU of that
// draw, so that a faint reading never decides alone (common practice, no source).
const (
	faintPart = 0.03
	faintU    = 0.01
)

func (m *moments) unsureBelow() {
	top := slices.Max(m.healthy.mean)
	for k, a := range m.healthy.mean {
		if a >= faintPart*top {
			continue
		}
		v := make([]float64, m.n)
		v[k] = faintU * top
		m.healthy.widen(1, v)
		for i := range m.of {
			m.of[i].widen(1, v)
		}
	}
}

// load adds what one branch with a law contributes at its currents. The node gives way.
func (s *side) load(to *loading, d *uncertain, at int, l *law, amps, ohms, gain []float64) {
	n := len(s.volts)
	p := &d.parts[at]
	r := l.total()
	push := make([]float64, n)  // of the draw, for each volt in the branch
	curve := make([]float64, n) // its second derivative
	for k := range n {
		g, c := l.slope(amps[k], r)
		give := 1 + g*ohms[k]
		push[k] = gain[k] * g / give
		curve[k] = gain[k] * c / (give * give * give)
		to.common[(d.reels+voltsFactor)*n+k] += push[k] * s.bench.SetHalfV()
	}
	s.loadCurve(to, d, at, l, amps, ohms, gain, push)
	gone := make([]bool, len(p.leds))
	for _, k := range l.gone {
		gone[k] = true
	}
	one := make([]float64, n)
	for j := range p.leds {
		for k := range n {
			to.common[(d.reels+tempFactor)*n+k] -= push[k] * p.tempco[j] * s.bench.RoomOr().HalfC
			one[k] = -push[k]
		}
		if gone[j] {
			continue
		}
		to.quantity(&p.leds[j], one)
		for k := range n {
			to.bent(&p.leds[j], k, 0.5*curve[k])
		}
	}
	for k := range n {
		one[k] = -push[k] * amps[k] * l.scale
		if p.ohms.factor >= 0 {
			// d2i/dr2 = 2 i g^2 + m g^3 of the lumped law, g = di/dv.
			g, _ := l.slope(amps[k], r)
			give := 1 + g*ohms[k]
			to.bent(&p.ohms, k, 0.5*gain[k]*(2*amps[k]*g*g+l.m*g*g*g)/(give*give*give)*l.scale*l.scale)
		}
	}
	to.quantity(&p.ohms, one)
	for k := range n {
		g, _ := l.slope(amps[k], r)
		one[k] = gain[k] * amps[k] / (1 + g*ohms[k])
	}
	to.quantity(&p.spread, one)
}

// bent adds what half the second derivative over a quantity makes of its spread at a
// voltage: the same for all pieces of a reel, and each piece's own.
func (l *loading) bent(s *share, k int, half float64) {
	reel, own := half*s.common*s.common/3, half*s.own*s.own/3
	l.bend[k] += reel + own
	l.reel[k] += reel
	l.square[k] += own * own
}

// quantity adds an uncertain quantity with its sensitivity by voltage.
func (l *loading) quantity(s *share, by []float64) {
	if s.factor < 0 {
		return
	}
	n := len(by)
	for k, x := range by {
		l.common[s.factor*n+k] += s.common * x
		for j, y := range by {
			v := x * y / 3
			l.own[0][k*n+j] += s.own * s.own * v
			for i := 1; i < len(shareShifts); i++ {
				in := shifted(s.shared, shareShifts[i].logit)
				l.own[i][k*n+j] += (s.common*s.common + s.own*s.own) * (1 - in) * v
			}
		}
	}
}

// leastPlace: a piece in a joint that moves a draw by less than this part of it isn't followed
// from group to group (common practice, no source).
const leastPlace = 1e-3

// piece adds a quantity that isn't a branch's with its sensitivity by voltage: where several
// groups hang on it and it is felt, what it has of its own is a factor that they share.
func (l *loading) piece(q *wireParam, by, mean []float64) {
	x, felt := q.share, false
	for k, y := range mean {
		felt = felt || math.Abs(x.own*by[k]) >= leastPlace*y
	}
	if q.place >= 0 && felt {
		n := len(by)
		for k, y := range by {
			l.common[q.place*n+k] += x.own * math.Sqrt(q.alike) * y
		}
		x.own *= math.Sqrt(1 - q.alike)
	}
	l.quantity(&x, by)
}

func (l *loading) copy(o *loading) {
	copy(l.common, o.common)
	copy(l.bends, o.bends)
	copy(l.skews, o.skews)
	copy(l.both, o.both)
	for i := range l.own {
		copy(l.own[i], o.own[i])
	}
	copy(l.bend, o.bend)
	copy(l.reel, o.reel)
	copy(l.square, o.square)
}

func (l *loading) sum(o *loading, f float64) {
	for i, x := range o.common {
		l.common[i] += f * x
		l.bends[i] += f * o.bends[i]
		l.skews[i] = math.Max(0, l.skews[i]+f*o.skews[i])
		l.both[i] = math.Max(0, l.both[i]+f*o.both[i])
	}
	for s := range o.own {
		for i, x := range o.own[s] {
			l.own[s][i] += f * x
		}
	}
	for i, x := range o.bend {
		l.bend[i] += f * x
		l.reel[i] += f * o.reel[i]
		l.square[i] = math.Max(0, l.square[i]+f*o.square[i])
	}
}

// loadBench replaces the voltage's part by that of the whole circuit, and adds
// leads and wires, by differences.
func (s *side) loadBench(to *loading, d *uncertain) error {
	n := len(s.volts)
	perV, err := s.slopes()
	if err != nil {
		return err
	}
	for k, g := range perV {
		to.common[(d.reels+voltsFactor)*n+k] = g * s.bench.SetHalfV()
	}
	diff := make([]float64, n)
	change := func(h float64, set func(x float64)) error {
		up, down := make([]float64, n), make([]float64, n)
		set(h)
		if err := s.solveBoth(up); err != nil {
			return err
		}
		set(-h)
		if err := s.solveBoth(down); err != nil {
			return err
		}
		set(0)
		for k := range diff {
			diff[k] = (up[k] - down[k]) / (2 * h)
		}
		return nil
	}
	if half := s.bench.LeadsHalfOhm; half > 0 {
		h := math.Min(half, math.Max(s.bench.SeriesOhm(), 1e-3))
		base := math.Max(s.bench.SeriesOhm(), h)
		err := change(h, func(x float64) { s.setLeads(base + x) })
		s.setLeads(s.bench.SeriesOhm())
		if err != nil {
			return err
		}
		for k := range diff {
			to.common[(d.reels+leadsFactor)*n+k] += diff[k] * half
		}
	}
	for i := range d.wires {
		q := &d.wires[i]
		h := math.Max(math.Hypot(q.common, q.own), math.Abs(q.perK)*s.bench.RoomOr().HalfC)
		if h == 0 {
			continue
		}
		err := change(h, func(x float64) {
			s.w.Apply(q.index, x)
			if s.dark != nil {
				s.dark.Apply(q.index, x)
			}
		})
		if err != nil {
			return err
		}
		to.piece(q, diff, s.y0)
		for k := range diff {
			to.common[(d.reels+tempFactor)*n+k] += diff[k] * q.perK * s.bench.RoomOr().HalfC
		}
	}
	return s.solveBoth(diff)
}

func (s *side) setLeads(ohms float64) {
	for _, w := range []*wiring.Wired{s.w, s.dark} {
		if w != nil {
			w.Net.SetOhms(w.Meter, ohms)
		}
	}
}

// solveBoth solves lit and dark lanes.
func (s *side) solveBoth(into []float64) error {
	for k := range s.unlit {
		if err := s.unlit[k].solve(0); err != nil {
			return err
		}
	}
	return s.solveLit(into)
}

// missedPart of what slope and series resistance of a curve leave open at a voltage is
// what a law of two such figures doesn't hold, and a parabola in them: at each voltage
// another error (common practice, no source).
const missedPart = 0.35

// from writes the moments of a loading.
func (m *moment) from(l *loading, mean []float64) {
	for i := range m.own {
		copy(m.own[i], l.own[i])
	}
	for a := range mean {
		m.mean[a] = mean[a] + l.bend[a]
	}
	// The square of a normal deviation has twice its mean's square for a variance: what the
	// curvature adds to the mean is that uncertain itself, and no factor tells of it.
	m.widen(math.Sqrt2, l.reel)
	one := make([]float64, len(mean))
	for k, v := range l.square {
		clear(one)
		one[k] = math.Sqrt(v)
		m.widen(math.Sqrt2, one)
	}
	for i, x := range l.common {
		m.load[i] = x / math.Sqrt(3)
	}
	n := len(mean)
	missed := make([]float64, n)
	for f := 0; f < len(l.bends); f += n {
		row := l.bends[f : f+n]
		if slices.ContainsFunc(row, func(x float64) bool { return x != 0 }) {
			for a, x := range row {
				m.mean[a] += x
			}
			m.widen(math.Sqrt2, row)
			for a := range row {
				x := m.load[f+a]
				missed[a] += x*x + 2*row[a]*row[a]
			}
		}
		for _, off := range [...][]float64{l.skews[f : f+n], l.both[f : f+n]} {
			if slices.ContainsFunc(off, func(x float64) bool { return x > 0 }) {
				m.widen(1, off)
			}
		}
	}
	for k, v := range missed {
		clear(one)
		one[k] = math.Sqrt(v)
		m.widen(missedPart, one)
	}
	m.total()
}

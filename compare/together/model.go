package together

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// model is the readings that can be used, with the circuits to ask what a cause
// would do to them.
type model struct {
	p      *plan.Plan
	sides  []*side // one for each jack and for loose or not
	r      []reading
	groups []string    // those with a reading, in plan order
	wild   []string    // those with one that no common cause could make
	d      []float64   // measured less expected, A
	pieces [][]float64 // covariance of d from the model's side where nothing is wrong, A²
	meter  [][]float64 // … from the meter's
}

// side is the circuit behind one jack, joined or loose.
type side struct {
	w        *wiring.Wired
	loose    bool
	extraOhm float64 // between the meter and the model, beyond what a reading says
}

// reading is one Seen with its circuit.
type reading struct {
	Seen
	gi       int
	side     *side
	nominalA float64
	scale    float64 // from the nominal circuit to the expectation
}

func newModel(p *plan.Plan, seen []Seen) (*model, error) {
	m := &model{p: p}
	for _, loose := range []bool{false, true} {
		q := p
		if loose {
			q = apart(p)
		}
		for _, j := range p.Jacks {
			w, err := wiring.Build(q, j.Name, wiring.Options{})
			if err != nil {
				return nil, err
			}
			m.sides = append(m.sides, &side{w: w, loose: loose})
		}
	}
	for _, s := range seen {
		if err := m.add(s); err != nil {
			return nil, err
		}
	}
	for _, g := range p.Groups {
		if slices.ContainsFunc(m.r, func(r reading) bool { return r.Group == g.Name }) {
			m.groups = append(m.groups, g.Name)
		}
	}
	m.covariance()
	return m, nil
}

// wildTimes the expected draw, or the wrong way round: that is the group's own,
// and how large it is depends on what gives way first.
const wildTimes = 3

// add takes a reading in if it can be used.
func (m *model) add(s Seen) error {
	gi := slices.IndexFunc(m.p.Groups, func(g plan.Group) bool { return g.Name == s.Group })
	if gi < 0 || m.p.Groups[gi].AsFound || !(s.ExpectedA > 0) || !(s.MeasuredU >= 0) || !(s.ExpectedU >= 0) ||
		math.IsNaN(s.MeasuredA) || math.IsInf(s.MeasuredA, 0) ||
		slices.ContainsFunc(m.p.Groups[gi].Lights, func(l plan.Light) bool { return l.Kind == plan.Envelope }) {
		return nil
	}
	if s.MeasuredA > wildTimes*s.ExpectedA || s.MeasuredA < -s.ExpectedA/2 {
		if !slices.Contains(m.wild, s.Group) {
			m.wild = append(m.wild, s.Group)
		}
		return nil
	}
	for _, x := range m.sides {
		if x.loose != s.Loose || !x.w.Groups[gi].Here {
			continue
		}
		r := reading{Seen: s, gi: gi, side: x}
		var err error
		if r.nominalA, err = m.draw(r, 0); err != nil {
			return fmt.Errorf("group %q: %w", s.Group, err)
		}
		if !(r.nominalA > 0) {
			return nil // dark at this voltage: it tells nothing
		}
		r.scale = s.ExpectedA / r.nominalA
		m.r = append(m.r, r)
		m.d = append(m.d, s.MeasuredA-s.ExpectedA)
		return nil
	}
	return nil
}

// draw is what a reading would be with every part at its nominal value, the
// circuit as the caller left it and the supply off by offV. A.
func (m *model) draw(r reading, offV float64) (float64, error) {
	w := r.side.w
	g := m.p.Groups[r.gi]
	src := circuit.Source{EmfV: r.Volts + offV}
	w.Net.SetOhms(w.Meter, r.SeriesOhm+r.side.extraOhm)
	own := -1
	w.SetAll(false)
	w.LightAll(false)
	for i, t := range w.Terminals {
		if t.Group == r.gi || (t.Board >= 0 && m.p.Boards[t.Board].Name == g.Board) {
			own = i
			w.SetOn(i, true)
		} else if slices.Contains(r.On, t.Name) {
			w.SetOn(i, true)
		}
	}
	bi, oi, _ := wiring.OutputOf(m.p, g)
	light := func(on bool) {
		if oi >= 0 {
			w.SetLit(bi, oi, on)
		} else if own >= 0 {
			w.SetOn(own, on)
		}
	}
	light(true)
	if err := w.Solve(src); err != nil {
		return 0, err
	}
	amps := w.JackAmps(w.Point)
	if oi < 0 && len(r.On) == 0 {
		return amps, nil // alone: all of it
	}
	light(false)
	if err := w.Solve(src); err != nil {
		return 0, err
	}
	return amps - w.JackAmps(w.Point), nil
}

// effect is what the circuits as they stand make of the readings, with the
// supply off by offV: A more than expected. only: of these, the others 0; nil: of all.
func (m *model) effect(offV float64, only []bool) ([]float64, bool) {
	out := make([]float64, len(m.r))
	for i, r := range m.r {
		if only != nil && !only[i] {
			continue
		}
		a, err := m.draw(r, offV)
		if err != nil {
			return nil, false
		}
		out[i] = (a - r.nominalA) * r.scale
	}
	return out, true
}

// apart is the plan with every feed clipped at its own wire. The name of the
// return is no name that a plan can have.
func apart(p *plan.Plan) *plan.Plan {
	q := *p
	q.Joints, q.Returns = nil, nil
	for _, j := range p.Jacks {
		q.Returns = append(q.Returns, plan.Return{Name: "\x00" + j.Name, To: j.Name})
	}
	q.Boards = slices.Clone(p.Boards)
	for i, b := range q.Boards {
		q.Boards[i].Joint = jackOf(p, b.Joint)
		if b.Return != "" {
			q.Boards[i].Return = "\x00" + q.Boards[i].Joint
		}
	}
	q.Groups = slices.Clone(p.Groups)
	for i, g := range q.Groups {
		jack := jackOf(p, g.Joint)
		if g.Board != "" {
			for _, b := range p.Boards {
				if b.Name == g.Board {
					jack = jackOf(p, b.Joint)
				}
			}
		} else {
			q.Groups[i].Joint = jack
		}
		if g.Return != "" {
			q.Groups[i].Return = "\x00" + jack
		}
	}
	return &q
}

// jackOf walks up from a joint to its jack.
func jackOf(p *plan.Plan, joint string) string {
	for range len(p.Joints) {
		i := slices.IndexFunc(p.Joints, func(j plan.Joint) bool { return j.Name == joint })
		if i < 0 {
			break
		}
		joint = p.Joints[i].From
	}
	return joint
}

// How much of a doubt readings share, as variance; and what two readings of the
// same healthy pieces differ by, of the draw. Common practice, no source.
const (
	meterShare = 0.5   // an instrument's error is much the same in every reading
	benchShare = 0.5   // so are the supply's setting, the room and the leads
	pieceRel   = 0.003 // warm-up, clips
	// otherVolts: how alike the deviations of the same pieces are at two voltages,
	// as correlation; sameVolts: what counts as the same.
	otherVolts, sameVolts = 0.8, 0.05
	// trialsRel: what a Monte Carlo of 1000 trials leaves open of an expectation, of
	// its uncertainty: 1/sqrt(1000), and some.
	trialsRel = 0.04
)

// covariance fills pieces and meter: what the groups have each for themselves is
// common to the readings of one group, for they are the same pieces.
func (m *model) covariance() {
	n := len(m.r)
	m.pieces, m.meter = square(n), square(n)
	own, gain := make([]float64, n), make([]float64, n)
	bench := make([]float64, n)
	reels := make([]map[string]float64, n)
	for i, r := range m.r {
		rest, shared := r.ExpectedU*r.ExpectedU, r.BenchU*r.BenchU
		for _, q := range r.Reels {
			shared += q.CommonA * q.CommonA
		}
		// An expectation that learned from other groups shares less with them
		// than its plan: then the shared parts are held within it.
		f := 1.0
		if shared > 0.9*rest {
			f = math.Sqrt(0.9 * rest / shared)
		}
		// A reading far above what is due has a fault, and its doubt says nothing of
		// the others'.
		gain[i] = math.Sqrt(meterShare) * r.MeasuredU
		if a := math.Abs(r.MeasuredA); a > r.ExpectedA {
			gain[i] *= r.ExpectedA / a
		}
		own[i] = math.Sqrt(max(0, rest-f*f*shared))
		bench[i] = f * r.BenchU
		reels[i] = map[string]float64{}
		for _, q := range r.Reels {
			reels[i][q.Reel] += f * q.CommonA
		}
	}
	for i, r := range m.r {
		for j := range m.r {
			x := benchShare * bench[i] * bench[j]
			for reel, a := range reels[i] {
				x += a * reels[j][reel]
			}
			if r.gi == m.r[j].gi {
				x += own[i] * own[j]
			}
			if math.Abs(r.Volts-m.r[j].Volts) > sameVolts*r.Volts {
				x *= otherVolts
			}
			m.pieces[i][j] = x
			m.meter[i][j] = gain[i] * gain[j]
		}
		m.pieces[i][i] += (1-benchShare)*bench[i]*bench[i] + sq(pieceRel*r.ExpectedA) + sq(trialsRel*r.ExpectedU)
		m.meter[i][i] += r.MeasuredU*r.MeasuredU - gain[i]*gain[i] + leastVar
	}
}

// leastVar keeps a covariance positive definite, A².
const leastVar = 1e-14

// under is the covariance of the readings where a cause makes mean of them: a
// group that draws half shows half of what its pieces are off by, a dead one nothing.
func (m *model) under(mean []float64) [][]float64 {
	f := m.left(mean)
	out := square(len(m.r))
	for i := range out {
		for j := range out {
			out[i][j] = f[i]*f[j]*m.pieces[i][j] + m.meter[i][j]
		}
	}
	return out
}

// left is the share of its draw that a cause leaves to each reading.
func (m *model) left(mean []float64) []float64 {
	f := make([]float64, len(m.r))
	for i, r := range m.r {
		f[i] = 1
		if mean != nil {
			f[i] = max(0, 1+mean[i]/r.ExpectedA)
		}
	}
	return f
}

func sq(x float64) float64 { return x * x }

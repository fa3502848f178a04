package returns

import (
	"errors"
	"fmt"
	"math"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// Library holds what one plan and one signature expect of a sweep at given
// voltages: the healthy draw, what each fault makes of it, and how it answers
// to what nobody knows. It is made once for a set of voltages.
type Library struct {
	Volts       []float64    // V, at the model, rising
	HealthyA    []float64    // y0
	Hypotheses  []Hypothesis // all that may be wrong
	Notes       []string     // what couldn't be reckoned with, in plain words
	slopeA      []float64    // dI/dV
	warmA       []float64    // dI/dT, per K
	blinkA      []float64    // noise of a mean over blinkers, for a dwell of 1 s
	groups      []grown
	brownA      []float64 // what boards near and below their lowest voltage may do
	wholeIsKept bool
	keptU       []float64   // of HealthyA by its own fit; nil: not known
	meanA       float64     // of HealthyA over all voltages
	ageA        []float64   // per volt that each LED drops more, see aged
	agesA       [][]float64 // the same of each make alone
}

// NewLibrary prepares the diagnosis of sweeps at volts (at the model, rising),
// taken at a pace as Whole.Pace names it; empty is that of power-on. The error
// says what in the signature or the plan is missing.
func NewLibrary(p *plan.Plan, s *Signature, pace string, volts []float64, pr fault.ReturnPriors) (*Library, error) {
	p = p.InService()
	if len(volts) < 3 {
		return nil, fmt.Errorf("a sweep of %d voltages says too little: measure at least 3, better 14", len(volts))
	}
	for i, v := range volts {
		if !finite(v) || v <= 0 || (i > 0 && v <= volts[i-1]) {
			return nil, errors.New("the voltages of a sweep must rise")
		}
	}
	m, err := newModel(p, s, pace, volts)
	if err != nil {
		return nil, err
	}
	l := &Library{Volts: volts, HealthyA: make([]float64, len(volts)), blinkA: make([]float64, len(volts)),
		Notes: m.notes}
	for i := range s.Whole {
		if s.Whole[i].Pace == pace || pace == "" && i == 0 {
			sweep := s.Whole[i].Sweep
			if l.HealthyA, err = along(p, s, pace, m, sweep); err != nil {
				return nil, err
			}
			l.wholeIsKept = true
			if sweep.U != nil {
				l.keptU = Curve{Volts: sweep.Volts, Amps: sweep.U}.at(volts)
			}
		}
	}
	if !l.wholeIsKept {
		for _, g := range m.groups {
			l.HealthyA = added(l.HealthyA, scaled(g.duty, g.amps))
		}
		for _, b := range m.boards {
			l.HealthyA = added(l.HealthyA, b.dark)
		}
		l.Notes = append(l.Notes, "no sweep of the whole model was kept at this pace: the sum of its groups stands in")
	}
	for _, g := range m.groups {
		l.groups = append(l.groups, grown{scaled(g.duty, g.shape), scaled(g.duty, g.slopeA), scaled(g.duty, g.warm),
			g.duty * g.shape[len(g.shape)-1], g.ledsByMake(volts)})
		if g.periodS > 0 {
			for i, a := range g.amps {
				l.blinkA[i] = math.Hypot(l.blinkA[i], 0.3*a*math.Sqrt(g.duty*(1-g.duty))*g.periodS)
			}
		}
	}
	l.brownA = m.brown()
	l.slopeA = make([]float64, len(volts))
	for _, g := range l.groups {
		l.slopeA = added(l.slopeA, g.slopeA)
	}
	for _, b := range m.boards {
		l.slopeA = added(l.slopeA, slope(volts, b.dark))
	}
	for _, a := range l.HealthyA {
		l.meanA += a / float64(len(l.HealthyA))
	}
	l.warmA = m.warm
	l.ageA, l.agesA = l.aged()
	l.Hypotheses, err = m.hypotheses(l.HealthyA, pr)
	if err != nil {
		return nil, err
	}
	share(pr, l.Hypotheses)
	return l, nil
}

// grown is how the mean draw of a group answers to drift of its own.
type grown struct {
	amps, slopeA, warmA []float64
	topA                float64            // of amps at service voltage
	leds                map[string]float64 // in series, in the mean of its branches, by make
}

// along interpolates a sweep that was kept at few voltages: not itself, since
// knees lie between them, but what it differs by from the sum of the groups'
// shapes.
func along(p *plan.Plan, s *Signature, pace string, m *model, sweep Curve) ([]float64, error) {
	there, err := newModel(p, s, pace, sweep.Volts)
	if err != nil {
		return nil, err
	}
	rest := Curve{Volts: sweep.Volts, Amps: minus(sweep.Amps, there.shape())}
	return added(m.shape(), rest.at(m.volts)), nil
}

// nuisance scales the sensitivities by what is unknown of each.
type nuisance struct {
	name string
	j    []float64
}

// nuisances are independent of each other, each of a standard deviation of 1; of what a
// resistor tells that was read twice each holds a part of the three it's about.
func (l *Library) nuisances(n Nuisances) []nuisance {
	out := l.free(n)
	if k, ok := n.known(); ok {
		var js [3][]float64
		for i, at := range resistorTells {
			js[i] = out[at].j
		}
		for i, at := range resistorTells {
			out[at].j = k.mixed(js, i)
		}
	}
	return out
}

// expected is the healthy draw by what is known of the room, of its years and of the meters.
func (l *Library) expected(n Nuisances) []float64 {
	out := added(added(l.HealthyA, scaled(n.ShiftK, l.warmA)), scaled(n.AgedV, l.ageA))
	if k, ok := n.known(); ok {
		free := l.free(n)
		for i, at := range resistorTells {
			out = added(out, scaled(k.mean[i], free[at].j))
		}
	}
	return out
}

// free are the nuisances as they are without a resistor that was read twice.
func (l *Library) free(n Nuisances) []nuisance {
	ones := make([]float64, len(l.Volts))
	jack := make([]float64, len(l.Volts))
	for i := range ones {
		ones[i] = 1
		jack[i] = -l.slopeA[i] * l.HealthyA[i]
	}
	out := []nuisance{
		{"gain", scaled(n.GainRel, l.HealthyA)},
		{"offset", scaled(n.OffsetA, ones)},
		{"temperature", scaled(n.TempK, l.warmA)},
		{"set voltage", scaled(n.SetV, l.slopeA)},
		{"jack", scaled(n.JackOhm, jack)},
	}
	if n.AgeV > 0 {
		out = append(out, nuisance{"age", scaled(n.AgeV, l.ageA)})
	}
	for _, a := range l.agesA {
		if n.AgeMakeV > 0 {
			out = append(out, nuisance{"", scaled(n.AgeMakeV, a)})
		}
	}
	for _, g := range l.groups {
		if n.DriftRel > 0 {
			out = append(out, nuisance{"", scaled(n.DriftRel, g.amps)})
		}
		if n.DriftV > 0 {
			out = append(out, nuisance{"", scaled(n.DriftV, g.slopeA)})
		}
		if u := n.DriftTemp * n.ShiftK / math.Sqrt(3); u != 0 {
			out = append(out, nuisance{"", scaled(u, g.warmA)})
		}
	}
	return out
}

// noise is the standard deviation of each point on its own. u is that of each
// mean of the return; nil: what blinks over the dwell is reckoned with.
func (l *Library) noise(n Nuisances, dwellS float64, u []float64) []float64 {
	out := make([]float64, len(l.Volts))
	both := 1.0
	if l.wholeIsKept {
		both = math.Sqrt2 // what was kept is a reading, too
	}
	for i := range out {
		x := math.Hypot(n.RepeatRel*l.HealthyA[i], n.FloorA)
		x = both * math.Hypot(x, n.ReadV*l.slopeA[i])
		if u == nil && dwellS > 0 {
			x = math.Hypot(x, both*l.blinkA[i]/dwellS)
		}
		out[i] = n.NoiseBy * math.Hypot(x, l.brownA[i])
		if u != nil {
			out[i] = math.Hypot(out[i], u[i])
			if l.keptU != nil {
				out[i] = math.Hypot(out[i], l.keptU[i])
			}
		}
	}
	return out
}

// shapeV is over how many volts an error of a sensitivity hangs together: what a
// group's sweep leaves open of a knee.
const shapeV = 0.45

// discrepancy is the covariance of what the sensitivities themselves are off by:
// a share of all that they may make at each voltage, much the same at voltages
// near each other. nil: none.
func (l *Library) discrepancy(n Nuisances) func(i, j int) float64 {
	if n.ShapeRel <= 0 {
		return nil
	}
	size := scaled(n.ShapeRel*n.ShiftK, l.warmA)
	for i := range size {
		sum := size[i] * size[i]
		for _, x := range l.free(n) {
			if x.name != "" && x.name != "gain" && x.name != "offset" {
				sum += math.Pow(n.ShapeRel*x.j[i], 2)
			}
		}
		size[i] = math.Sqrt(sum)
	}
	return func(i, j int) float64 {
		d := (l.Volts[i] - l.Volts[j]) / shapeV
		return size[i] * size[j] * math.Exp(-d*d/2)
	}
}

// unknownCovariance is that of a smooth deviation of nobody knows what.
func (l *Library) unknownCovariance() func(i, j int) float64 {
	s := math.Pow(0.05*l.meanA, 2)
	return func(i, j int) float64 {
		d := l.Volts[i] - l.Volts[j]
		return s * math.Exp(-d*d/(2*2*2))
	}
}

package returns

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// model joins what the plan knows of each group's inside with what was
// measured of it as built: nominal shapes, as-built sizes.
type model struct {
	p        *plan.Plan
	w        *wiring.Wired
	volts    []float64
	groups   []builtGroup
	boards   []builtBoard
	warm     []float64
	notes    []string
	planned  []string // groups of which only the plan tells
	topV     float64
	serviceV float64 // of the jack
}

// builtGroup is one group as built, at the voltages of the sweep.
type builtGroup struct {
	i       int // in the plan
	g       plan.Group
	board   int       // in the plan; -1: none
	amps    []float64 // while lit, as built
	nominal []float64 // the same by the plan; all zero where it isn't known
	curve   Curve     // as built over all voltages, for what lies behind a resistor
	duty    float64   // share of time lit at the pace of the sweep
	periodS float64
	// inWhole is what the whole model draws more with it than without: less than
	// it draws alone, since the others' drop in the common wires shares.
	inWhole []float64
	ratio   []float64 // inWhole against shape
	planned []float64 // what it draws in the whole model by the plan
	seenV   []float64 // at which, alone, it draws what it draws in the whole model
	onA     float64   // inWhole at service voltage
	// along is its draw as built at any voltage; of one that was hardly measured by
	// the plan's shape. nil: the plan doesn't know its inside.
	along func(volts []float64) ([]float64, error)
	// factor and shiftV bring the nominal curve onto the one as built.
	factor, shiftV float64
	shape          []float64 // what it draws in the whole model, as built
	warm           []float64 // dI/dT while lit
	slopeA         []float64 // dI/dV while lit
}

type builtBoard struct {
	i    int
	b    plan.Board
	dark []float64
}

// enough points make a curve of their own; fewer only scale the nominal one.
const enoughPoints = 5

func newModel(p *plan.Plan, s *Signature, pace string, volts []float64) (*model, error) {
	jack := s.Jack
	if jack == "" && len(p.Jacks) > 0 {
		jack = p.Jacks[0].Name
	}
	o := wiring.Options{AmbientC: s.AmbientC}
	w, err := wiring.Build(p, jack, o)
	if err != nil {
		return nil, err
	}
	warmer := o.RoomC() + 1
	o.AmbientC = &warmer
	hot, err := wiring.Build(p, jack, o)
	if err != nil {
		return nil, err
	}
	m := &model{p: p, w: w, volts: volts, serviceV: JackOf(p, s).Volts, warm: make([]float64, len(volts)),
		topV: volts[len(volts)-1]}
	for i, g := range p.Groups {
		if !w.Groups[i].Here && !g.AsFound {
			continue
		}
		if p.JackOf(p.JointOf(g)) != jack {
			continue
		}
		if err := m.addGroup(s, i, pace); err != nil {
			return nil, err
		}
	}
	if err := m.inPlace(hot); err != nil {
		return nil, err
	}
	if m.planned != nil {
		m.notes = append(m.notes, "nobody measured alone, before it left: "+strings.Join(m.planned, ", ")+
			"; what the plan expects is taken instead")
	}
	for i, b := range p.Boards {
		if p.JackOf(b.Joint) != jack {
			continue
		}
		if err := m.addBoard(s, i); err != nil {
			return nil, err
		}
	}
	if len(m.groups) == 0 {
		return nil, fmt.Errorf("nothing hangs on jack %q", jack)
	}
	return m, nil
}

// addGroup takes one group with its nominal curve, cold and warm.
func (m *model) addGroup(s *Signature, i int, pace string) error {
	g := m.p.Groups[i]
	b := builtGroup{i: i, g: g, board: slices.IndexFunc(m.p.Boards,
		func(x plan.Board) bool { return x.Name == g.Board }), duty: 1, factor: 1}
	var err error
	if b.nominal, err = alone(m.w, i, b.board, m.volts); err != nil {
		return err
	}
	kept, _ := s.Group(g.Name)
	if l, ok := kept.level(paceOf(pace, g.Board)); ok && b.board >= 0 && l.PeriodS > 0 {
		b.duty, b.periodS = l.Duty, l.PeriodS
	}
	known := !g.AsFound && slices.Max(b.nominal) > 0
	switch n := len(kept.Lit.Volts); {
	case n >= enoughPoints:
		b.amps, b.curve = kept.Lit.at(m.volts), kept.Lit
		if known {
			if err := m.calibrate(&b, kept.Lit); err != nil {
				return err
			}
			if err := m.alongShape(&b, kept.Lit); err != nil {
				return err
			}
		}
	case n > 0 && known:
		nominal, err := alone(m.w, i, b.board, kept.Lit.Volts)
		if err != nil {
			return err
		}
		b.amps = scaleBy(kept.Lit, nominal, m.volts, b.nominal)
		b.curve = Curve{Volts: m.volts, Amps: b.amps}
	case n > 0:
		b.amps, b.curve = kept.Lit.at(m.volts), kept.Lit
	case known:
		b.amps, b.curve = b.nominal, Curve{Volts: m.volts, Amps: b.nominal}
		m.planned = append(m.planned, strconv.Quote(g.Name))
	default:
		m.notes = append(m.notes, fmt.Sprintf("nothing is known of %q: a fault in it is an unknown one", g.Name))
		return nil
	}
	b.onA = b.amps[len(b.amps)-1]
	b.shape, b.seenV = b.amps, m.volts
	b.warm, b.slopeA = warmGuess(m.volts, b.amps), slope(m.volts, b.amps)
	if known && b.along == nil {
		b.along = func(volts []float64) ([]float64, error) { return m.shapeAt(b, volts) }
	}
	m.groups = append(m.groups, b)
	return nil
}

// kneeOf is where a draw sets in.
func kneeOf(volts, amps []float64) float64 {
	top := slices.Max(amps)
	for i, a := range amps {
		if a > 0.01*top {
			return volts[i]
		}
	}
	return 0
}

// shape is the draw of the whole model by its groups, as finely as the plan
// knows it: what a sweep of few voltages is interpolated along.
func (m *model) shape() []float64 {
	out := make([]float64, len(m.volts))
	for _, g := range m.groups {
		out = added(out, scaled(g.duty, g.shape))
	}
	return out
}

// warmGuess is dI/dT of a group of which no plan is known: -2 mV/K for each
// 2 V of its turn-on voltage (from memory, a typical LED).
func warmGuess(volts, amps []float64) []float64 {
	return scaled(0.002*math.Max(1, kneeOf(volts, amps)/2), slope(volts, amps))
}

// addBoard takes one board with every output dark.
func (m *model) addBoard(s *Signature, i int) error {
	b := builtBoard{i: i, b: m.p.Boards[i]}
	nominal, err := darkBoard(m.w, i, m.volts)
	if err != nil {
		return err
	}
	b.dark = nominal
	if kept, ok := s.board(b.b.Name); ok && len(kept.Dark.Volts) > 0 {
		if len(kept.Dark.Volts) >= enoughPoints {
			b.dark = kept.Dark.at(m.volts)
		} else {
			x, err := darkBoard(m.w, i, kept.Dark.Volts)
			if err != nil {
				return err
			}
			b.dark = scaleBy(kept.Dark, x, m.volts, nominal)
		}
	}
	m.boards = append(m.boards, b)
	return nil
}

// solved sweeps the circuit as it is switched and gives the draw at the jack.
func solved(w *wiring.Wired, volts []float64) ([]float64, error) {
	out := make([]float64, len(volts))
	for i, v := range volts {
		if v <= 0 {
			continue
		}
		if err := w.Solve(circuit.Source{EmfV: v}); err != nil {
			return nil, fmt.Errorf("at %.2f V: %w", v, err)
		}
		out[i] = w.JackAmps(w.Point)
	}
	return out, nil
}

// alone is the nominal draw of a group lit on its own; on a board what its
// output adds.
func alone(w *wiring.Wired, group, board int, volts []float64) ([]float64, error) {
	if board < 0 {
		w.Alone(group)
		return solved(w, volts)
	}
	dark, err := darkBoard(w, board, volts)
	if err != nil {
		return nil, err
	}
	w.Alone(group)
	lit, err := solved(w, volts)
	if err != nil {
		return nil, err
	}
	w.LightAll(false)
	return minus(lit, dark), nil
}

// darkBoard is the nominal draw of a board with every output dark.
func darkBoard(w *wiring.Wired, board int, volts []float64) ([]float64, error) {
	w.SetAll(false)
	w.LightAll(false)
	for t, x := range w.Terminals {
		if x.Board == board {
			w.SetOn(t, true)
		}
	}
	return solved(w, volts)
}

// Boards below their lowest voltage: nobody specifies what they do there. Near
// it they may run or not, further down they draw about what they drew
// (common practice, no source).
const (
	brownNear = 0.05 // of the lowest voltage
	brownRel  = 0.01
)

// brown is how far the draw of boards may be off near and below their lowest
// voltage, standard deviation.
func (m *model) brown() []float64 {
	out := make([]float64, len(m.volts))
	for _, b := range m.boards {
		low := b.b.LowVolts
		if low <= 0 {
			continue
		}
		at := Curve{Volts: m.volts, Amps: b.dark}.at([]float64{low * (1 + 2*brownNear)})[0]
		for _, g := range m.groups {
			if g.board == b.i {
				at += g.duty * (Curve{Volts: m.volts, Amps: g.amps}.at([]float64{low}))[0]
			}
		}
		for i, v := range m.volts {
			switch {
			case math.Abs(v-low) <= brownNear*low:
				out[i] = math.Hypot(out[i], at)
			case v < low:
				out[i] = math.Hypot(out[i], brownRel*at)
			}
		}
	}
	return out
}

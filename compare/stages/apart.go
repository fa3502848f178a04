package stages

import (
	"errors"
	"fmt"
	"math"

	"sealworthy/compare/blink"
	"sealworthy/compare/plan"
)

// Apart is a trace taken into what is always lit and what blinks.
type Apart struct {
	BaseA float64 `json:"base_a"` // with everything dark that blinks
	BaseU float64 `json:"base_u"`
	// Known is false where outputs take turns without a dark moment: then base
	// and steps aren't determined one by one, only MeanA is.
	Known bool `json:"known"`
	// MeanA is the draw over whole periods: base, and each step times its duty.
	MeanA  float64 `json:"mean_a"`
	MeanU  float64 `json:"mean_u"`
	Clocks []Clock `json:"clocks,omitempty"`
	// NoiseA is the standard deviation of readings without an edge in them.
	NoiseA float64 `json:"noise_a"`
	// Poor: base and blinkers don't account for the readings, something else
	// changes as well.
	Poor    bool    `json:"poor,omitempty"`
	WindowS float64 `json:"window_s"`
}

// Clock is what blinks in one time: a board whose outputs run together or in
// turn, or one output that runs free.
type Clock struct {
	Board   string    `json:"board"`
	Alike   string    `json:"alike,omitempty"` // another board that blinks too alike to be told apart
	PeriodS float64   `json:"period_s"`
	PeriodU float64   `json:"period_u"`
	StartS  float64   `json:"start_s"` // a period begins here, at or before the first reading
	Blinks  []Blinker `json:"blinks"`
}

// Blinker is one output in a trace.
type Blinker struct {
	Name   string   `json:"name"` // its groups
	Groups []string `json:"groups"`
	Output int      `json:"output"`
	// Spans are when it is lit, in fractions of the period from its start; they
	// may reach past 1.
	Spans  [][2]float64 `json:"spans"`
	Duty   float64      `json:"duty"`
	StepA  float64      `json:"step_a"` // added while lit
	StepU  float64      `json:"step_u"`
	BuiltA float64      `json:"built_a"` // what was to be expected of it
	State  State        `json:"state"`
	Why    string       `json:"why,omitempty"`
}

// State is what an output does. The zero State is none.
type State string

// The states of an output, in the words of the pictures.
const (
	Runs      State = "runs"
	StaysLit  State = "stays lit"
	StaysDark State = "stays dark"
	Unsettled State = "can't tell"
)

// Lit is the share of the window that ends at t in which the output is lit.
func (b Blinker) lit(c Clock, t, windowS float64) float64 {
	return blink.LitOf(b.Spans, (t-c.StartS)/c.PeriodS, windowS/c.PeriodS)
}

// At is what a meter reads at t, the end of its window, by this fit. An output
// that doesn't run is in the base.
func (a Apart) At(t float64) float64 {
	sum := a.BaseA
	for _, c := range a.Clocks {
		for _, b := range c.Blinks {
			sum += b.StepA * b.lit(c, t, a.WindowS)
		}
	}
	return sum
}

// spansOf is when an output is lit within its period, with its duty moved by a
// little where the pace is a plain one.
func (m *model) spansOf(o output, moreDuty float64) [][2]float64 {
	b := m.p.Boards[o.board]
	shift := 0.0
	if b.Run == plan.Alternate {
		shift = float64(o.ats[0]) / float64(len(b.Outputs))
	}
	p := o.pace
	if len(p.Flashes) == 0 {
		p.Duty = math.Min(0.99, math.Max(0.01, p.Duty+moreDuty))
	}
	return p.Spans(shift)
}

// Figures of the states.
const (
	runsAbove = 0.5  // of the step to be expected: above, it runs
	sureBy    = 3    // standard uncertainties from that
	poorFit   = 0.01 // scatter about the fit, as a share of the draw
	planRelU  = 0.05 // of a base that only the plan knows
)

// Apart takes the trace of a reading apart. built is how the same model was
// when it was known to be good; nil takes the plan's word for it, which tells
// an output that stays lit from one that stays dark less surely.
func (c *Comparer) Apart(x Reading, built *Apart) (Apart, error) {
	m, err := newModel(c.plan, x)
	if err != nil {
		return Apart{}, err
	}
	want, err := m.draws(x.conditions())
	if err != nil {
		return Apart{}, err
	}
	return m.apart(x, want, built)
}

func (m *model) apart(x Reading, want []float64, built *Apart) (Apart, error) {
	if len(x.Trace) < leastReadings {
		return Apart{}, errors.New("too few readings to take a trace apart")
	}
	base, baseU := want[0], planRelU*want[0]
	if built != nil {
		base, baseU = m.asBuilt(want, built)
	}
	f, err := newFitter(m, x, want[1:])
	if err != nil {
		return Apart{}, err
	}
	f.run()
	a := f.result()
	a.WindowS = x.WindowS
	a.Poor = a.NoiseA > poorFit*math.Abs(a.MeanA)
	a.settle(base, baseU)
	return a, nil
}

// asBuilt brings what a model was when it was good into want, and gives its base.
func (m *model) asBuilt(want []float64, built *Apart) (base, baseU float64) {
	for k, o := range m.outputs {
		for _, c := range built.Clocks {
			for _, b := range c.Blinks {
				if c.Board == m.p.Boards[o.board].Name && b.Output == o.number(m.p) && b.State == Runs {
					want[k+1] = b.StepA
				}
			}
		}
	}
	if !built.Known {
		return want[0], planRelU * want[0]
	}
	// Another day, another bench: half a per cent.
	return built.BaseA, math.Hypot(built.BaseU, 0.005*built.BaseA)
}

// settle says of each output whether it runs; of those that don't, the base
// tells which are lit.
func (a *Apart) settle(baseA, baseU float64) {
	var idle []*Blinker
	spanKnown := func(b Blinker) bool { return b.BuiltA > 0 }
	for i := range a.Clocks {
		for k := range a.Clocks[i].Blinks {
			b := &a.Clocks[i].Blinks[k]
			limit := runsAbove * b.BuiltA
			switch {
			case a.Clocks[i].Alike != "":
				b.State, b.Why = Unsettled, fmt.Sprintf("%q blinks too alike to be told apart: read for longer", a.Clocks[i].Alike)
			case !spanKnown(*b) || a.Poor:
				b.State, b.Why = Unsettled, "something else changes as well"
			case math.Abs(b.StepA-limit) < sureBy*b.StepU:
				b.State, b.Why = Unsettled, "its step is too uncertain"
			case b.StepA > limit:
				b.State, b.Why = Runs, "its step is there"
			default:
				b.State, b.Why = Unsettled, "its step is not there; whether it is lit or dark the base can't tell"
				idle = append(idle, b)
			}
		}
	}
	if len(idle) == 0 || len(idle) > 8 {
		return
	}
	u := math.Hypot(a.BaseU, baseU)
	if len(idle) == 1 {
		// However much it draws now that it doesn't blink: more than half its step
		// is lit, less is dark.
		switch b, over := idle[0], a.BaseA-baseA; {
		case over-sureBy*u > runsAbove*b.BuiltA:
			b.State, b.Why = StaysLit, "its step is not there and the draw is higher instead"
		case over+sureBy*u < runsAbove*b.BuiltA:
			b.State, b.Why = StaysDark, "its step is not there and nothing is added"
		}
		return
	}
	always, ever, fits := ^uint(0), uint(0), false
	for set := range uint(1) << len(idle) {
		sum := baseA
		for j, b := range idle {
			if set&(1<<j) != 0 {
				sum += b.BuiltA
			}
		}
		if math.Abs(a.BaseA-sum) <= sureBy*u {
			always, ever, fits = always&set, ever|set, true
		}
	}
	for j, b := range idle {
		switch bit := uint(1) << j; {
		case !fits:
		case always&bit != 0:
			b.State, b.Why = StaysLit, "its step is not there and the draw is higher by it"
		case ever&bit == 0:
			b.State, b.Why = StaysDark, "its step is not there and nothing is added"
		}
	}
}

// samples of a trace as plain columns.
func columns(t []blink.Sample) (at, y []float64) {
	for _, s := range t {
		at, y = append(at, s.AtS), append(y, s.Amps)
	}
	return at, y
}

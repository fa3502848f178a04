package load

import (
	"math"
	"math/rand/v2"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// Law names the device law that a model's parts follow.
type Law string

// The laws. The zero Law is PlanLaw.
const (
	// PlanLaw is the law that the plan's points are read by, a little bent.
	PlanLaw Law = "plan"
	// OtherLaw is one that nothing but the simulated bench knows. It shares no code
	// with the law of package circuit: each make of LED has an ideality of 1.2 to 4
	// and 0 to 30 ohm in series, all its pieces the same; LEDs and resistors warm up.
	// At service voltage a make draws what the plan says, within its tolerance.
	OtherLaw Law = "other"
)

// Figures of the other law: invented, but for what they hold. Ideality and series
// resistance of the LED models that are published for circuit simulators run from
// 1.5 and 6 ohm to 7.5 and none.
const (
	thermalV      = 0.025693 // kT/q at 25 degC (2019 SI)
	leastIdeality = 1.2
	mostIdeality  = 4.0
	mostSeriesOhm = 30.0
	// mostSeriesV keeps large chips from 30 ohm: 30 ohm is for one of 20 mA.
	mostSeriesV  = 0.6
	curveTries   = 64
	leastWarm    = 0.01 // by which a draw at service voltage rises until it's warm
	mostWarm     = 0.03
	mostRiseK    = 40.0
	heldRiseK    = 20.0
	leastTauS    = 40.0
	mostTauS     = 240.0
	leastOhmPerK = -4e-4 // of a resistor: carbon film falls, thick film goes either way; common practice, no source
	mostOhmPerK  = 1e-4
	// Regulators: invented, but for 98 % of the current at the voltage stated.
	kneeOfHold    = 0.203 // v/sqrt(v^2 + knee^2) is .98 at v
	leastKnee     = 0.7
	mostKnee      = 1.3
	mostPerV      = 0.003 // by which its current rises with each volt
	leastHeldPerK = -1e-3
	mostHeldPerK  = 2e-4
	protectionV   = 0.70 // of a protection diode at 20 mA; common practice, no source
	protectionA   = 0.020
	protectionOf  = 1.8 // its ideality
)

// working is where a make of LED works in the plan: one of its volts at amps.
type working struct{ amps, volts float64 }

// otherLaw holds what the makes of a model are like.
type otherLaw struct {
	model  *warmth
	makes  map[string]junction
	perK   map[string]float64   // of the resistors, by light's part
	rise   map[[2]int]float64   // K, by group and light
	held   map[string]holder    // by light's part, as multiples of what its plan says
	volts  map[string][]working // by make
	spread map[string]float64   // V, by make
	lights map[[2]int][]working // by group and light: its LEDs where they work
	order  []string             // makes, as the plan has them
}

// makeOf names the make of an LED in a light: that of the part which it comes in.
func makeOf(l plan.Light, k int) string {
	if l.Kind == plan.LEDs {
		return l.Series[k].Part
	}
	return l.Part + " / " + l.Series[k].Part
}

// newOtherLaw draws makes for a plan.
func newOtherLaw(p *plan.Plan, o Options, seed uint64) (*otherLaw, error) {
	r := rand.New(rand.NewPCG(seed, 0x07e4))
	x := &otherLaw{makes: map[string]junction{}, perK: map[string]float64{},
		rise: map[[2]int]float64{}, held: map[string]holder{},
		volts: map[string][]working{}, spread: map[string]float64{}, lights: map[[2]int][]working{}}
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	x.model = &warmth{tauS: between(leastTauS, mostTauS)}
	warm := between(leastWarm, mostWarm)
	for _, j := range p.Jacks {
		w, err := wiring.Build(p, j.Name, wiring.Options{AmbientC: o.AmbientC})
		if err != nil {
			return nil, err
		}
		if err := x.look(w, j.Volts); err != nil {
			return nil, err
		}
	}
	for _, name := range x.order {
		x.makes[name] = x.draw(x.volts[name], x.spread[name], between)
	}
	for gi, g := range p.Groups {
		for li, l := range g.Lights {
			if _, ok := x.perK[l.Part]; !ok {
				x.perK[l.Part] = between(leastOhmPerK, mostOhmPerK)
			}
			if _, ok := x.held[l.Part]; l.Held() && !ok {
				x.held[l.Part] = holder{kneeV: kneeOfHold * between(leastKnee, mostKnee),
					perV: between(0, mostPerV), perK: between(leastHeldPerK, mostHeldPerK)}
			}
			if at := x.lights[[2]int{gi, li}]; len(at) > 0 {
				x.rise[[2]int{gi, li}] = x.warmUp(l, at, warm)
			}
		}
	}
	return x, nil
}

// look notes where every LED of a circuit works at service voltage, each group
// alone: that is what the plan says of it.
func (x *otherLaw) look(w *wiring.Wired, volts float64) error {
	for gi, g := range w.Groups {
		if !g.Here {
			continue
		}
		w.Alone(gi)
		if err := w.Solve(circuit.Source{EmfV: volts}); err != nil {
			return err
		}
		seen := map[int]bool{}
		for _, br := range g.Branches {
			l := w.Plan.Groups[gi].Lights[br.Light]
			if seen[br.Light] {
				continue
			}
			seen[br.Light] = true
			for k, led := range l.Series {
				at := working{w.Point.BranchA[br.ID], w.Net.LEDVolts(w.Point, br.ID, k)}
				if dark := at.amps < 1e-6; dark || l.Kind != plan.LEDs {
					// A part sold with its resistor is stated at its rated voltage.
					d := w.Net.LED(br.ID, k).Diode
					at = working{led.Points[0].Amps, led.Points[0].Volts + d.ShiftV}
				}
				name := makeOf(l, k)
				if len(x.volts[name]) == 0 {
					x.order = append(x.order, name)
				}
				x.volts[name] = append(x.volts[name], at)
				x.spread[name] = led.Volts.HalfWidth
				x.lights[[2]int{gi, br.Light}] = append(x.lights[[2]int{gi, br.Light}], at)
			}
		}
	}
	w.SetAll(true)
	return nil
}

// draw draws ideality and series resistance of a make until it works within a
// quarter of its stated spread wherever the plan has it, or takes the one that
// comes nearest to it.
func (x *otherLaw) draw(at []working, spreadV float64, between func(low, high float64) float64) junction {
	top := 0.0
	for _, p := range at {
		top = math.Max(top, p.amps)
	}
	var best junction
	least := math.Inf(1)
	for range curveTries {
		slope := thermalV * between(leastIdeality, mostIdeality)
		series := math.Min(between(0, mostSeriesOhm), mostSeriesV/top)
		low, high := math.Inf(1), math.Inf(-1)
		for _, p := range at {
			off := p.volts - slope*math.Log(p.amps) - series*p.amps
			low, high = math.Min(low, off), math.Max(high, off)
		}
		if (high-low)/2 < least {
			least = (high - low) / 2
			best = junction{slopeV: slope, seriesOhm: series, saturationA: math.Exp(-(low + high) / 2 / slope)}
		}
		if least <= 0.25*spreadV {
			break
		}
	}
	return best
}

// warmUp is by how many kelvin a light must warm to draw a fraction more, at most
// mostRiseK.
func (x *otherLaw) warmUp(l plan.Light, at []working, fraction float64) float64 {
	c := x.chain(l, nil)
	c.model = &warmth{now: 1}
	b := circuit.Branch{Ohms: l.Ohms.Nominal, Factor: 1}
	volts := l.Ohms.Nominal * at[0].amps
	for k, p := range at {
		b.LEDs = append(b.LEDs, circuit.LED{})
		v, _ := c.leds[k].at(p.amps)
		volts += v
	}
	if l.Held() {
		return heldRiseK // its regulator makes up for what the LEDs do
	}
	low, high := 0.0, mostRiseK
	for range 40 {
		c.riseK = (low + high) / 2
		if i, _ := c.Amps(b, volts); i > at[0].amps*(1+fraction) {
			high = c.riseK
		} else {
			low = c.riseK
		}
	}
	return high
}

// chain is the branch of a light; diodes are those wired for its LEDs, nil: none.
func (x *otherLaw) chain(l plan.Light, diodes []circuit.Diode) *chain {
	c := &chain{model: x.model, ohmPerK: x.perK[l.Part], planned: diodes}
	if diodes == nil {
		c.planned = make([]circuit.Diode, len(l.Series))
	}
	for k, led := range l.Series {
		c.leds = append(c.leds, x.makes[makeOf(l, k)])
		c.perK = append(c.perK, led.TempcoVPerK)
	}
	if l.Held() {
		// What the plan says flows at rated voltage.
		c.reg = x.held[l.Part]
		c.reg.kneeV *= l.Regulator.HoldVolts
		v := l.RatedVolts
		for _, d := range l.Series {
			v -= d.Volts.Nominal
		}
		c.reg.amps = 1
		now, _ := c.reg.at(v, 0)
		c.reg.amps = l.Regulator.Amps / now
	}
	return c
}

// apply gives every branch of a circuit its law.
func (x *otherLaw) apply(w *wiring.Wired) {
	for gi, g := range w.Groups {
		lights := map[int]*chain{}
		give := func(light int, id circuit.BranchID) {
			c := lights[light]
			if c == nil {
				var diodes []circuit.Diode
				for k := range w.Net.LEDs(id) {
					diodes = append(diodes, w.Net.LED(id, k).Diode)
				}
				c = x.chain(w.Plan.Groups[gi].Lights[light], diodes)
				c.riseK = x.rise[[2]int{gi, light}]
				lights[light] = c
			}
			w.Net.SetBranchLaw(id, c)
		}
		for _, br := range g.Branches {
			give(br.Light, br.ID)
		}
		for light := range w.Plan.Groups[gi].Lights {
			if id, ok := w.Spare(gi, light); ok {
				give(light, id)
			}
		}
	}
}

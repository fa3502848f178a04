package budget

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// group checks wire and lights of group i.
func (c *checker) group(i int) {
	g := c.p.Groups[i]
	at := Check{Group: g.Name, Board: g.Board, Output: g.Output, Closure: g.Closure, Pos: g.Pos}
	if g.AsFound {
		c.say(Advice, KindAsFound, at, 0, 0, "",
			"%s has no plan of its lights: it gets no band, only a baseline for later", quote(g.Name))
		return
	}
	c.wire(g.Wire, c.high.groups[i].amps, at, quote(g.Name))
	for k, l := range g.Lights {
		at := at
		if l.Pos.Line > 0 {
			at.Pos = l.Pos
		}
		at.detail = lightName(g, k)
		c.light(l, c.low.groups[i].lights[k], c.mid.groups[i].lights[k], c.high.groups[i].lights[k], at)
	}
}

// light checks one light at both ends of the jack's range.
func (c *checker) light(l plan.Light, low, mid, high lightState, at Check) {
	switch l.Kind {
	case plan.Envelope:
		return
	case plan.TestLoad:
		c.testLoadHeat(l, high, at)
		return
	}
	name := quote(at.Group) + ": " + l.Part
	if c.noLimit(l, name, at) || c.wrongVolts(l, low, high, name, at) {
		return
	}
	better := c.ledCurrent(l, high, name, at)
	c.resistorHeat(l, high, name, at, better)
	switch {
	case mid.farAmps < 0.02*nominalAmps(l) || !(mid.farAmps > 0):
		c.say(Wrong, KindFarEnd, at, mid.farVolts, 0, "V", "%s gets %s and stays dark: %s %s",
			name, volts(mid.farVolts), needs(len(l.Series)), volts(kneeVolts(l)))
	case low.farAmps < 0.5*mid.farAmps:
		c.say(Risky, KindFarEnd, at, low.farAmps, 0.5*mid.farAmps, "A", "%s falls from %s to %s when the jack is at "+
			"its lowest: fewer LEDs in series, with a larger resistor, are steadier",
			name, amps(mid.farAmps), amps(low.farAmps))
	case l.Held() && low.farVolts < l.HoldVolts():
		c.say(Advice, KindFarEnd, at, low.farVolts, l.HoldVolts(), "V", "%s gets %s when the jack is at its lowest "+
			"and holds its current from %s: below that it gets dim",
			name, volts(low.farVolts), volts(l.HoldVolts()))
	case mid.farAmps < 0.85*mid.nearAmps:
		c.say(Advice, KindFarEnd, at, mid.farAmps, 0.85*mid.nearAmps, "A", "%s: the far end gets %s, the near end "+
			"%s; feed it at both ends or by a thicker wire to have it even",
			name, amps(mid.farAmps), amps(mid.nearAmps))
	}
}

// needs says of LEDs in series that they need some voltage.
func needs(n int) string {
	if n == 1 {
		return "its LED needs"
	}
	return fmt.Sprintf("its %d LEDs in series need", n)
}

// noLimit finds LEDs that hang on a voltage without any resistor.
func (c *checker) noLimit(l plan.Light, name string, at Check) bool {
	if len(l.Series) == 0 || l.Ohms.Nominal > 0 || l.Kind != plan.LEDs || at.Board != "" {
		return false
	}
	text := fmt.Sprintf("%s has no resistor: nothing limits the current", name)
	n := c.say(Wrong, KindNoLimit, at, 0, 0, "ohm", "%s", text).burns()
	// Not the voltage that it has now: the missing resistor drags that down.
	g, _ := c.p.Group(at.Group)
	j, _ := c.p.Jack(c.p.JackOf(c.p.JointOf(g)))
	v := ServiceVolts(c.p, g.Joint, j.Volts)
	if r, err := ResistorFor(l.Series, v, wantedAmps(l), E12); err == nil {
		n.cure("; ", fmt.Sprintf("%s gives %s", ohms(r.Ohms), amps(r.Amps))).Instead = r.Ohms
	}
	return true
}

// wrongVolts finds strips and pre-resistored parts on a voltage they aren't made for.
func (c *checker) wrongVolts(l plan.Light, low, high lightState, name string, at Check) bool {
	if !(l.RatedVolts > 0) {
		return false
	}
	// A tenth is what makers of strips and parts allow either way; common practice, no source.
	switch {
	case high.nearVolts > 1.3*l.RatedVolts:
		c.say(Wrong, KindRating, at, high.nearVolts, l.RatedVolts, "V", "%s is made for %s and gets %s: it burns out",
			name, volts(l.RatedVolts), volts(high.nearVolts)).burns().cure("; ", "feed it from a converter")
		return true
	case high.nearVolts > 1.1*l.RatedVolts:
		c.say(Risky, KindRating, at, high.nearVolts, l.RatedVolts, "V", "%s is made for %s and gets %s %s: it gets "+
			"hot and ages",
			name, volts(l.RatedVolts), volts(high.nearVolts), c.when)
	case low.farVolts < 0.7*l.RatedVolts:
		at.detail = and(at.detail, "too low")
		c.say(Wrong, KindRating, at, low.farVolts, l.RatedVolts, "V", "%s is made for %s and gets %s when the jack "+
			"is at its lowest: it stays dark or nearly so",
			name, volts(l.RatedVolts), volts(low.farVolts))
		return true
	}
	return false
}

// ledCurrent sets the current of an LED against its rating, and for a maker's
// own resistor names the one to use instead, and returns it.
func (c *checker) ledCurrent(l plan.Light, high lightState, name string, at Check) (better Resistor) {
	for _, d := range l.Series {
		if !(d.MaxAmps > 0) || high.nearAmps <= d.MaxAmps {
			continue
		}
		s := Wrong
		if high.nearAmps < 1.1*d.MaxAmps {
			s = Risky
		}
		n := c.say(s, KindLED, at, high.nearAmps, d.MaxAmps, "A", "%s carries %s %s, it is rated %s",
			name, amps(high.nearAmps), c.when, amps(d.MaxAmps))
		n.Burns = s == Wrong
		if l.Kind != plan.LEDs {
			return Resistor{}
		}
		v, behind, alone := c.behind(high, at)
		if !alone {
			n.cure("; ", "give each light on that output a resistor of its own, or a larger one")
			return Resistor{}
		}
		r, err := resistorFor(l.Series, v, 0.8*d.MaxAmps, behind, E12)
		if err != nil {
			n.cure("; ", "give it a larger resistor")
		} else {
			if l.Ohms.Nominal > 0 {
				n.cure("; ", fmt.Sprintf("%s instead of %s brings it to %s", ohms(r.Ohms), ohms(l.Ohms.Nominal),
					amps(r.Amps)))
			} else {
				n.cure("; ", fmt.Sprintf("%s in series brings it to %s", ohms(r.Ohms), amps(r.Amps)))
			}
			n.Instead = r.Ohms
			better = r
		}
		return better
	}
	return Resistor{}
}

// Ratings of resistors that a maker can buy, W; common practice.
var resistorWatts = [...]float64{0.0625, 0.1, 0.125, 0.25, 0.5, 1, 2, 5}

// behind is what a light is fed from: a voltage and the resistor of a board's
// output, across which that voltage comes back as the current falls. alone is
// false where other lights share that resistor.
func (c *checker) behind(high lightState, at Check) (volts, outOhms float64, alone bool) {
	b := c.p.BoardAt(at.Board)
	if b < 0 || at.Output < 1 || at.Output > len(c.p.Boards[b].Outputs) {
		return high.nearVolts, 0, true
	}
	o := c.p.Boards[b].Outputs[at.Output-1]
	lights := 0
	for _, g := range c.p.Groups {
		if g.Board != at.Board || g.Output != at.Output {
			continue
		}
		for _, other := range g.Lights {
			lights += other.Branches()
		}
	}
	return high.nearVolts + o.Ohms.Nominal*c.high.boards[b].outputs[at.Output-1], o.Ohms.Nominal, lights == 1
}

// ratedFor is the least rating of which a heat of p watts is half at most; 0: none.
func ratedFor(p float64) float64 {
	for _, w := range resistorWatts {
		if w >= 2*p {
			return w
		}
	}
	return 0
}

// resistorHeat sets the heat in a maker's own resistor against its rating.
// Half of it is good practice where nothing cools (no source).
func (c *checker) resistorHeat(l plan.Light, high lightState, name string, at Check, instead Resistor) {
	if l.Kind != plan.LEDs || !(l.Ohms.Nominal > 0) {
		return
	}
	p := high.nearAmps * high.nearAmps * l.Ohms.Nominal
	better := ratedFor(p)
	use := "spread it over several branches"
	switch {
	case instead.Ohms > 0:
		// Another resistor was named for the current: this one's rating no longer matters.
		if better = ratedFor(instead.Watts); better > 0 {
			use = fmt.Sprintf("the one of %s wants %s", ohms(instead.Ohms), sig(better, 4)+" W")
		}
	case better > 0:
		use = fmt.Sprintf("use one of %s", sig(better, 4)+" W")
	}
	var n *Check
	switch {
	case l.OhmsWatts > 0 && p > l.OhmsWatts:
		n = c.say(Wrong, KindResistor, at, p, l.OhmsWatts, "W", "%s: its resistor of %s turns %s into heat and is "+
			"rated %s",
			name, ohms(l.Ohms.Nominal), watts(p), sig(l.OhmsWatts, 4)+" W").burns().cure(": ", use)
	case l.OhmsWatts > 0 && p > l.OhmsWatts/2:
		n = c.say(Risky, KindResistor, at, p, l.OhmsWatts/2, "W", "%s: its resistor of %s turns %s into heat, more "+
			"than half of its rating of %s: in a closed part %s",
			name, ohms(l.Ohms.Nominal), watts(p), sig(l.OhmsWatts, 4)+" W", use)
	case l.OhmsWatts == 0 && p > 0.125:
		n = c.say(Advice, KindResistor, at, p, 0.125, "W", "%s: its resistor of %s turns %s into heat, its rating "+
			"isn't in the plan: %s",
			name, ohms(l.Ohms.Nominal), watts(p), use)
	default:
		return
	}
	n.Instead = better
}

// testLoadHeat sets the heat in a resistor that is clipped on for a test against
// its rating: it lies in the open, and for half a minute only.
func (c *checker) testLoadHeat(l plan.Light, high lightState, at Check) {
	p := high.nearAmps * high.nearAmps * l.Ohms.Nominal
	use := "take one of more ohms"
	better := ratedFor(p / 2)
	if better > 0 {
		use = fmt.Sprintf("use one of %s W or more", sig(better, 4))
	}
	switch {
	case l.OhmsWatts > 0 && p > l.OhmsWatts:
		c.say(Wrong, KindResistor, at, p, l.OhmsWatts, "W", "%s: the %s for its test turns %s into heat and is "+
			"rated %s",
			quote(at.Group), l.Part, watts(p), sig(l.OhmsWatts, 4)+" W").burns().cure(": ", use).Instead = better
	case l.OhmsWatts == 0 && p > 0.125:
		c.say(Advice, KindResistor, at, p, 0.125, "W", "%s: the %s for its test turns %s into heat: %s",
			quote(at.Group), l.Part, watts(p), use).Instead = better
	}
}

// nominalAmps is a typical current of a branch: that of its last point.
func nominalAmps(l plan.Light) float64 {
	a := math.Inf(1)
	for _, d := range l.Series {
		if n := len(d.Points); n > 0 {
			a = math.Min(a, d.Points[n-1].Amps)
		}
	}
	if math.IsInf(a, 1) {
		return 0
	}
	return a
}

// wantedAmps is what a branch without a stated current is designed for: half
// of the least rating, 5 mA where none is known (common practice in models, no source).
func wantedAmps(l plan.Light) float64 {
	a := math.Inf(1)
	for _, d := range l.Series {
		if d.MaxAmps > 0 {
			a = math.Min(a, d.MaxAmps)
		}
	}
	if math.IsInf(a, 1) {
		return 0.005
	}
	return a / 2
}

// kneeVolts is where a branch begins to light: its LEDs at their last point.
func kneeVolts(l plan.Light) float64 {
	v := 0.0
	for _, d := range l.Series {
		if n := len(d.Points); n > 0 {
			v += d.Points[n-1].Volts
		}
	}
	return v
}

// Resistor is a resistor for a branch.
type Resistor struct {
	ExactOhms float64 `json:"exact_ohms"` // that would give exactly the wanted current
	Ohms      float64 `json:"ohms"`       // the next preferred value above it
	Amps      float64 `json:"amps"`       // what flows with that one
	Watts     float64 `json:"watts"`      // heat in it
}

// ResistorFor gives the next preferred resistor (IEC 60063) that brings LEDs in
// series on a voltage to at most a wanted current:
// R = (V - sum of forward voltages at that current) / I.
func ResistorFor(leds []plan.LED, volts, wantedA float64, s Series) (Resistor, error) {
	return resistorFor(leds, volts, wantedA, 0, s)
}

// resistorFor is ResistorFor where another resistor, behind, lies in series already.
func resistorFor(leds []plan.LED, volts, wantedA, behind float64, s Series) (Resistor, error) {
	if !(wantedA > 0) || !(volts > 0) || math.IsInf(volts, 0) {
		return Resistor{}, fmt.Errorf("no resistor for %g A at %g V: both must be above zero", wantedA, volts)
	}
	var fits []circuit.Diode
	at := func(a float64) (v float64) {
		for _, d := range fits {
			v += d.VoltsAt(a)
		}
		return v
	}
	for _, d := range leds {
		f, err := fitted(d)
		if err != nil {
			return Resistor{}, err
		}
		fits = append(fits, f)
	}
	left := volts - at(wantedA)
	if left <= 0 {
		return Resistor{}, fmt.Errorf("%s in series need %.1f V for %s, there are %.1f V: use fewer",
			many(len(leds), "LED"), at(wantedA), amps(wantedA), volts)
	}
	r := Resistor{ExactOhms: left/wantedA - behind}
	var ok bool
	if r.Ohms, ok = PreferredOhms(s, r.ExactOhms); !ok {
		return Resistor{}, fmt.Errorf("%s lies outside the preferred values", ohms(r.ExactOhms))
	}
	// The current is rising in the voltage left: bisect between nothing and what was wanted.
	lo, hi := 0.0, wantedA
	for range 60 {
		if mid := (lo + hi) / 2; (r.Ohms+behind)*mid+at(mid) > volts {
			hi = mid
		} else {
			lo = mid
		}
	}
	r.Amps = lo
	r.Watts = lo * lo * r.Ohms
	return r, nil
}

// fitted is the diode of an LED of the plan.
func fitted(d plan.LED) (circuit.Diode, error) {
	var s []circuit.Sample
	for _, p := range d.Points {
		s = append(s, circuit.Sample{Volts: p.Volts, Amps: p.Amps})
	}
	f, err := circuit.FitDiode(s)
	if err != nil {
		return circuit.Diode{}, fmt.Errorf("LED %q: %w", d.Part, err)
	}
	return f.Diode, nil
}

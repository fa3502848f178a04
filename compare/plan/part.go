package plan

import "math"

// PartKind says what a part is.
type PartKind string

// The kinds of part.
const (
	PartStrip PartKind = "strip" // by segment: LEDs in series with a resistor
	PartSMD   PartKind = "smd"   // pre-resistored: takes its rated voltage as it is
	PartLED   PartKind = "led"   // bare: needs a resistor
	PartBoard PartKind = "board" // electronics with outputs
	PartLoad  PartKind = "load"  // without a pace: flicker, sound, motor
)

// Part is one kind of thing that a maker buys, as the built-in library, a
// maker's part book or the plan itself describes it. SI units.
type Part struct {
	Name   string   `json:"name"`
	Kind   PartKind `json:"kind"`
	Source string   `json:"source"` // where the values come from

	// Tolerance is a half-width fraction: of the current at rated voltage for
	// a strip or SMD, of the standing draw for a board.
	Tolerance float64 `json:"tolerance,omitempty"`
	Share     float64 `json:"share"` // of the variance that one reel has in common

	// Strip and SMD: Amps of one segment or piece at RatedVolts. LED names the
	// part whose curve the LEDs inside follow.
	RatedVolts float64 `json:"rated_volts,omitempty"`
	Amps       float64 `json:"amps,omitempty"` // A, at RatedVolts
	LED        string  `json:"led,omitempty"`  // name of a part
	// LEDs behind one resistor in each segment or piece
	InSeries   int     `json:"in_series,omitempty"`
	Chips      int     `json:"chips,omitempty"`       // side by side in each LED of it, of which LED is one; 0: one
	CopperOhms float64 `json:"copper_ohms,omitempty"` // strip: from one segment to the next, both conductors
	// HoldVolts: a strip whose segments hold a regulator in place of a resistor; the
	// voltage of a segment from which Amps flow. 0: a resistor.
	HoldVolts float64 `json:"hold_volts,omitempty"`

	// LED.
	Colour      string        `json:"colour,omitempty"`
	Points      []VoltsAtAmps `json:"points,omitempty"`         // of a typical piece at 25 degC, rising
	SpreadVolts float64       `json:"spread_volts,omitempty"`   // half-width
	TempcoVPerK float64       `json:"tempco_v_per_k,omitempty"` // V per K, negative
	MaxAmps     float64       `json:"max_amps,omitempty"`       // A, steady; 0: not stated
	// a protection diode lies across it
	Conducts bool `json:"conducts_reversed,omitempty"`

	// Board.
	StandingAmps float64      `json:"standing_amps,omitempty"`
	Outputs      []PartOutput `json:"outputs,omitempty"` // by their numbers, from 1
	Run          OutputsRun   `json:"run,omitempty"`     // how the outputs go together
	Paces        []Pace       `json:"paces,omitempty"`   // in the order of the button
	Button       bool         `json:"button,omitempty"`  // it steps to the next pace
	LowVolts     float64      `json:"low_volts,omitempty"`
	HighVolts    float64      `json:"high_volts,omitempty"`
	CapacitorF   float64      `json:"capacitor_f,omitempty"`

	// Load.
	Envelope *Draw `json:"envelope,omitempty"`
}

// PartOutput is one output of a board part. Volts 0: it follows the supply.
type PartOutput struct {
	Volts     float64 `json:"volts,omitempty"` // V, open
	Ohms      float64 `json:"ohms"`            // ohm, behind the voltage
	MaxAmps   float64 `json:"max_amps"`        // A, above this it stays lit; 0: not stated
	Tolerance float64 `json:"tolerance"`       // of volts and ohms, half-width fraction
}

// keysOf lists the keys that describe a part of a kind.
func keysOf(k PartKind) []string {
	return keysIn("part" + string(k))
}

var fraction = over(0, 0.9)

// readPart reads what a table says of a part onto what was known of it.
func readPart(s *section, p Part) Part {
	if t := s.words("source", "measured on three pieces"); t != "" {
		p.Source = t
	}
	switch p.Kind {
	case PartStrip, PartSMD:
		readResistored(s, &p)
	case PartLED:
		readLED(s, &p)
	case PartBoard:
		readBoardPart(s, &p)
	case PartLoad:
		readEnvelope(s, &p)
	}
	if p.Kind != PartBoard {
		s.into(&p.Share, 1, "share", between(0, 1), "0.5")
	}
	return p
}

func readResistored(s *section, p *Part) {
	amps, example := "segment_mA", "16"
	if p.Kind == PartSMD {
		amps, example = "draw_mA", "10"
	}
	s.into(&p.RatedVolts, 1, "volts", over(0, maxJackVolts), "12")
	s.into(&p.Amps, 1e-3, amps, over(0, 2000), example)
	s.into(&p.Tolerance, 1, "tolerance", fraction, "0.3")
	s.into(&p.CopperOhms, 1, "copper_ohms", between(0, 10), "0.02")
	s.into(&p.HoldVolts, 1, "holds_from_volts", over(0, maxJackVolts), "10.5")
	p.InSeries = s.whole("leds_in_series", p.InSeries, 1, 20)
	p.Chips = s.whole("chips", p.Chips, 1, 20)
	if t := s.words("led", "warm white 0603"); t != "" {
		p.LED = t
	}
}

func readLED(s *section, p *Part) {
	if t := s.words("colour", "red"); t != "" {
		p.Colour = t
	}
	if s.has("volts_at_mA") {
		if pts := s.curve(); pts != nil {
			p.Points = pts
		}
	}
	s.into(&p.SpreadVolts, 1, "spread_volts", between(0, 2), "0.15")
	s.into(&p.TempcoVPerK, 1, "volts_per_K", between(-0.02, 0), "-0.002")
	s.into(&p.MaxAmps, 1e-3, "max_mA", over(0, 5000), "20")
	p.Conducts = s.flag("conducts_reversed", p.Conducts)
}

// curve reads volts_at_mA = [[1.9, 5], [2.1, 20]]: rising, in volts and mA.
func (s *section) curve() []VoltsAtAmps {
	const instead = "write volts_at_mA = [[1.9, 5], [2.1, 20]]: pairs of volts and mA"
	items, ok := s.list("volts_at_mA", "[[1.9, 5], [2.1, 20]]")
	if !ok {
		return nil
	}
	if len(items) == 0 {
		s.fail(s.at("volts_at_mA"), instead, "volts_at_mA is empty")
		return nil
	}
	var out []VoltsAtAmps
	for _, it := range items {
		if it.shape != arrayShape || len(it.items) != 2 {
			s.fail(it.at, instead, "a point of volts_at_mA must be two numbers")
			return nil
		}
		v, okV := s.numberAt(it.items[0], "the volts of a point", over(0, 10), instead)
		i, okI := s.numberAt(it.items[1], "the mA of a point", over(0, 5000), instead)
		if !okV || !okI {
			return nil
		}
		if n := len(out); n > 0 && (v < out[n-1].Volts || i*1e-3 <= out[n-1].Amps) {
			s.fail(it.items[0].at, "write the points from low to high current", "the points of volts_at_mA don't rise")
			return nil
		}
		out = append(out, VoltsAtAmps{v, i * 1e-3})
	}
	return out
}

func readEnvelope(s *section, p *Part) {
	d := Draw{State: "running"}
	if p.Envelope != nil {
		d = *p.Envelope
	}
	d.Behaves = s.choice("behaves", d.Behaves, behaviours...)
	if t := s.words("state", "full volume"); t != "" {
		d.State = t
	}
	s.into(&d.LowAmps, 1e-3, "low_mA", between(0, 20000), "5")
	s.into(&d.MeanAmps, 1e-3, "mean_mA", over(0, 20000), "20")
	s.into(&d.HighAmps, 1e-3, "high_mA", over(0, 20000), "40")
	p.Envelope = &d
}

// complete reports what a part lacks, so that a plan with it can be computed.
func (s *section) complete(p *Part) bool {
	need := func(ok bool, key, example string) bool {
		if !ok {
			s.must(key, example) // a value that is there and wrong has been reported
		}
		return ok
	}
	switch p.Kind {
	case PartStrip:
		return need(p.RatedVolts > 0, "volts", "12") && need(p.Amps > 0, "segment_mA", "16")
	case PartSMD:
		return need(p.RatedVolts > 0, "volts", "12") && need(p.Amps > 0, "draw_mA", "10")
	case PartLED:
		return need(len(p.Points) > 0, "volts_at_mA", "[[1.9, 5], [2.1, 20]]")
	case PartLoad:
		d := p.Envelope
		ok := need(d.Behaves != "", "behaves", `"flicker"`)
		ok = need(d.MeanAmps > 0, "mean_mA", "20") && ok
		ok = need(d.HighAmps > 0, "high_mA", "40") && ok
		if ok && !(d.LowAmps <= d.MeanAmps && d.MeanAmps <= d.HighAmps) {
			s.fail(s.at("mean_mA"), "write low_mA, mean_mA and high_mA so that they rise",
				"the mean draw isn't between the lowest and the highest")
			return false
		}
		return ok
	}
	return true
}

var behaviours = []string{"flicker", "welding", "sound", "motor", "dimmer", "pixels"}

// forwardVolts is the forward voltage of a part at a current: between points
// straight over the logarithm of the current, beyond them with 52 mV a factor
// of e and 8 ohm (Shockley's law with ideality 2; both values from memory).
func forwardVolts(pts []VoltsAtAmps, amps float64) float64 {
	last := len(pts) - 1
	law := func(p VoltsAtAmps) float64 {
		return p.Volts + 0.052*math.Log(amps/p.Amps) + 8*(amps-p.Amps)
	}
	switch {
	case amps <= pts[0].Amps:
		return max(0.1, law(pts[0]))
	case amps >= pts[last].Amps:
		return law(pts[last])
	}
	i := 1
	for pts[i].Amps < amps {
		i++
	}
	a, b := pts[i-1], pts[i]
	return a.Volts + (b.Volts-a.Volts)*math.Log(amps/a.Amps)/math.Log(b.Amps/a.Amps)
}

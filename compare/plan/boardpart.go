package plan

import (
	"fmt"
	"math"
)

// readBoardPart reads the keys of a board's electronics, from a part or from
// the board in the plan itself.
func readBoardPart(s *section, p *Part) {
	s.into(&p.StandingAmps, 1e-3, "standing_mA", between(0, 5000), "4")
	s.into(&p.Tolerance, 1, "tolerance", fraction, "0.3")
	if items, ok := s.list("outputs", "[ { max_mA = 20, ohms = 220 } ]"); ok {
		if outs := s.partOutputs(items, p.Outputs); outs != nil {
			p.Outputs = outs
		}
	}
	p.Run = OutputsRun(s.choice("outputs_run", string(p.Run), string(Alternate), string(Together), string(Free)))
	if items, ok := s.list("paces", `[ { name = "slow", period_s = 2.0, duty = 0.5 } ]`); ok {
		if paces := s.paces(items); paces != nil {
			p.Paces = paces
		}
	}
	p.Button = s.flag("button", p.Button)
	s.into(&p.LowVolts, 1, "lowest_volts", over(0, maxJackVolts), "6")
	s.into(&p.HighVolts, 1, "highest_volts", over(0, maxJackVolts), "15")
	if p.LowVolts > 0 && p.HighVolts > 0 && p.LowVolts > p.HighVolts {
		s.fail(s.at("lowest_volts"), "swap them", "lowest_volts %s is above highest_volts %s", plainNumber(p.LowVolts),
			plainNumber(p.HighVolts))
	}
	s.into(&p.CapacitorF, 1e-6, "capacitor_uF", between(0, 1e5), "100")
}

// partOutputs reads the outputs of a board. What a table doesn't say stays as
// the part has it for the output of the same number.
func (s *section) partOutputs(items []*node, was []PartOutput) []PartOutput {
	if len(items) == 0 {
		s.fail(s.at("outputs"), "write outputs = [ { max_mA = 20, ohms = 220 } ]", "%s has no outputs", s.what)
		return nil
	}
	if len(items) > 32 {
		s.fail(items[32].at, "write it as several boards", "a board with more than 32 outputs")
		return nil
	}
	var out []PartOutput
	for i, it := range items {
		o := PartOutput{Ohms: 0, MaxAmps: 0.02, Tolerance: 0.05}
		if i < len(was) {
			o = was[i]
		}
		sec := s.table(it, fmt.Sprintf("output %d of %s", i+1, s.what), keysIn("output")...)
		if sec == nil {
			return nil
		}
		sec.into(&o.MaxAmps, 1e-3, "max_mA", over(0, 20000), "25")
		sec.into(&o.Ohms, 1, "ohms", between(0, 1e6), "470")
		sec.into(&o.Tolerance, 1, "tolerance", between(0, 0.9), "0.05")
		sec.onlyOne("volts", "follows_supply")
		sec.into(&o.Volts, 1, "volts", over(0, maxJackVolts), "5")
		if sec.has("follows_supply") && sec.flag("follows_supply", true) {
			o.Volts = 0
		}
		out = append(out, o)
	}
	return out
}

// Pace tolerances of boards with an RC oscillator or none stated: common
// practice, no source.
const (
	paceRelTol  = 0.15
	paceDutyTol = 0.08
)

func (s *section) paces(items []*node) []Pace {
	if len(items) == 0 {
		s.fail(s.at("paces"), `write paces = [ { name = "steady", steady = true } ]`, "paces is empty")
		return nil
	}
	var out []Pace
	names := newNameBook(s.source)
	for i, it := range items {
		sec := s.table(it, fmt.Sprintf("pace %d of %s", i+1, s.what), keysIn("pace")...)
		if sec == nil {
			continue
		}
		p := sec.pace()
		if p.Name == "" && !sec.has("name") {
			p.Name = fmt.Sprintf("pace %d", i+1)
			if len(items) == 1 {
				p.Name = "only"
			}
		}
		if sec.checkName(sec.at("name"), "pace", p.Name, false) {
			names.enter(sec.at("name"), "pace", p.Name)
		}
		out = append(out, p)
	}
	return out
}

var periodLimits = between(0.05, 60)

func (s *section) pace() Pace {
	p := Pace{PeriodRelTol: paceRelTol, DutyTol: paceDutyTol, Pos: s.pos()}
	if v := s.value("name", textShape, `"slow"`); v != nil {
		p.Name = v.text
	}
	s.into(&p.PeriodRelTol, 1, "tolerance", over(0, 0.5), "0.1")
	s.into(&p.DutyTol, 1, "duty_tolerance", over(0, 0.5), "0.05")
	if s.flag("steady", false) {
		for _, k := range []string{"period_s", "duty", "flashes"} {
			if s.has(k) {
				s.fail(s.keyAt(k), "leave out "+k+" or steady", "a steady pace has no %s", k)
			}
		}
		p.Duty = 1
		return p
	}
	if s.has("flashes") {
		s.flashes(&p)
		return p
	}
	if !s.has("period_s") && !s.meant["period_s"] && !s.meant["flashes"] && !s.meant["steady"] {
		s.fail(s.n.at, "add period_s = 2.0 and duty = 0.5, or flashes = [lit, dark, …] in seconds, or steady = true",
			"%s doesn't say what it does", s.what)
	}
	s.into(&p.PeriodS, 1, "period_s", periodLimits, "2.0")
	p.Duty = 0.5
	if d, ok := s.number("duty", limits{above: 0, to: 1, exclusive: true}, "0.5"); ok {
		if d == 1 {
			s.fail(s.at("duty"), "write steady = true for a light that never goes dark", "duty = 1 doesn't blink")
		}
		p.Duty = d
	}
	return p
}

// flashes reads alternating lit and dark times; a period or duty beside them
// must agree.
func (s *section) flashes(p *Pace) {
	const instead = "write flashes = [lit, dark, lit, dark] in seconds, beginning with lit and ending with dark"
	items, ok := s.list("flashes", "[0.3, 0.3, 0.3, 3.1]")
	if !ok {
		return
	}
	if len(items) == 0 {
		s.fail(s.at("flashes"), instead, "flashes is empty")
		return
	}
	if len(items)%2 != 0 || len(items) > 64 {
		s.fail(items[len(items)-1].at, instead, "flashes has %d times; it needs an even number, 64 at most",
			len(items))
		return
	}
	sum, lit := 0.0, 0.0
	for i, it := range items {
		t, ok := s.numberAt(it, "a time in flashes", over(0, 60), instead)
		if !ok {
			return
		}
		sum += t
		if i%2 == 0 {
			lit += t
		}
		p.Flashes = append(p.Flashes, t)
	}
	if !periodLimits.hold(sum) {
		s.fail(s.at("flashes"), "the times of one round must add up to 0.05 to 60 s", "flashes add up to %s s",
			plainNumber(sum))
		return
	}
	if v, ok := s.number("period_s", periodLimits, plainNumber(sum)); ok && math.Abs(v-sum) > 0.001+1e-6*sum {
		s.fail(s.at("period_s"), "write period_s = "+plainNumber(sum)+", or leave it out",
			"flashes add up to %s s, not to period_s = %s", plainNumber(sum), plainNumber(v))
	}
	if v, ok := s.number("duty", over(0, 1), plainNumber(lit/sum)); ok && math.Abs(v-lit/sum) > 0.01 {
		s.fail(s.at("duty"), "write duty = "+plainNumber(math.Round(1000*lit/sum)/1000)+", or leave it out",
			"flashes are lit for %.3g of the round, not for duty = %s", lit/sum, plainNumber(v))
	}
	p.PeriodS, p.Duty = sum, lit/sum
}

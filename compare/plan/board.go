package plan

import "fmt"

// boards reads [board.NAME].
func (p *parser) boards(top *section) {
	for _, e := range p.tables(top, "board", "[board.beacon]") {
		s := p.table(e.val, fmt.Sprintf("board %q", e.key), keysIn("board")...)
		if !p.checkName(e.keyAt, "board", e.key, false) || !p.terminals.enter(e.keyAt, "board", e.key) {
			continue
		}
		p.board(s, e)
	}
}

func (p *parser) board(s *section, e entry) {
	part := blankPart(PartBoard)
	name := s.words("part", "two-output blinker")
	if name != "" {
		if found, ok := p.part(s, "part", name, PartBoard); ok {
			part = found
		} else {
			name = ""
			p.unsure[e.key] = true
		}
	}
	stated := s.has("standing_mA")
	part = readPart(s, part)
	b := Board{
		Name: e.key, Part: name, Run: part.Run, Paces: part.Paces, Button: part.Button,
		LowVolts: part.LowVolts, HighVolts: part.HighVolts, CapacitorF: part.CapacitorF,
		Source: part.Source, Pos: p.place(e.keyAt),
	}
	if name == "" {
		b.Part = "own values"
		if !stated && part.StandingAmps == 0 {
			part.StandingAmps, part.Tolerance = 0.005, 0.8 // common practice, no source
		}
	}
	b.Standing = Value{
		Nominal: part.StandingAmps, HalfWidth: part.StandingAmps * part.Tolerance,
		Share: 0.25, Assumed: !stated, Source: part.Source,
	}
	if len(part.Outputs) == 0 {
		part.Outputs = []PartOutput{{MaxAmps: 0.02, Tolerance: 0.05}}
		if s.has("part") || !s.has("outputs") {
			s.warn(e.keyAt, "add outputs = [ { max_mA = 20, ohms = 220 } ]",
				"board %q doesn't say what its outputs can give; one of 20 mA is assumed", e.key)
		}
	}
	for i, o := range part.Outputs {
		b.Outputs = append(b.Outputs, Output{
			Number: i + 1, FollowsSupply: o.Volts == 0, MaxAmps: o.MaxAmps,
			OpenVolts: Value{Nominal: o.Volts, HalfWidth: o.Volts * o.Tolerance, Share: 0.5, Source: part.Source},
			Ohms:      Value{Nominal: o.Ohms, HalfWidth: o.Ohms * o.Tolerance, Share: 0.5, Source: part.Source},
		})
	}
	if len(b.Paces) == 0 {
		b.Paces = []Pace{{Name: "steady", Duty: 1, PeriodRelTol: paceRelTol, DutyTol: paceDutyTol}}
	}
	p.checkPaces(s, &b)
	b.Closure = p.closureName(s)
	b.Joint = p.feedName(s)
	b.Return = p.returnName(s)
	b.Wire = p.wire(s)
	p.plan.Boards = append(p.plan.Boards, b)
}

// checkPaces looks at paces and outputs together.
func (p *parser) checkPaces(s *section, b *Board) {
	at := s.at("paces")
	if n := len(b.Paces); n > 1 && !b.Button && !s.has("button") {
		// Several paces can only be reached by a button.
		b.Button = true
	} else if n > 1 && !b.Button {
		s.fail(s.at("button"), "write button = true, or one pace", "%s has %d paces but no button to step them",
			s.what, n)
	}
	if b.Run != Alternate {
		return
	}
	if len(b.Outputs) < 2 {
		s.fail(s.at("outputs_run"), `write outputs_run = "together", or name a second output`,
			"one output can't alternate with itself")
		return
	}
	for _, pc := range b.Paces {
		if most := 1 / float64(len(b.Outputs)); !pc.Steady() && pc.Duty > most+1e-9 {
			s.fail(at, fmt.Sprintf(`write duty = %.2g or less, or outputs_run = "together"`, most-0.005),
				"pace %q: %d outputs that alternate can't each be lit for %s of the period", pc.Name, len(b.Outputs),
				plainNumber(pc.Duty))
		}
	}
}

package wiring

import (
	"fmt"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

func (b *builder) boards() error {
	b.Boards = make([]Board, len(b.Plan.Boards))
	for i := range b.Plan.Boards {
		pb := &b.Plan.Boards[i]
		if !b.only.board(i) {
			continue
		}
		l := label{"board " + pb.Name, pb.Pos.Line}
		from, twin, here, err := b.start(l, pb.Joint)
		if err != nil {
			return err
		}
		if !here {
			continue
		}
		ret, own, err := b.ground(l, pb.Return, twin)
		if err != nil {
			return err
		}
		plus, minus := 2, circuit.Ground(0)
		switch {
		case own:
			plus = 1
		case b.apart[i]:
			plus, minus = 1, b.addReturn(l, twin)
			ret = minus
		}
		q := none()
		q.Board = i
		out := Board{Here: true, Ret: ret}
		out.Node, out.wire = b.addWire(l, from, pb.Wire, plus, minus, q)
		// Below its least voltage a board is taken to draw in proportion.
		full := pb.LowVolts
		if full <= 0 {
			full = 1
		}
		out.Draw = b.n.AddDraw(out.Node, ret, pb.Standing.Nominal, full)
		b.labels.draw = append(b.labels.draw, l)
		b.draws = append(b.draws, standing{amps: pb.Standing.Nominal, full: full, high: -1})
		q.Kind, q.Name, q.Value, q.apply = BoardDraw, "standing draw of "+l.where, pb.Standing, int(out.Draw)
		b.addParam(q, pb.Part)
		lit := len(pb.Paces) == 0 || pb.Paces[0].Steady()
		for k := range pb.Outputs {
			b.output(l, &out, pb, k, lit, q)
		}
		b.Boards[i] = out
	}
	return nil
}

func (b *builder) output(l label, out *Board, pb *plan.Board, k int, lit bool, q Param) {
	po := &pb.Outputs[k]
	ol := label{fmt.Sprintf("output %d of %s", po.Number, l.where), l.line}
	o := circuit.Output{OpenV: po.OpenVolts.Nominal, Ohms: po.Ohms.Nominal, FollowsSupply: po.FollowsSupply,
		Reflect: 1, AtMostSupply: true, MaxA: po.MaxAmps, Lit: lit}
	pin := b.addNode(ol, func() circuit.Node { return b.n.AddOutput(out.Node, out.Ret, o) })
	out.Outputs = append(out.Outputs, pin)
	b.feeds = append(b.feeds, feed{node: pin, out: o, ohms: o.Ohms})
	q.apply = len(b.feeds) - 1
	if !po.FollowsSupply {
		q.Kind, q.Name, q.Value = OutputVolts, "voltage of "+ol.where, po.OpenVolts
		b.addParam(q, pb.Part)
	}
	q.Kind, q.Name, q.Value = OutputOhms, "resistance of "+ol.where, po.Ohms
	b.addParam(q, pb.Part)
	out.shunts = append(out.shunts, b.spareShunt(ol, pin, out.Ret))
}

// spareShunt is a resistor that isn't there until a fault puts it there.
func (b *builder) spareShunt(l label, at circuit.Node, ret circuit.Ground) circuit.ShuntID {
	b.labels.shunt = append(b.labels.shunt, l)
	return b.n.AddShunt(at, ret, inf)
}

// start is where the wire of a group or board begins.
func (b *builder) start(l label, joint string) (circuit.Node, circuit.Ground, bool, error) {
	if joint == b.Plan.Jacks[b.Jack].Name {
		return b.Meter, 0, true, nil
	}
	if b.Plan.JackAt(joint) >= 0 {
		return 0, 0, false, nil
	}
	k, ok := b.joint[joint]
	if !ok {
		return 0, 0, false, &Error{l.where, l.line, fmt.Errorf("hangs on joint %q, which the plan doesn't have",
			joint)}
	}
	j := &b.Joints[k]
	return j.Node, j.Ret, j.Here, nil
}

// outputStart is where the wire of a group on a board begins.
func (b *builder) outputStart(l label, g *plan.Group) (circuit.Node, circuit.Ground, bool, error) {
	k, ok := b.board[g.Board]
	if !ok {
		return 0, 0, false, &Error{l.where, l.line, fmt.Errorf("hangs on board %q, which the plan doesn't have",
			g.Board)}
	}
	for q := range b.Plan.Boards[k].Outputs {
		if b.Plan.Boards[k].Outputs[q].Number != g.Output {
			continue
		}
		if !b.Boards[k].Here {
			return 0, 0, false, nil
		}
		return b.Boards[k].Outputs[q], b.Boards[k].Ret, true, nil
	}
	return 0, 0, false, &Error{l.where, l.line, fmt.Errorf("hangs on output %d, which board %q doesn't have", g.Output,
		g.Board)}
}

func (b *builder) groups() error {
	b.Groups = make([]Group, len(b.Plan.Groups))
	for i := range b.Plan.Groups {
		pg := &b.Plan.Groups[i]
		if !b.only.group(i) {
			continue
		}
		l := label{"group " + pg.Name, pg.Pos.Line}
		var out Group
		var twin circuit.Ground
		var err error
		if pg.Board != "" {
			out.Feed, twin, out.Here, err = b.outputStart(l, pg)
		} else {
			out.Feed, twin, out.Here, err = b.start(l, pg.Joint)
		}
		if err != nil {
			return err
		}
		out.Unknown = pg.AsFound
		if out.Here {
			ret, own, err := b.ground(l, pg.Return, twin)
			if err != nil {
				return err
			}
			plus := 2
			if own {
				plus = 1
			}
			q := none()
			q.Group = i
			out.Ret = ret
			out.Far, out.wire = b.addWire(l, out.Feed, pg.Wire, plus, 0, q)
			out.shunt = b.spareShunt(l, out.Far, ret)
			if pg.AsFound {
				b.Unknown = append(b.Unknown, pg.Name)
			} else if err := b.lights(l, &out, pg, q); err != nil {
				return err
			}
		}
		b.Groups[i] = out
	}
	return nil
}

func (b *builder) lights(l label, out *Group, pg *plan.Group, q Param) error {
	for i := range pg.Lights {
		lt := &pg.Lights[i]
		if lt.Pos.Line > 0 {
			l.line = lt.Pos.Line
		}
		if lt.Kind == plan.Envelope {
			b.envelope(l, out, lt, q)
			out.extra = append(out.extra, -1)
			continue
		}
		br := circuit.Branch{Ohms: lt.Ohms.Nominal}
		if lt.Held() {
			br.Regulator = circuit.Regulator{Amps: lt.Regulator.Amps, HoldV: lt.Regulator.HoldVolts}
		}
		for k := range lt.Series {
			led, err := b.led(&lt.Series[k])
			if err != nil {
				return &Error{l.where, l.line, fmt.Errorf("%s, LED %d: %w", lt.Part, k+1, err)}
			}
			br.LEDs = append(br.LEDs, led)
		}
		if len(br.LEDs) == 0 && br.Ohms <= 0 && !lt.Held() {
			return &Error{l.where, l.line, fmt.Errorf("%s: has neither LED nor resistor, so it would short its feed",
				lt.Part)}
		}
		segments := 1
		if lt.Kind == plan.Strip {
			segments = lt.Segments
		}
		for piece := range lt.Count {
			at := out.Far
			var copper []circuit.Node
			for s := range segments {
				if s > 0 && lt.CopperOhms.Nominal > 0 {
					from := at
					at = b.addNode(l, func() circuit.Node { return b.n.AddResistor(from, lt.CopperOhms.Nominal) })
					copper = append(copper, at)
				}
				id := b.addBranch(l, at, out.Ret, br)
				out.Branches = append(out.Branches, Branch{ID: id, Node: at, Light: i, Piece: piece, Segment: s})
				q.Branch = len(out.Branches) - 1
				b.branchParams(l, lt, id, q)
			}
			if q.Branch = -1; copper != nil {
				b.coppers = append(b.coppers, copper)
				c := q
				c.Kind, c.Name, c.Value, c.apply = CopperOhms, "copper of "+lt.Part+", "+l.where, lt.CopperOhms,
					len(b.coppers)-1
				c.Reel = lt.Reel
				b.addParam(c, lt.Part)
			}
		}
		spare := b.addBranch(l, out.Far, out.Ret, br)
		b.n.SetBranchOn(spare, false)
		out.extra = append(out.extra, spare)
	}
	return nil
}

func (b *builder) addBranch(l label, at circuit.Node, ret circuit.Ground, br circuit.Branch) circuit.BranchID {
	b.labels.branch = append(b.labels.branch, l)
	b.ohms = append(b.ohms, branchOhms{nominal: br.Ohms, scale: 1})
	return b.n.AddBranch(at, ret, br)
}

// led fits a part's curve and takes it to the ambient temperature.
func (b *builder) led(l *plan.LED) (circuit.LED, error) {
	pts := make([]circuit.Sample, len(l.Points))
	for i, p := range l.Points {
		pts[i] = circuit.Sample{Volts: p.Volts, Amps: p.Amps}
	}
	f, err := circuit.FitDiode(pts)
	if err != nil {
		return circuit.LED{}, err
	}
	out := circuit.LED{Diode: f.Diode.AtTemperature(l.TempcoVPerK, b.Options.RoomC()-RoomC)}
	if l.Conducts {
		out.Reverse = circuit.Silicon()
	}
	return out, nil
}

func (b *builder) envelope(l label, out *Group, lt *plan.Light, q Param) {
	e := lt.Envelope
	if e == nil {
		e = &plan.Draw{}
	}
	amps := e.MeanAmps
	switch b.Options.Envelope {
	case Low:
		amps = e.LowAmps
	case High:
		amps = e.HighAmps
	}
	full := lt.RatedVolts / 2 // below half of its rated voltage it is taken to draw in proportion
	if full <= 0 {
		full = 1
	}
	id := b.n.AddDraw(out.Far, out.Ret, amps, full)
	out.Draws = append(out.Draws, id)
	b.labels.draw = append(b.labels.draw, l)
	b.draws = append(b.draws, standing{amps: amps, full: full, low: e.LowAmps, high: e.HighAmps})
	q.Kind, q.Name, q.Reel, q.apply = EnvelopeAmps, "draw of "+lt.Part+", "+l.where, lt.Reel, int(id)
	if b.Options.Envelope == Mean {
		q.Value = plan.Value{Nominal: amps, HalfWidth: max(e.HighAmps-amps, amps-e.LowAmps)}
		b.addParam(q, lt.Part)
	}
}

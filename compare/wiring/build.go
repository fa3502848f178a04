package wiring

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
)

// label is the place of something in the plan.
type label struct {
	where string
	line  int
}

// builder holds what Build needs only while it builds.
type builder struct {
	*Wired
	*names
	n      *circuit.Net
	common map[string]int
	only   *part // nil: all of the plan
}

// names is what of a plan is the same for all its parts: found once for a plan, not once
// for each of its feeds. Nobody writes to it afterwards.
type names struct {
	terminals []Terminal
	joint     map[string]int
	ret       map[string]int
	board     map[string]int
	split     []bool // by joint
	apart     []bool // by board: its own minus conductor is kept apart
}

func namesOf(p *plan.Plan) *names {
	n := &names{terminals: Terminals(p), joint: map[string]int{}, ret: map[string]int{}, board: map[string]int{}}
	for i := range p.Joints {
		n.joint[p.Joints[i].Name] = i
	}
	for i := range p.Returns {
		n.ret[p.Returns[i].Name] = i
	}
	for i := range p.Boards {
		n.board[p.Boards[i].Name] = i
	}
	n.findSplits(p)
	return n
}

// Build wires up what hangs behind one jack. Errors are *Error and name the
// group, joint or board and its line in the plan.
func Build(p *plan.Plan, jack string, o Options) (*Wired, error) {
	return buildPart(p, jack, o, namesOf(p), nil)
}

func buildPart(p *plan.Plan, jack string, o Options, of *names, only *part) (*Wired, error) {
	w := &Wired{Plan: p, Jack: p.JackAt(jack), Options: o, Terminals: of.terminals, Net: circuit.New(), names: of}
	if w.Jack < 0 {
		return nil, &Error{Where: "jack " + jack, Err: fmt.Errorf("the plan has no such jack")}
	}
	if !(o.SeriesOhm >= 0) || math.IsInf(o.SeriesOhm, 0) || !(math.Abs(o.RoomC()) <= 200) {
		return nil, &Error{Where: "jack " + jack, Line: p.Jacks[w.Jack].Pos.Line,
			Err: fmt.Errorf("can't be wired with %g ohm in series at %g degC", o.SeriesOhm, o.RoomC())}
	}
	b := &builder{Wired: w, names: of, n: w.Net, common: map[string]int{}, only: only}
	w.Meter = b.addNode(label{"jack " + jack, p.Jacks[w.Jack].Pos.Line},
		func() circuit.Node { return b.n.AddResistor(0, o.SeriesOhm) })
	for _, step := range []func() error{b.returns, b.joints, b.boards, b.groups} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	if err := b.n.Err(); err != nil {
		return nil, w.place(err)
	}
	w.Commons = len(b.common)
	w.Point = w.Net.NewPoint()
	w.solver = circuit.NewSolver(w.Net)
	for i := range w.wires {
		w.setWire(i)
	}
	return w, nil
}

// findSplits marks the joints and boards behind which something returns another way.
func (n *names) findSplits(p *plan.Plan) {
	n.split, n.apart = make([]bool, len(p.Joints)), make([]bool, len(p.Boards))
	mark := func(name string) {
		for range len(p.Joints) + 1 {
			j, ok := n.joint[name]
			if !ok {
				return
			}
			n.split[j] = true
			name = p.Joints[j].From
		}
	}
	for i := range p.Boards {
		if p.Boards[i].Return != "" {
			mark(p.Boards[i].Joint)
		}
	}
	for i := range p.Groups {
		g := &p.Groups[i]
		if g.Return == "" {
			continue
		}
		mark(g.Joint)
		if k, ok := n.board[g.Board]; ok {
			n.apart[k] = p.Boards[k].Return == ""
			mark(p.Boards[k].Joint)
		}
	}
}

func (b *builder) addNode(l label, add func() circuit.Node) circuit.Node {
	n := add()
	for len(b.labels.node) < int(n) {
		b.labels.node = append(b.labels.node, label{})
	}
	b.labels.node = append(b.labels.node, l)
	return n
}

func (b *builder) addReturn(l label, to circuit.Ground) circuit.Ground {
	g := b.n.AddReturn(to, 0)
	for len(b.labels.gnd) < int(g) {
		b.labels.gnd = append(b.labels.gnd, label{})
	}
	b.labels.gnd = append(b.labels.gnd, l)
	return g
}

// addWire leads on by a wire: as one resistor with both conductors, or with its
// minus apart, or as its plus alone.
func (b *builder) addWire(l label, from circuit.Node, w plan.Wire, plus int, minus circuit.Ground,
	q Param) (circuit.Node, int) {
	node := b.addNode(l, func() circuit.Node { return b.n.AddResistor(from, 0) })
	b.wires = append(b.wires, wire{node: node, gnd: minus, plus: float64(plus), ohms: w.Ohms.Nominal, warm: b.warm()})
	q.Kind, q.Name, q.Value, q.apply = WireOhms, "wire of "+l.where, w.Ohms, len(b.wires)-1
	b.addParam(q, fmt.Sprintf("%.3g", w.AreaM2))
	return node, len(b.wires) - 1
}

func (b *builder) warm() float64 { return 1 + plan.CopperPerK*(b.Options.RoomC()-20) }

func (b *builder) returns() error {
	b.Returns = make([]Return, len(b.Plan.Returns))
	for i := range b.Plan.Returns {
		r := &b.Plan.Returns[i]
		if !b.only.ret(i) {
			continue
		}
		l := label{"return " + r.Name, r.Pos.Line}
		to := circuit.Ground(0)
		if r.To != b.Plan.Jacks[b.Jack].Name {
			k, ok := b.ret[r.To]
			if ok && k >= i {
				return &Error{l.where, l.line, fmt.Errorf("leads to %q, which comes after it", r.To)}
			}
			if !ok || !b.Returns[k].Here {
				continue // another jack's
			}
			to = b.Returns[k].Ground
		}
		g := b.addReturn(l, to)
		b.wires = append(b.wires, wire{node: -1, gnd: g, ohms: r.Wire.Ohms.Nominal, warm: b.warm()})
		b.Returns[i] = Return{Here: true, Ground: g, wire: len(b.wires) - 1}
		q := none()
		q.Kind, q.Name, q.Value, q.Return, q.apply = WireOhms, "wire of "+l.where, r.Wire.Ohms, i, len(b.wires)-1
		b.addParam(q, fmt.Sprintf("%.3g", r.Wire.AreaM2))
	}
	return nil
}

func (b *builder) joints() error {
	b.Joints = make([]Joint, len(b.Plan.Joints))
	for i := range b.Plan.Joints {
		j := &b.Plan.Joints[i]
		if !b.only.joint(i) {
			continue
		}
		l := label{"joint " + j.Name, j.Pos.Line}
		from, ret := b.Meter, circuit.Ground(0)
		if j.From != b.Plan.Jacks[b.Jack].Name {
			k, ok := b.joint[j.From]
			if ok && k >= i {
				return &Error{l.where, l.line, fmt.Errorf("comes from %q, which comes after it", j.From)}
			}
			if !ok || !b.Joints[k].Here {
				continue
			}
			from, ret = b.Joints[k].Node, b.Joints[k].Ret
		}
		out := Joint{Here: true, Split: b.split[i]}
		q := none()
		q.Joint = i
		plus, minus := 2, circuit.Ground(0)
		if out.Split {
			plus, minus = 1, b.addReturn(l, ret)
			ret = minus
		}
		out.First, out.wire = b.addWire(l, from, j.Wire, plus, minus, q)
		out.Node, out.Ret = out.First, ret
		for k := range j.Holds {
			n, err := b.hold(l, out.Node, ret, &j.Holds[k], q)
			if err != nil {
				return err
			}
			out.Holds, out.Node = append(out.Holds, n), n
		}
		b.Joints[i] = out
	}
	return nil
}

// hold adds a thing that sits in a joint.
func (b *builder) hold(l label, from circuit.Node, ret circuit.Ground, h *plan.Hold, q Param) (circuit.Node, error) {
	if h.Pos.Line > 0 {
		l.line = h.Pos.Line
	}
	what := h.Text
	if what == "" {
		what = string(h.Kind)
	}
	add := func(kind ParamKind, v plan.Value) {
		q.Kind, q.Name, q.Value = kind, what+" at "+l.where, v
		b.addParam(q, what)
	}
	var n circuit.Node
	switch h.Kind {
	case plan.HoldDiode:
		if !(h.DropVolts.Nominal > 0) {
			return 0, &Error{l.where, l.line, fmt.Errorf("%s: its drop must be above 0 V", what)}
		}
		f := feed{drop: h.DropVolts.Nominal, ohms: h.Ohms.Nominal, shift: diodePerK * (b.Options.RoomC() - RoomC)}
		n = b.addNode(l, func() circuit.Node { return b.n.AddDiode(from, f.diode()) })
		f.node = n
		b.feeds = append(b.feeds, f)
		q.apply = len(b.feeds) - 1
		add(DiodeVolts, h.DropVolts)
		add(DiodeOhms, h.Ohms)
	case plan.HoldConverter:
		c := circuit.Converter{OutV: h.OutVolts.Nominal, Efficiency: h.Efficiency.Nominal, IdleA: h.IdleAmps.Nominal,
			MinInV: h.MinInVolts, Linear: h.Linear}
		n = b.addNode(l, func() circuit.Node { return b.n.AddConverter(from, ret, c) })
		b.feeds = append(b.feeds, feed{node: n, conv: c, cur: c})
		q.apply = len(b.feeds) - 1
		add(ConverterOut, h.OutVolts)
		if !h.Linear {
			add(ConverterEff, h.Efficiency)
		}
		add(ConverterIdl, h.IdleAmps)
	case plan.HoldFuse, plan.HoldSwitch, plan.HoldPlug:
		n = b.addNode(l, func() circuit.Node { return b.n.AddResistor(from, h.Ohms.Nominal) })
		b.feeds = append(b.feeds, feed{node: n, ohms: h.Ohms.Nominal})
		q.apply = len(b.feeds) - 1
		add(HoldOhms, h.Ohms)
	default:
		return 0, &Error{l.where, l.line, fmt.Errorf("can't hold a %q", h.Kind)}
	}
	return n, nil
}

// ground is where something with or without a return of its own goes back to.
func (b *builder) ground(l label, name string, twin circuit.Ground) (g circuit.Ground, own bool, err error) {
	if name == "" {
		return twin, false, nil
	}
	k, ok := b.ret[name]
	if !ok || !b.Returns[k].Here {
		return 0, false, &Error{l.where, l.line, fmt.Errorf("has no way back: its return %q doesn't lead to jack %q",
			name, b.Plan.Jacks[b.Jack].Name)}
	}
	return b.Returns[k].Ground, true, nil
}

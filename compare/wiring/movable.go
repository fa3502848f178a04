package wiring

import "sealworthy/compare/plan"

// Half-width that makes a quantity movable without making it uncertain.
const hairV, hairOhm = 1e-9, 1e-9

// Movable is a copy of a plan in which every forward voltage and every copper
// conductor can be moved, because temperature moves them even where the plan
// gives no tolerance.
func Movable(p *plan.Plan) *plan.Plan {
	q := *p
	q.Joints = append([]plan.Joint(nil), p.Joints...)
	for i := range q.Joints {
		movableWire(&q.Joints[i].Wire)
	}
	q.Returns = append([]plan.Return(nil), p.Returns...)
	for i := range q.Returns {
		movableWire(&q.Returns[i].Wire)
	}
	q.Boards = append([]plan.Board(nil), p.Boards...)
	for i := range q.Boards {
		movableWire(&q.Boards[i].Wire)
	}
	q.Groups = append([]plan.Group(nil), p.Groups...)
	for i := range q.Groups {
		g := &q.Groups[i]
		movableWire(&g.Wire)
		g.Lights = append([]plan.Light(nil), g.Lights...)
		for k := range g.Lights {
			l := &g.Lights[k]
			if l.CopperOhms.Nominal > 0 && l.CopperOhms.HalfWidth == 0 {
				l.CopperOhms.HalfWidth = hairOhm
			}
			l.Series = append([]plan.LED(nil), l.Series...)
			for n := range l.Series {
				if l.Series[n].Volts.HalfWidth == 0 {
					l.Series[n].Volts.HalfWidth = hairV
				}
			}
		}
	}
	return &q
}

func movableWire(w *plan.Wire) {
	if w.Ohms.Nominal > 0 && w.Ohms.HalfWidth == 0 {
		w.Ohms.HalfWidth = hairOhm
	}
}

package wiring

import "sealworthy/compare/plan"

// Loose is the plan with every feed clipped at its own wire: each hangs on
// its jack by a joint of 0 ohm. The names of joints and returns are no names
// that a plan can have.
func Loose(p *plan.Plan) *plan.Plan {
	q := *p
	q.Joints, q.Returns = nil, nil
	for _, j := range p.Jacks {
		q.Joints = append(q.Joints, plan.Joint{Name: "\x00" + j.Name, From: j.Name})
		q.Returns = append(q.Returns, plan.Return{Name: "\x00" + j.Name, To: j.Name})
	}
	q.Boards = append([]plan.Board(nil), p.Boards...)
	for i, b := range q.Boards {
		q.Boards[i].Joint = "\x00" + p.JackOf(b.Joint)
		if b.Return != "" {
			q.Boards[i].Return = q.Boards[i].Joint
		}
	}
	q.Groups = append([]plan.Group(nil), p.Groups...)
	for i, g := range q.Groups {
		if g.Board == "" {
			q.Groups[i].Joint = "\x00" + p.JackOf(g.Joint)
		}
		if g.Return != "" {
			q.Groups[i].Return = "\x00" + p.JackOf(p.JointOf(g))
		}
	}
	return &q
}

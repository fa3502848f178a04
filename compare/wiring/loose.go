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
		q.Boards[i].Joint = "\x00" + JackOf(p, b.Joint)
		if b.Return != "" {
			q.Boards[i].Return = q.Boards[i].Joint
		}
	}
	q.Groups = append([]plan.Group(nil), p.Groups...)
	for i, g := range q.Groups {
		if g.Board == "" {
			q.Groups[i].Joint = "\x00" + JackOf(p, g.Joint)
		}
		if g.Return != "" {
			q.Groups[i].Return = "\x00" + JackOfGroup(p, g)
		}
	}
	return &q
}

// JackOf is the jack that feeds a joint or a jack itself; "" where there is none.
func JackOf(p *plan.Plan, joint string) string {
	for range len(p.Joints) + 1 {
		for _, j := range p.Jacks {
			if j.Name == joint {
				return joint
			}
		}
		from := ""
		for _, j := range p.Joints {
			if j.Name == joint {
				from = j.From
			}
		}
		if from == "" {
			return ""
		}
		joint = from
	}
	return ""
}

// JackOfGroup is the jack that feeds a group, by its joint or its board.
func JackOfGroup(p *plan.Plan, g plan.Group) string {
	if g.Board != "" {
		for _, b := range p.Boards {
			if b.Name == g.Board {
				return JackOf(p, b.Joint)
			}
		}
	}
	return JackOf(p, g.Joint)
}

package together

import (
	"math"
	"slices"

	"sealworthy/compare/linear"
)

// How clearly a group must show a cause, in standard uncertainties, and how much
// of what the cause would make of it.
const (
	clearU  = 2.0
	shouldU = 3.0 // should be off by so much and isn't: it speaks against it
	halfOf  = 0.5
)

// cause sums up one class.
func (m *model) cause(members []outcome, total float64) Cause {
	var c Cause
	best := members[0]
	bestLog := math.Inf(-1)
	for _, o := range members {
		w := logSum(o.logs)
		c.P += math.Exp(w - total)
		if w > bestLog {
			best, bestLog = o, w
		}
		if o.place.Kind != "" && !slices.Contains(c.Places, o.place) {
			c.Places = append(c.Places, o.place)
		}
	}
	c.Kind, c.Part, c.Besides = best.kind, best.part, best.own
	mean := m.size(&c, members, best)
	m.witnesses(&c, best, mean)
	c.Text, c.Look = m.say(c)
	return c
}

// size tells how large the cause is, and returns what it then makes of the readings.
func (m *model) size(c *Cause, members []outcome, best outcome) []float64 {
	switch {
	case best.v != nil:
		g, ok := newNormal(m.under(nil), m.d)
		if !ok {
			return make([]float64, len(m.d))
		}
		kv := times(g.k, best.v)
		a := linear.Dot(best.v, g.kr) / (linear.Dot(best.v, kv) + 1/sq(best.s[0]))
		c.Factor = 1 + a
		mean := make([]float64, len(m.d))
		for i := range mean {
			mean[i] = a * best.v[i]
		}
		return mean
	case best.place.Kind != "":
		if c.Open = math.IsInf(best.ohms, 1); c.Open {
			return best.mean
		}
		c.Ohms = math.Exp(average(members, best, func(o outcome) float64 { return math.Log(o.ohms) }))
	default:
		c.Volts = average(members, best, func(o outcome) float64 { return o.volts })
	}
	return best.mean
}

// average is a weighted mean over the sizes of one cause.
func average(members []outcome, best outcome, of func(outcome) float64) float64 {
	top, sum, weight := logSum(best.logs), 0.0, 0.0
	for _, o := range members {
		if o.place != best.place || math.IsInf(o.ohms, 1) {
			continue
		}
		w := math.Exp(logSum(o.logs) - top)
		sum, weight = sum+w*of(o), weight+w
	}
	return sum / weight
}

// witnesses sorts the groups that hang on a cause: what the readings that don't
// hang on it lead to expect, against what was seen and what the cause makes of it.
func (m *model) witnesses(c *Cause, best outcome, mean []float64) {
	off, u := m.given(best.hangs)
	for i, r := range m.r {
		if !best.hangs[i] {
			continue
		}
		e := mean[i]
		list := &c.CantShow
		switch {
		case math.Abs(off[i]) >= clearU*u[i] && off[i]/e >= halfOf:
			list = &c.Shows
		case math.Abs(e) >= shouldU*u[i] && off[i]/e < halfOf:
			list = &c.Against
		}
		if !slices.Contains(*list, r.Group) {
			*list = append(*list, r.Group)
		}
	}
	drop := func(from *[]string, in ...[]string) {
		*from = slices.DeleteFunc(*from, func(g string) bool {
			return slices.ContainsFunc(in, func(l []string) bool { return slices.Contains(l, g) })
		})
	}
	drop(&c.Besides, c.Against)
	drop(&c.Shows, c.Against, c.Besides)
	drop(&c.CantShow, c.Shows, c.Against, c.Besides)
	if best.place.Kind != "" {
		for _, g := range m.hanging(best.place) {
			if !slices.Contains(c.Shows, g) && !slices.Contains(c.Against, g) && !slices.Contains(c.CantShow, g) && !slices.Contains(c.Besides, g) {
				c.NotMeasured = append(c.NotMeasured, g)
			}
		}
	}
}

// given conditions the readings that hang on a cause on those that don't:
// deviation and standard uncertainty of each, A. Others are left at what they are.
func (m *model) given(hangs []bool) (off, u []float64) {
	n, all := len(m.d), m.under(nil)
	off, u = slices.Clone(m.d), make([]float64, n)
	var free []int
	for i := range n {
		u[i] = math.Sqrt(all[i][i])
		if !hangs[i] {
			free = append(free, i)
		}
	}
	if len(free) == 0 {
		return off, u
	}
	c, d := square(len(free)), make([]float64, len(free))
	for a, i := range free {
		d[a] = m.d[i]
		for b, j := range free {
			c[a][b] = all[i][j]
		}
	}
	k, _, ok := inverse(c)
	if !ok {
		return off, u
	}
	kd := times(k, d)
	for i := range n {
		if !hangs[i] {
			continue
		}
		x := make([]float64, len(free))
		for a, j := range free {
			x[a] = all[i][j]
		}
		off[i] -= linear.Dot(x, kd)
		u[i] = math.Sqrt(max(all[i][i]-linear.Dot(x, times(k, x)), 1e-3*all[i][i]))
	}
	return off, u
}

// hanging lists the groups of the plan that hang on a place, in plan order.
func (m *model) hanging(at Place) []string {
	var out []string
	for _, g := range m.p.Groups {
		if m.hangsOn(g.Name, at) {
			out = append(out, g.Name)
		}
	}
	return out
}

// hangsOn walks up from a group.
func (m *model) hangsOn(group string, at Place) bool {
	joint, back, board := "", "", ""
	for _, g := range m.p.Groups {
		if g.Name == group {
			joint, back, board = g.Joint, g.Return, g.Board
		}
	}
	for _, b := range m.p.Boards {
		if board != "" && b.Name == board {
			if joint = b.Joint; back == "" {
				back = b.Return
			}
		}
	}
	switch at.Kind {
	case AtLeads:
		return true
	case AtJack:
		return jackOf(m.p, joint) == at.Name
	case AtBoard:
		return board == at.Name
	case AtJoint:
		for range len(m.p.Joints) + 1 {
			if joint == at.Name {
				return true
			}
			for _, j := range m.p.Joints {
				if j.Name == joint {
					joint = j.From
					break
				}
			}
		}
	case AtReturn:
		for range len(m.p.Returns) + 1 {
			if back == at.Name {
				return true
			}
			for _, r := range m.p.Returns {
				if r.Name == back {
					back = r.To
					break
				}
			}
		}
	}
	return false
}

package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// OpenedSince: something that lies in a closure, or in one inside it, was touched after that place in the record, so
// it was open then. A clip is moved from outside, and what counts as touched by a damaged record was touched by nobody.
func (h History) OpenedSince(p *plan.Plan, closure string, o capture.Order) bool {
	in := inside(p, closure)
	return slices.ContainsFunc(h.Reworks, func(r Rework) bool {
		return !r.Clip && r.What != Everything && r.Order.After(o) && slices.Contains(in, closureOf(p, r.What))
	})
}

// closureOf is the closure that a joint, board or group lies in; "": none, or there is no such place.
func closureOf(p *plan.Plan, place string) string {
	if g, ok := p.Group(place); ok {
		return g.Closure
	}
	if b, ok := p.Board(place); ok {
		return b.Closure
	}
	j, _ := p.Joint(place)
	return j.Closure
}

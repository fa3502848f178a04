package compare

import (
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/plan"
)

// History is all that was recorded of a build, over all its sittings. What came
// before what is told by the Order of each, never by a time.
type History struct {
	// Steps are in the order of the record, with those that the maker measured
	// again: they were read, too.
	Steps   []capture.StepRecord
	Reworks []Rework // places that were touched, by their order
	Accepts []Accept // groups taken as they are
	// Nothing are the places at which the maker, asked, said that nothing was touched.
	Nothing []capture.Order
	// Allowed are checks of the plan that were accepted, Ticked the items of a
	// closure's list that were ticked by hand.
	Allowed []record.ByName
	Ticked  []record.ByName
	// Sittings are in their order.
	Sittings []record.SittingState
	Damage   []record.Damage
}

// Rework says that something was touched: what lies behind it must be measured
// and looked at anew.
type Rework struct {
	What string // a jack, joint, return, board or group; Everything
	// Groups hung on it by the plan of then, where that is known.
	Groups []string
	Clip   bool // only the clip on it: it must be measured anew, what was seen stays
	Order  capture.Order
	At     time.Time
}

// Everything is Rework.What where all of the model counts as touched.
const Everything = "everything"

// Accept says that the maker takes a group as it is, with a reason.
type Accept struct {
	Group  string
	Reason string // in the maker's words
	Order  capture.Order
	At     time.Time
}

// Retest is the answer to damage that takes nothing that was recorded before it
// for granted.
const Retest = "retest"

// HistoryOf takes what the files of a build tell.
func HistoryOf(f record.Folded) History {
	h := History{Steps: f.Steps, Allowed: f.Allowed, Ticked: f.Ticked, Sittings: f.Sittings, Damage: f.Damage}
	for _, r := range f.Reworked {
		h.Reworks = append(h.Reworks, Rework{What: r.Place, Groups: r.Groups, Clip: r.Clip, Order: r.Order, At: r.At})
	}
	for _, a := range f.Accepted {
		for _, g := range a.Groups {
			h.Accepts = append(h.Accepts, Accept{Group: g, Reason: a.Reason, Order: a.Order, At: a.At})
		}
	}
	for _, n := range f.TouchedNothing {
		h.Nothing = append(h.Nothing, n.Order)
	}
	for _, d := range f.Damage {
		if d.Answered != Retest {
			continue
		}
		h.Reworks = append(h.Reworks, Rework{What: Everything, Order: d.AnsweredAt})
	}
	return h
}

// touches: what was touched concerns a group, by the plan of then or of now. A
// place that nobody knows any more may have been anywhere.
func (r Rework) touches(p *plan.Plan, group string) bool {
	switch {
	case r.What == Everything, slices.Contains(r.Groups, group):
		return true
	case r.What != "" && isPlace(p, r.What):
		return behind(p, group, r.What)
	}
	return len(r.Groups) == 0
}

// voids is where a group was touched last: what stands before it in the record
// tells nothing of the group any more. ok is false where it never was.
type voids struct {
	order capture.Order
	ok    bool
}

// covers: something that began there came before the touch.
func (v voids) covers(began capture.Order) bool { return v.ok && !began.After(v.order) }

func (v voids) later(r Rework) voids {
	if v.ok && !r.Order.After(v.order) {
		return v
	}
	return voids{r.Order, true}
}

// touched is where a group was last touched: for its readings, and for what was
// seen of it, which a moved clip doesn't change.
func touched(p *plan.Plan, group string, h History) (readings, looks voids) {
	for _, r := range h.Reworks {
		if !r.touches(p, group) {
			continue
		}
		readings = readings.later(r)
		if !r.Clip {
			looks = looks.later(r)
		}
	}
	return readings, looks
}

// answeredAfter: asked what was touched, the maker answered after all that came
// up to there: nothing, or what.
func (h History) answeredAfter(rests capture.Order) bool {
	return slices.ContainsFunc(h.Nothing, func(o capture.Order) bool { return o.After(rests) }) ||
		slices.ContainsFunc(h.Reworks, func(r Rework) bool { return r.What != Everything && r.Order.After(rests) })
}

// beforeChain: a sitting is of before lines were chained, converted since or not.
func (h History) beforeChain() bool {
	return slices.ContainsFunc(h.Sittings, func(s record.SittingState) bool { return !s.Chained || s.From != "" })
}

// numbered gives what isn't on the record yet its place after all that is: steps
// first, in their order.
func (h History) numbered() History {
	next := h.after()
	give := func(o *capture.Order) {
		if *o == 0 {
			next++
			*o = next
		}
	}
	h.Steps, h.Reworks, h.Accepts, h.Nothing = slices.Clone(h.Steps), slices.Clone(h.Reworks), slices.Clone(h.Accepts),
		slices.Clone(h.Nothing)
	for i := range h.Steps {
		give(&h.Steps[i].BeganAt)
		give(&h.Steps[i].EndedAt)
	}
	for i := range h.Reworks {
		give(&h.Reworks[i].Order)
	}
	for i := range h.Accepts {
		give(&h.Accepts[i].Order)
	}
	for i := range h.Nothing {
		give(&h.Nothing[i])
	}
	return h
}

// after is a place in a sitting after all that is on the record.
func (h History) after() capture.Order {
	top := 0
	see := func(o capture.Order) { top = max(top, o.Sitting()) }
	for _, r := range h.Steps {
		see(r.EndedAt)
	}
	for _, r := range h.Reworks {
		see(r.Order)
	}
	for _, a := range h.Accepts {
		see(a.Order)
	}
	for _, o := range h.Nothing {
		see(o)
	}
	return capture.OrderAt(top+1, 0)
}

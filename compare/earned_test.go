package compare

import (
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/look"
)

// lighter is a hull that feeds a house through a joint, a hold that hides a
// joint only, and a bow that hides what feeds nothing. Invented.
const lighter = `
build = "Lighter"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.hull]
[closure.house]
[closure.hold]
[closure.bow]
[part."lighter lamp"]
like = "smd warm white 12 V"
tolerance = 0.02
[joint.keel]
from = "main"
wire = { mm = 0.3, length_mm = 100 }
closure = "hull"
[joint.riser]
from = "main"
wire = { mm = 0.3, length_mm = 100 }
closure = "hold"
[joint.stem]
from = "main"
wire = { mm = 0.3, length_mm = 100 }
closure = "bow"
[[group]]
name = "bilge"
closure = "hull"
joint = "main"
lights = [ { part = "lighter lamp", count = 4 } ]
[[group]]
name = "fore"
closure = "house"
joint = "keel"
lights = [ { part = "lighter lamp", count = 3 } ]
[[group]]
name = "mid"
closure = "house"
joint = "keel"
lights = [ { part = "lighter lamp", count = 4 } ]
[[group]]
name = "aft"
closure = "house"
joint = "keel"
lights = [ { part = "lighter lamp", count = 5 } ]
[[group]]
name = "mast"
closure = "house"
joint = "riser"
lights = [ { part = "lighter lamp", count = 4 } ]
`

// passed measures and looks at everything, as a careful maker does.
func (y *yard) passed() {
	y.healthy(Fitted)
	for _, c := range y.plan.Closures {
		y.look(c.Name, look.Right)
	}
	y.nothing()
}

func (y *yard) ticks(closure, item string) {
	y.h.Ticked = append(y.h.Ticked, record.ByName{Name: item, Closure: closure, Order: y.order()})
}

// moved adds what moving the wires of a closure showed.
func (y *yard) moved(closure string, drops int) {
	s := capture.Step{ID: closure + "/wiggle", Kind: capture.Wiggle, Closure: closure, Feed: closure}
	for _, g := range y.plan.Groups {
		if g.Closure == closure {
			s.Groups = append(s.Groups, g.Name)
		}
	}
	y.h.Steps = append(y.h.Steps,
		capture.StepRecord{Step: s, Stage: Fitted, Outcome: capture.Measured, BeganAt: y.order(),
			EndedAt: y.order(),
			Drops:   make([]capture.Drop, drops)})
}

// whole adds what became of the whole model at its jack.
func (y *yard) whole(o capture.Outcome) {
	y.h.Steps = append(y.h.Steps,
		capture.StepRecord{Step: capture.Step{ID: "main/whole", Kind: capture.Whole, Feed: "main"}, Stage: Closed,
			Outcome: o, Reason: "above 0.5 A", BeganAt: y.order(), EndedAt: y.order()})
}

// A closure is ready only if all that it hides, feeds and rests on is.
func TestReadyIsEarned(t *testing.T) {
	for _, c := range []struct {
		name   string
		do     func(*yard)
		want   map[string]ClosureVerdict
		of     string // the closure
		reason string // that must stand there
	}{
		{"all measured, looked at, answered and ticked", func(y *yard) {
			y.passed()
			y.ticks("bow", "stem")
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": ReadyToClose, "hold": ReadyToClose,
			"bow": ReadyToClose}, "hold", "all that is fed through it passed"},
		{"a bad joint inside feeds a house elsewhere", func(y *yard) {
			y.healthy(Fitted)
			for g, part := range map[string]float64{"fore": 0.93, "mid": 0.91, "aft": 0.89} {
				y.rework(g)
				y.measure(g, Fitted, part*y.expected(g, Fitted))
			}
			y.look("hull", look.Right)
			y.look("house", look.Right)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen, "house": KeepOpen, "hold": ReadyToClose}, "hull",
			"(in house) runs through keel: low. There are about "},
		{"what is wrong with a group elsewhere lies elsewhere, perhaps", func(y *yard) {
			y.passed()
			y.rework("fore")
			y.measure("fore", Fitted, 0.66*y.expected("fore", Fitted))
			y.look("house", look.Right)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": KeepOpen, "hold": ReadyToClose}, "hull",
			"fore (in house) runs through keel: low"},
		{"a closure of joints alone, nothing measured behind it", func(y *yard) {
			y.healthy(Fitted)
			y.h.Steps = slices.DeleteFunc(y.h.Steps, func(r capture.StepRecord) bool { return r.Step.Feed == "mast" })
			y.look("hull", look.Right)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "hold": NotSettled}, "hold",
			"fed through it, and not measured yet: mast"},
		{"a joint that feeds nothing is ticked by hand", func(y *yard) { y.passed() },
			map[string]ClosureVerdict{"bow": NotSettled, "hull": ReadyToClose}, "bow",
			`joint "stem": see that it is in, no test tells of it`},
		{"a tick doesn't outlive a touch", func(y *yard) {
			y.ticks("bow", "stem")
			y.rework("stem")
			y.passed()
		}, map[string]ClosureVerdict{"bow": NotSettled}, "bow", "stem"},
		{"nobody was asked what was touched", func(y *yard) {
			y.passed()
			y.look("hull", look.Right)
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": ReadyToClose}, "hull", "say what was touched"},
		{"asked before the last reading", func(y *yard) {
			y.nothing()
			y.healthy(Fitted)
			y.look("hull", look.Right)
		}, map[string]ClosureVerdict{"hull": NotSettled}, "hull", "say what was touched"},
		{"touched elsewhere is an answer, too", func(y *yard) {
			y.passed()
			y.look("hull", look.Right)
			y.rework("mast")
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": NotSettled, "hold": NotSettled}, "house",
			"mast: not measured (reworked after this reading)"},
		{"the clip: measured anew, seen still", func(y *yard) {
			y.passed()
			y.h.Reworks = append(y.h.Reworks, Rework{What: "bilge", Clip: true, Order: y.order()})
			y.measure("bilge", Fitted, y.expected("bilge", Fitted))
			y.nothing()
		}, map[string]ClosureVerdict{"hull": ReadyToClose}, "hull", "looked at"},
		{"the clip: not measured since", func(y *yard) {
			y.passed()
			y.h.Reworks = append(y.h.Reworks, Rework{What: "bilge", Clip: true, Order: y.order()})
		}, map[string]ClosureVerdict{"hull": NotSettled}, "hull", "bilge: not measured"},
		{"the clock set back a year: the record's order counts", func(y *yard) {
			y.passed()
			y.now = y.now.AddDate(-1, 0, 0)
			y.measure("bilge", Fitted, 0.75*y.expected("bilge", Fitted))
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "bilge: low"},
		{"the clock set back before a rework was told", func(y *yard) {
			y.passed()
			y.now = y.now.Add(-48 * time.Hour)
			y.rework("keel")
		}, map[string]ClosureVerdict{"house": NotSettled, "hull": NotSettled}, "house",
			"fore: not measured (reworked after this reading)"},
		{"measured twice and healthy", func(y *yard) {
			y.healthy(Fitted)
			y.passed()
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": ReadyToClose}, "hull", "every group"},
		{"failed, then passes, and nothing was touched", func(y *yard) {
			y.measure("bilge", Fitted, 0.75*y.expected("bilge", Fitted))
			y.passed()
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": ReadyToClose}, "hull", "something moves"},
		{"passes, then fails", func(y *yard) {
			y.passed()
			y.measure("bilge", Fitted, 0.75*y.expected("bilge", Fitted))
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "bilge: low"},
		{"failed, mended and told, then passes", func(y *yard) {
			y.measure("bilge", Fitted, 0.75*y.expected("bilge", Fitted))
			y.rework("bilge")
			y.passed()
		}, map[string]ClosureVerdict{"hull": ReadyToClose}, "hull", "every group"},
		{"failed on the table, passes when fitted, and nothing was touched", func(y *yard) {
			r := y.measure("bilge", Loose, 0.1)
			r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 3, "too much current"
			y.passed()
		}, map[string]ClosureVerdict{"hull": NotSettled}, "hull", "high when it was loose"},
		{"fitted after it was closed: the later counts", func(y *yard) {
			y.healthy(Closed)
			y.passed()
			y.measure("bilge", Fitted, 0.75*y.expected("bilge", Fitted))
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "bilge: low"},
		{"a newer test at another stage broke off", func(y *yard) {
			y.passed()
			r := y.measure("bilge", Closed, 0)
			r.Outcome, r.Reason, r.Readings = capture.Failed, "the supply is gone", nil
			y.nothing()
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": ReadyToClose}, "hull",
			"broke off in it: the supply is gone"},
		{"a newer reading at another voltage broke off", func(y *yard) {
			y.passed()
			r := y.extra("bilge", 8, 0)
			r.Outcome, r.Reason = capture.Interrupted, "Ctrl-C"
			y.nothing()
		}, map[string]ClosureVerdict{"hull": NotSettled}, "hull", "broke off in it: Ctrl-C"},
		{"left out with the output on", func(y *yard) {
			y.passed()
			r := y.measure("bilge", Fitted, 0)
			r.Outcome, r.Reason = capture.Skipped, "it smokes"
			y.nothing()
		}, map[string]ClosureVerdict{"hull": NotSettled}, "hull", "it smokes"},
		{"a wire that moves", func(y *yard) {
			y.passed()
			y.moved("hull", 2)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen, "house": ReadyToClose}, "hull", "dropped 2 times"},
		{"a wire that moves, in a closure that was called otherwise then", func(y *yard) {
			y.passed()
			y.moved("hull", 2)
			y.h.Steps[len(y.h.Steps)-1].Step.Closure = "old hull"
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "dropped 2 times"},
		{"a wire that moves only the first time", func(y *yard) {
			y.passed()
			y.moved("hull", 2)
			y.moved("hull", 0)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "something moves"},
		{"a wire that moved, mended and moved again", func(y *yard) {
			y.moved("hull", 2)
			y.rework("bilge")
			y.passed()
			y.moved("hull", 0)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": ReadyToClose}, "hull", "every group"},
		{"a joint was touched that the plan calls otherwise now", func(y *yard) {
			y.passed()
			y.rework("keelson")
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": NotSettled}, "hull",
			"bilge: not measured (reworked after this reading)"},
		{"a group was touched by the plan of then", func(y *yard) {
			y.passed()
			y.h.Reworks = append(y.h.Reworks, Rework{What: "old joint", Groups: []string{"mast"}, Order: y.order()})
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": NotSettled}, "house", "mast: not measured"},
		{"the whole model stopped at its jack", func(y *yard) {
			y.passed()
			y.whole(capture.Tripped)
		}, map[string]ClosureVerdict{"hull": KeepOpen, "house": KeepOpen, "hold": KeepOpen}, "hull",
			"the whole model at its jack, stage closed: too much current: above 0.5 A"},
		{"it stopped only the first time", func(y *yard) {
			y.passed()
			y.whole(capture.Tripped)
			y.whole(capture.Measured)
		}, map[string]ClosureVerdict{"hull": KeepOpen}, "hull", "something moves"},
		{"it stopped, was mended and told", func(y *yard) {
			y.whole(capture.Tripped)
			y.rework("main")
			y.whole(capture.Measured)
			y.passed()
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": ReadyToClose}, "hull", "every group"},
		{"called all right before it was ever lit", func(y *yard) {
			y.look("hull", look.Right)
			y.healthy(Fitted)
			y.nothing()
		}, map[string]ClosureVerdict{"hull": LookFirst}, "hull", "not looked at: bilge"},
		{"called all right when only what was touched since had been lit", func(y *yard) {
			y.healthy(Fitted)
			y.rework("bilge")
			y.look("hull", look.Right)
			y.measure("bilge", Fitted, y.expected("bilge", Fitted))
			y.nothing()
		}, map[string]ClosureVerdict{"hull": LookFirst}, "hull", "not looked at: bilge"},
		{"damage to the record caps all", func(y *yard) {
			y.passed()
			y.h.Damage = []record.Damage{{Name: "a.lp:7", File: "a.lp", Line: 7, What: "a line is missing"}}
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": NotSettled, "hold": NotSettled, "bow": NotSettled},
			"hold", "a.lp, line 7: a line is missing"},
		{"damage answered with words", func(y *yard) {
			y.passed()
			y.h.Damage = []record.Damage{{Name: "a.lp:7", File: "a.lp", Line: 7, What: "a line is missing",
				Answered: "the dog"}}
		}, map[string]ClosureVerdict{"hull": ClosedByChoice, "house": ClosedByChoice}, "hull",
			"taken as it stands: the dog"},
		{"damage answered by testing anew, and nothing since", func(y *yard) {
			y.passed()
			y.retest()
		}, map[string]ClosureVerdict{"hull": NotSettled, "house": NotSettled}, "hull", "bilge: not measured"},
		{"damage answered by testing anew, and done", func(y *yard) {
			y.passed()
			y.retest()
			y.passed()
		}, map[string]ClosureVerdict{"hull": ReadyToClose, "house": ReadyToClose}, "hull", "every group"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, lighter)
			c.do(y)
			got, _ := y.verdicts()
			for name, v := range c.want {
				if got[name].Verdict != v {
					t.Errorf("%s: %s, want %s: %q", name, got[name].Verdict, v, got[name].Reasons)
				}
			}
			if all := strings.Join(got[c.of].Reasons, "\n"); !strings.Contains(all, c.reason) {
				t.Errorf("no reason of %s says %q: %q", c.of, c.reason, got[c.of].Reasons)
			}
		})
	}
}

// retest answers damage with a test of everything anew, as the record tells it.
func (y *yard) retest() {
	h := HistoryOf(record.Folded{Sittings: []record.SittingState{{Number: 1, Chained: true}},
		Damage: []record.Damage{{Name: "a.lp:7", File: "a.lp", Line: 7, What: "a line is missing", Order: 3,
			Answered: Retest, AnsweredAt: y.order()}}})
	y.h.Damage, y.h.Reworks = h.Damage, append(y.h.Reworks, h.Reworks...)
}

// What a closure lists is what the plan hides in it, each ticked or not.
func TestItemsOfAClosure(t *testing.T) {
	y := newYard(t, lighter)
	y.passed()
	y.rework("mast")
	y.ticks("bow", "stem")
	got, _ := y.verdicts()
	want := map[string][]Item{
		"hull": {{Name: "keel", Kind: ItemJoint, By: ByTest, Feeds: []string{"fore", "mid", "aft"}},
			{Name: "bilge", Kind: ItemGroup, By: ByTest}},
		"hold": {{Name: "riser", Kind: ItemJoint, Feeds: []string{"mast"}}},
		"bow":  {{Name: "stem", Kind: ItemJoint, By: ByHand}},
		"house": {{Name: "fore", Kind: ItemGroup, By: ByTest}, {Name: "mid", Kind: ItemGroup, By: ByTest},
			{Name: "aft", Kind: ItemGroup, By: ByTest}, {Name: "mast", Kind: ItemGroup}},
	}
	for name, items := range want {
		if !slices.EqualFunc(got[name].Items, items, func(a, b Item) bool {
			return a.Name == b.Name && a.Kind == b.Kind && a.By == b.By && slices.Equal(a.Feeds, b.Feeds)
		}) {
			t.Errorf("%s: %+v, want %+v", name, got[name].Items, items)
		}
	}
}

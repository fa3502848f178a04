package main

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// touchedNothing is --touched where nothing was.
const touchedNothing = "nothing"

// touchedMarks is the answer to what was touched: nothing, or which places.
func touchedMarks(b build, what []string, reason string) ([]capture.Mark, error) {
	if !slices.Contains(what, touchedNothing) {
		return reworkMarks(b, what, reason)
	}
	if len(what) > 1 {
		return nil, misuse("measure", "--touched is nothing, or places: not both")
	}
	return []capture.Mark{{Kind: capture.MarkTouchedNothing}}, nil
}

// reworkMarks says that places were touched, with the groups that hang on them. A
// group that the plan lost since it was measured is a place, too.
func reworkMarks(b build, places []string, reason string) ([]capture.Mark, error) {
	f, err := record.ReadDir(b.dir)
	if err != nil {
		return nil, err
	}
	lost := compare.LostGroups(b.plan, compare.HistoryOf(f))
	var out []capture.Mark
	for _, x := range places {
		groups := compare.Behind(b.plan, x)
		switch {
		case slices.ContainsFunc(compare.Places(b.plan), func(y capture.Place) bool { return y.Name == x }):
		case slices.ContainsFunc(lost, func(y compare.Lost) bool { return y.Group == x }):
			groups = []string{x}
		default:
			return nil, unknownPlace(b.plan, x)
		}
		out = append(out, capture.Mark{Kind: capture.MarkReworked, Feed: x, Groups: groups, Reason: reason})
	}
	return out, nil
}

func isGroup(p *plan.Plan, name string) bool {
	return p.GroupAt(name) >= 0
}

func unknownPlace(p *plan.Plan, name string) error {
	var all []string
	for _, g := range p.Groups {
		all = append(all, g.Name)
	}
	return withHint(fmt.Errorf("the plan has nothing called %q", name), "its groups are: "+strings.Join(all, ", "))
}

// skipMarks says that a feed was left out on purpose, at each of its paces.
func skipMarks(p *plan.Plan, stage, feed, reason string) ([]capture.Mark, error) {
	bud, err := compare.NewExpected(p).At(scene.Scene{Loose: stage == compare.Loose})
	if err != nil {
		return nil, err
	}
	steps, err := compare.Steps(p, bud, compare.StepOptions{Stage: stage})
	if err != nil {
		return nil, err
	}
	var out []capture.Mark
	for _, s := range steps {
		switch {
		case s.Kind != capture.Power:
		case s.Feed == feed:
			out = append(out, stepMarks(s, capture.Mark{Kind: capture.MarkSkipped, Reason: reason},
				capture.Skipped)...)
		case slices.Contains(s.Groups, feed):
			return nil, misuse("measure", "%q can't be skipped alone: it is fed by %q, skip that", feed, s.Feed)
		}
	}
	if out == nil {
		return nil, unknownPlace(p, feed)
	}
	return out, nil
}

// stepMarks wraps a mark into a step of its own.
func stepMarks(s capture.Step, m capture.Mark, o capture.Outcome) []capture.Mark {
	m.StepID, m.Closure, m.Feed, m.Groups, m.Pace = s.ID, s.Closure, s.Feed, s.Groups, s.Pace
	begin, end := m, m
	begin.Kind, begin.Step, begin.PlanRevision = capture.MarkBegin, &s, s.PlanRevision
	end.Kind, end.Outcome = capture.MarkEnd, o
	return []capture.Mark{begin, m, end}
}

// writeMarks keeps marks in a sitting of their own.
func writeMarks(e env, b build, stage string, marks []capture.Mark, now time.Time) error {
	if _, err := record.NewName(now, stage); err != nil {
		return misuse("measure", "%v", err)
	}
	return b.record(e).Mark(stage, marks, now)
}

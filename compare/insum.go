package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/words"
)

// twoSittings is how far the draw of the same pieces may be off between two sittings, for
// the room, the supply and the clips: a standard uncertainty as a fraction of it (common
// practice, no source).
const twoSittings = 0.01

// total is what the outputs of a board draw together.
type total struct{ amps, u, expected float64 }

// agreeInSum compares what outputs draw together, where it was read at one stage only so,
// with the sum of what was read of each at the other: no single group can be compared then.
// Where it doesn't agree, or the sum isn't known, it can't be told whether anything changed.
func (j *Judge) agreeInSum(rows map[string][]Finding, latest map[string]map[string]standing) {
	for _, g := range j.Expected.Plan.Groups {
		for i := range rows[g.Name] {
			f := &rows[g.Name][i]
			before := latest[g.Name][f.Pace].before
			if f.Verdict != InBand || before == nil || !oneInSum(*f, *before) {
				continue
			}
			f.agreesInSum(j.Rule.K, latest, *before)
		}
	}
}

// oneInSum: one of two findings is of outputs that were in step, the other of one output.
func oneInSum(a, b Finding) bool {
	return a.FiguresOf == OfOutputs && b.FiguresOf == "" || a.FiguresOf == "" && b.FiguresOf == OfOutputs
}

func (f *Finding) agreesInSum(k float64, latest map[string]map[string]standing, before Finding) {
	sum, other := *f, func(s standing) *Finding { return s.before }
	if before.FiguresOf == OfOutputs {
		sum, other = before, func(s standing) *Finding { return &s.now }
	}
	is := totalOf(sum)
	of, ok := sumOfEach(sum, latest, other)
	if !ok {
		f.changedUnseen(fmt.Sprintf("what the outputs of its board drew when it was %s can't be added up to compare it",
			before.Stage))
		return
	}
	now, then := is, of
	if before.FiguresOf == OfOutputs {
		now, then = of, is
	}
	should, u := then.amps+now.expected-then.expected, math.Hypot(now.u, then.u)
	if f.record.BeganAt.Sitting() != before.record.BeganAt.Sitting() {
		u = math.Hypot(u, twoSittings*should)
	}
	if math.Abs(now.amps-should) >= k*u {
		f.changedUnseen(fmt.Sprintf("when it was %s the outputs of its board drew %s together, now %s", before.Stage,
			words.Milliamps(then.amps, then.u), words.Milliamps(now.amps, now.u)))
	}
}

// changedUnseen leaves open what passed and doesn't go with what was read before.
func (f *Finding) changedUnseen(why string) {
	f.Verdict, f.Excluded, f.Causes, f.moves = CantTell, nil, nil, true
	f.Why = words.Sentence(why) + ", and nothing was told to be touched since."
	f.Settle = []string{words.GroupsAlone, words.TellTouched}
}

func totalOf(f Finding) total {
	x := total{f.MeasuredA, f.MeasuredU, f.ExpectedA}
	if f.plainA > 0 {
		x.expected = f.plainA // what others taught is no change
	}
	return x
}

// sumOfEach adds what was read of each output by itself that is in a sum, groups on one output
// once. One meter's limit of error is in all of them: their doubts add in full.
func sumOfEach(sum Finding, latest map[string]map[string]standing, other func(standing) *Finding) (total, bool) {
	var x total
	var outputs []int
	for _, name := range sum.record.Step.Groups {
		f := other(latest[name][sum.Pace])
		if f == nil || f.record == nil || f.Board != sum.Board || f.FiguresOf != "" || f.Readings == 0 || f.Unread ||
			f.wavers || f.VoltsSet != sum.VoltsSet {
			return total{}, false
		}
		if slices.Contains(outputs, f.Output) {
			continue
		}
		one := totalOf(*f)
		x.amps, x.u, x.expected = x.amps+one.amps, x.u+one.u, x.expected+one.expected
		outputs = append(outputs, f.Output)
	}
	return x, len(outputs) > 0
}

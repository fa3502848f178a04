package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/blink"
	"sealworthy/compare/look"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
)

// wayWeighed is one way to give the levels to the outputs.
type wayWeighed struct {
	levels []blink.OutputLevel
	p      float64   // of the way, over all that may be so of the groups
	sure   []float64 // by output: probability that nothing is wrong, if it is this way
	passes bool      // every output that blinks
}

// weighWays weighs the ways to give the levels to the outputs by what the groups would
// draw, healthy or not, and takes the likeliest as the one. nil: there is but one, or
// nothing is known of the groups.
func (x *several) weighWays(out []Finding) []wayWeighed {
	if len(x.sep.Else) == 0 || x.plain {
		return nil
	}
	var ways []wayWeighed
	var logs []float64
	for _, levels := range append([][]blink.OutputLevel{x.sep.Outputs}, x.sep.Else...) {
		w := wayWeighed{levels: levels, sure: make([]float64, len(x.os)), passes: true}
		log := 0.0
		for k, o := range x.os {
			if levels[k].Agreement != blink.Agrees {
				continue
			}
			f := out[o.at[0]]
			f.MeasuredA, f.MeasuredU = levels[k].Amps, x.levelU(levels[k])
			e := x.evidence(f, false)
			v, err := x.j.weigh(e, look.Look{})
			if err != nil {
				return nil
			}
			l, err := v.ensemble.LogEvidence(e.readings, look.Look{})
			if err != nil {
				return nil
			}
			log += l
			w.sure[k], w.passes = v.decision.Healthy, w.passes && v.decision.Verdict == rule.Pass
		}
		ways, logs = append(ways, w), append(logs, log)
	}
	top, total := slices.Max(logs), 0.0
	for _, l := range logs {
		total += math.Exp(l - top)
	}
	for i, l := range logs {
		ways[i].p = math.Exp(l-top) / total
	}
	slices.SortStableFunc(ways, func(a, b wayWeighed) int { return cmp.Compare(b.p, a.p) })
	x.sep.Outputs, x.sep.Else = ways[0].levels, nil
	for _, w := range ways[1:] {
		x.sep.Else = append(x.sep.Else, w.levels)
	}
	return ways
}

// eitherWay says of the outputs what all ways to give the levels to them come to: they pass
// where they do so in the likeliest and it is sure enough over all of them that nothing is
// wrong; else what passes or fails does so in all of them. Where something fails in each of
// them, one of the outputs isn't right, whichever it is.
func (x several) eitherWay(ways []wayWeighed, out []Finding) {
	if len(x.sep.Else) == 0 || x.passEitherWay(ways, out) {
		return
	}
	said := make([][]rule.Outcome, len(x.os)) // by output, one for each way
	alwaysWrong := true
	for _, way := range append([][]blink.OutputLevel{x.sep.Outputs}, x.sep.Else...) {
		wrong := false
		for k, o := range x.os {
			if way[k].Agreement != blink.Agrees {
				continue
			}
			u := math.Hypot(o.want.u, x.levelU(way[k]))
			d := x.j.Rule.Decide(way[k].Amps, o.want.meanA, u, o.want.smallestA)
			said[k] = append(said[k], d)
			wrong = wrong || d == rule.FailLow || d == rule.FailHigh
		}
		alwaysWrong = alwaysWrong && wrong
	}
	for k, o := range x.os {
		if len(slices.Compact(slices.Clone(said[k]))) <= 1 {
			continue
		}
		for _, i := range o.at {
			x.undecidedWay(&out[i], said[k], alwaysWrong)
		}
	}
}

// passEitherWay passes outputs that pass in the likeliest way and are sure enough over all
// of them. What the other ways take from the probability stays with their evidence.
func (x several) passEitherWay(ways []wayWeighed, out []Finding) bool {
	if len(ways) == 0 || !ways[0].passes {
		return false
	}
	left := make([]float64, len(x.os)) // of the likeliest way's probability
	for k, o := range x.os {
		if ways[0].levels[k].Agreement != blink.Agrees {
			continue
		}
		sure := 0.0
		for _, w := range ways {
			sure += w.p * w.sure[k]
		}
		if sure < belief.SurePass || slices.ContainsFunc(o.at, func(i int) bool { return out[i].Verdict != InBand }) {
			return false
		}
		left[k] = math.Min(1, sure/ways[0].sure[k])
	}
	for k, o := range x.os {
		for _, i := range o.at {
			if out[i].evidence != nil && ways[0].levels[k].Agreement == blink.Agrees {
				out[i].evidence.elseway = 1 - left[k]
				out[i].PHealthy *= left[k]
			}
		}
	}
	return true
}

// undecidedWay is the finding of a group whose output isn't the same in every way
// to give the levels.
func (x several) undecidedWay(f *Finding, said []rule.Outcome, alwaysWrong bool) {
	fails := slices.IndexFunc(said, func(d rule.Outcome) bool { return d == rule.FailLow || d == rule.FailHigh })
	if fails < 0 && f.Verdict == CantTell {
		return
	}
	levels := x.levelsText()
	f.evidence, f.PHealthy, f.Causes, f.Why, f.Settle = nil, 0, nil, "", nil
	f.Verdict = CantTell
	if !alwaysWrong || fails < 0 {
		f.Settle = []string{fmt.Sprintf("outputs %s of %q draw %s, and which draws which can't be told: look which "+
			"is dimmer, or unclip one of them and measure it again", x.numbers(), f.Board, levels)}
		return
	}
	f.Verdict = High
	what := "too bright or has more on it than planned"
	if said[fails] == rule.FailLow {
		f.Verdict, what = Low, "dark in part or dim"
	}
	f.Causes = []Cause{{Name: "one of the outputs", Text: words.OutputsDraw(x.numbers(), f.Board, levels, what)}}
}

func (x several) levelsText() string {
	var levels []string
	for _, l := range x.sep.Outputs {
		levels = append(levels, words.Milliamps(l.Amps, x.levelU(l)))
	}
	return list(levels)
}

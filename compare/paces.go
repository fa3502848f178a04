package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// tolerance is how far a healthy output may be from a pace and its levels.
func (s step) tolerance(p plan.Pace, o output, base budget.Draw) blink.Tolerance {
	on := base.MeanA + o.want.meanA
	return blink.Tolerance{
		PeriodRel: p.PeriodRelTol, DutyAbs: p.DutyTol,
		OnA: on, OnU: math.Hypot(math.Hypot(base.UA, o.want.u), s.share(on)), OffA: base.MeanA,
		OffU: math.Hypot(base.UA, s.share(base.MeanA)),
	}
}

// offPace names why a board doesn't run at its pace. Where it runs at another of its
// own, its button was pressed too often or too seldom: that is thought of first,
// whatever the levels say. A board without a button can only differ in its parts.
func (s step) offPace(b plan.Board, p plan.Pace, os []output, base budget.Draw, out []Finding) {
	off := func(f Finding) bool {
		return f.Verdict == OffPace || f.Verdict == StuckLit || p.Steady() && fails(f.Verdict)
	}
	if s.plain || !slices.ContainsFunc(out, off) {
		return
	}
	at, press := s.runsAt(b, p, os, base)
	for i := range out {
		f := &out[i]
		switch {
		case press > 0 && off(*f):
			f.Verdict, f.evidence, f.PHealthy = OffPace, nil, 0
			f.Causes = []Cause{{Name: "off pace", Text: words.PressButton(at, times(press))}}
			s.wholeBoard(f, b, p)
		case f.Verdict != OffPace:
		case b.Button:
			f.Causes = []Cause{{Name: "off pace", Text: words.NoneOfItsPaces}}
		default:
			f.Causes = []Cause{{Name: "off pace", Text: words.PartsDiffer}}
		}
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// runsAt names the pace of its board that a trace shows instead of its own, and how
// often its button must be pressed from there; 0: it can't be told.
func (s step) runsAt(b plan.Board, own plan.Pace, os []output, base budget.Draw) (name string, press int) {
	if !b.Button || len(b.Paces) < 2 || s.fitsPace(b, own, os, base) {
		return "", 0
	}
	at := -1
	for i, p := range b.Paces {
		if p.Name == own.Name || !s.fitsPace(b, p, os, base) {
			continue
		}
		if at >= 0 {
			return "", 0
		}
		at = i
	}
	if at < 0 {
		return "", 0
	}
	want := slices.IndexFunc(b.Paces, func(p plan.Pace) bool { return p.Name == own.Name })
	return b.Paces[at].Name, (want - at + len(b.Paces)) % len(b.Paces)
}

// fitsPace reports whether a trace is that of a board at a pace with its outputs as planned.
func (s step) fitsPace(b plan.Board, p plan.Pace, os []output, base budget.Draw) bool {
	switch {
	case p.Steady():
		all, ok := s.allLit(os)
		return ok && s.t.scatterA < steadyScatter*all.MeanA &&
			math.Abs(s.t.meanA-all.MeanA) < s.j.Rule.K*math.Hypot(s.t.u, math.Hypot(all.UA, modelRel*all.MeanA))
	case len(os) == 1:
		return blink.Match(s.samples(), s.known(p), pattern(p), s.tolerance(p, os[0], base)).Agreement == blink.Agrees
	}
	sep := blink.Levels(s.samples(), s.known(p), s.outputsAt(b, p, os, base))
	return sep.Agreement == blink.Agrees &&
		!slices.ContainsFunc(sep.Outputs, func(l blink.OutputLevel) bool { return l.Agreement != blink.Agrees })
}

// steadyScatter of the draw: what blinks scatters more, what warms up less.
const steadyScatter = 0.01

package compare

import (
	"math"
	"slices"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
)

// What the figures of a finding are of, where not of the group alone.
const (
	OfBoard   = "the whole board, on average"
	OfSteady  = "the whole board"
	OfOutputs = "the outputs that are lit together"
	OfJoined  = "all that is joined"
)

// wholeBoard puts the figures of the whole board where those of a group can't be
// had from a trace: its mean, beside what the board should draw on average. It
// tells whether the mean passes: near what is expected, and so sure that the loss
// of the group's least branch would show in it.
func (s step) wholeBoard(f *Finding, b plan.Board, p plan.Pace) {
	if f.Readings = s.t.n; f.Readings == 0 {
		return
	}
	least := s.leastOf(*f)
	f.MeasuredA, f.MeasuredU, f.FiguresOf = s.t.meanA, s.t.u, OfBoard
	e, ok := s.onAverage(b, p)
	if !ok || len(s.r.Step.Outputs) > 0 { // what it draws on average is with all of its outputs
		s.fill(f, expectation{})
		return
	}
	e.smallestA = least * p.Duty
	s.fill(f, e)
	u := math.Hypot(e.u, f.MeasuredU)
	f.meanFits = s.t.n >= minReadings && s.j.Rule.Decide(f.MeasuredA, e.meanA, u, e.smallestA) == rule.Pass
}

// leastOf is the least loss that a group can have on its output.
func (s step) leastOf(f Finding) float64 {
	g, _ := s.b.GroupNamed(f.Group)
	return g.SmallestA
}

// onAverage is what a board should draw over whole periods of a pace, with what the
// duty and a trace that rarely holds whole periods make of it.
func (s step) onAverage(b plan.Board, p plan.Pace) (expectation, bool) {
	feed, ok := s.b.FeedNamed(b.Name)
	i := slices.IndexFunc(feed.Paces, func(q budget.PaceDraw) bool { return q.Pace == p.Name })
	if !ok || i < 0 {
		return expectation{}, false
	}
	q := feed.Paces[i]
	e := fromDraw(q.Mean, 0)
	if p.Steady() {
		return e, true
	}
	swing := q.PeakA - s.baseDraw(b.Name).MeanA
	lit := swing // of all outputs
	if b.Run == plan.Alternate && q.Duty > 0 {
		lit = max(swing, (q.Mean.MeanA-s.baseDraw(b.Name).MeanA)/q.Duty)
	}
	own := lit * p.DutyTol / math.Sqrt(3)
	if n := len(s.t.atS); n > 0 && s.t.atS[n-1] > 0 {
		own = math.Hypot(own, 0.3*swing*math.Sqrt(q.Duty*(1-q.Duty))*p.PeriodS/s.t.atS[n-1])
	}
	e.u = math.Hypot(e.u, own)
	const normal = 1.96 // half-width of 95 % of a normal distribution, in sd
	e.band.LowA = e.meanA - math.Hypot(e.meanA-e.band.LowA, normal*own)
	e.band.HighA = e.meanA + math.Hypot(e.band.HighA-e.meanA, normal*own)
	return e, true
}

// withoutLooks leaves out what a look can't settle.
func withoutLooks(settle []string) []string {
	var out []string
	for _, s := range settle {
		s = strings.TrimSuffix(s, ", or look at both lit and say all right")
		if !strings.HasPrefix(s, "look at it lit") && !strings.HasPrefix(s, "look at both lit") {
			out = append(out, s)
		}
	}
	return out
}

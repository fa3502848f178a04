package compare

import (
	"math"
	"time"

	"sealworthy/compare/blink"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// Outputs that run free of each other are told apart when their beats have
// drifted far enough; a trace is lengthened for that, up to partingMost.
const (
	partingShare = 0.9 // of boards
	partingMost  = 90 * time.Second
)

// parting is how long a board whose outputs run free must be read; 0: no longer
// than any other.
func (m maker) parting(b plan.Board, f budget.Feed, p plan.Pace) time.Duration {
	if b.Run != plan.Free || p.Steady() {
		return 0
	}
	byOutput := map[int]float64{}
	for _, name := range f.Groups {
		if g, ok := m.b.GroupNamed(name); ok {
			byOutput[g.Output] += g.Lit.MeanA
		}
	}
	if len(byOutput) < 2 {
		return 0
	}
	o := blink.Outputs{Run: blink.Free, Pattern: pattern(p), Tolerance: blink.Tolerance{PeriodRel: p.PeriodRelTol,
		DutyAbs: p.DutyTol}}
	for _, x := range b.Outputs {
		if a, ok := byOutput[x.Number]; ok {
			o.ExpectedA = append(o.ExpectedA, a)
		}
	}
	window := m.o.MeterWindow
	if window <= 0 {
		window = 250 * time.Millisecond
	}
	s, _ := blink.PartingS(blink.Known{WindowS: window.Seconds()}, o, partingShare)
	return min(partingMost, time.Duration(math.Ceil(s))*time.Second)
}

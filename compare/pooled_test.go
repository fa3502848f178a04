package compare

import (
	"testing"

	"sealworthy/capture"
)

// Of two like outputs in turn either may have either level: what one of them draws by itself
// isn't set against the level that it was given. Read twice in one way, it is.
func TestAnOutputByItselfIsNotSetAgainstItsTurn(t *testing.T) {
	y := newYard(t, cutter)
	read := func(amps float64, outputs ...int) Finding {
		return Finding{Group: "windows", Way: "alone", Verdict: InBand, VoltsSet: 12, MeasuredA: amps,
			MeasuredU: 1e-4, ExpectedA: 0.0192, ExpectedU: 6e-4, Readings: 120,
			record: &capture.StepRecord{Outcome: capture.Measured, Step: capture.Step{Outputs: outputs}}}
	}
	for _, c := range []struct {
		tries []Finding
		moves bool
	}{
		{[]Finding{read(0.0183), read(0.02, 1)}, false},
		{[]Finding{read(0.0183, 1), read(0.02, 1)}, true},
		{[]Finding{read(0.0183), read(0.02)}, true},
	} {
		f := y.j.pooled(c.tries)
		if f.moves != c.moves || f.MeasuredA != 0.02 || (f.Verdict == InBand) == c.moves {
			t.Errorf("%d and %d outputs: %s, %s", len(c.tries[0].record.Step.Outputs), len(c.tries[1].record.Step.Outputs),
				f.Verdict, f.Why)
		}
	}
}

// Beside a reading that moves stands nothing of what a pass would exclude.
func TestWhatMovesExcludesNothing(t *testing.T) {
	y := newYard(t, cutter)
	draws := y.expected("windows", Fitted)
	y.measure("windows", Fitted, 0.97*draws)
	y.measure("windows", Fitted, 1.03*draws)
	_, groups := y.verdicts()
	if f := groups["windows"]; f.Verdict != CantTell || !f.moves || f.Excluded != nil {
		t.Errorf("%s, %s, %+v", f.Verdict, f.Why, f.Excluded)
	}
}

package compare

import (
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/plan"
	"sealworthy/instruments"
	"sealworthy/testdata/brackwater"
)

// drawsOf is what a meter of 80 ms windows reads of a board that draws so when all its
// outputs are dark or lit, at a pace, from a moment on.
func drawsOf(p plan.Pace, from time.Time, dark, lit float64, long time.Duration) (out []instruments.Reading) {
	const window, every = 80 * time.Millisecond, 100 * time.Millisecond
	for at := every; at <= long; at += every {
		share := 0.0
		for ms := 0; ms < 80; ms++ { // lit in how much of the window
			if s := (at - window + time.Duration(ms)*time.Millisecond).Seconds(); p.Steady() || s >= 0 && litAt(p, s) {
				share += 1.0 / 80
			}
		}
		v := dark + share*(lit-dark)
		out = append(out, instruments.Reading{Instrument: MeterName, Quantity: instruments.Current, Unit: "A",
			Value: &v, Range: "200 mA",
			Status: instruments.OK, HalfWidth: 2e-5, At: from.Add(at), Window: window})
	}
	return out
}

func litAt(p plan.Pace, s float64) bool {
	in := s/p.PeriodS - float64(int(s/p.PeriodS))
	for _, x := range p.Spans(0) {
		if in >= x[0] && in < x[1] {
			return true
		}
	}
	return false
}

// A board's paces are told from each other by its draw: the one that was asked for is
// known, no other is taken for it, and a moment of it is too little.
func TestThePaceThatAButtonWasPressedToIsKnown(t *testing.T) {
	g, steps := feelingOf(t, brackwater.Plan, "lantern house")
	var of []capture.Step
	for _, s := range steps {
		if s.Board != "" && s.Kind == capture.Power && len(s.Outputs) == 0 {
			of = append(of, s)
		}
	}
	if len(of) < 3 {
		t.Fatalf("%d steps of a board with paces", len(of))
	}
	b, _ := g.judge.Expected.Plan.Board(of[0].Board)
	s := step{j: g.judge, r: capture.StepRecord{Step: of[0]}, b: g.budget}
	var blank []Finding
	for _, name := range of[0].Groups {
		x, _ := g.judge.Expected.Plan.Group(name)
		blank = append(blank, Finding{Group: name, Output: x.Output})
	}
	dark := s.baseDraw(b.Name).MeanA
	all, ok := s.allLit(s.outputs(blank))
	if !ok {
		t.Fatal("no level with all lit")
	}
	for _, is := range b.Paces {
		drew := drawsOf(is, time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), dark, all.MeanA, 25*time.Second)
		for _, asked := range of {
			if got, want := g.Runs(asked, drew), asked.Pace == is.Name; got != want {
				t.Errorf("at %s, asked for %s: %v", is.Name, asked.Pace, got)
			}
		}
		for _, asked := range of {
			if asked.Pace != is.Name {
				continue
			}
			for _, before := range b.Paces {
				if before.Name == is.Name {
					continue
				}
				was := drawsOf(before, time.Date(2026, 11, 25, 7, 59, 50, 0, time.UTC), dark, all.MeanA,
					10*time.Second)
				if got := g.Runs(asked, append(was, drew[:8]...)); got {
					t.Errorf("%s is known 0.8 s after %s", is.Name, before.Name)
				}
				if !g.Runs(asked, append(was, drew...)) {
					t.Errorf("%s isn't known 25 s after %s", is.Name, before.Name)
				}
			}
		}
	}
	if g.Runs(of[0], nil) {
		t.Error("nothing runs at a pace")
	}
}

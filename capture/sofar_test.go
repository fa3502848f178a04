package capture

import (
	"slices"
	"testing"
	"time"
)

// previewing tells what it says of a step that isn't over, and what of one that is.
type previewing struct {
	guide
	early, whole string
	open         bool         // early is no verdict
	asked        []StepRecord // what was previewed
}

func (g *previewing) Preview(r StepRecord) []Said {
	g.asked = append(g.asked, r)
	return []Said{{Group: "nav lights", Verdict: g.early, Good: g.early == "in band", Undecided: g.open}}
}

func (g *previewing) Judge(StepRecord) []Said {
	return []Said{{Group: "nav lights", Verdict: g.whole, Good: true}}
}

// kept is a step with a curve.
func kept(points int) Step {
	s := ledStep("1", "nav lights")
	s.Early = Enough{Readings: 8, UA: 1e-4}
	for i := range points {
		s.Sweep = append(s.Sweep, SweepPoint{Volts: 12 - float64(i)/2, LimitA: 0.033, MaxA: 0.03,
			Settle: 50 * time.Millisecond, For: 200 * time.Millisecond})
	}
	return s
}

// While a curve is read the verdict is shown already, and the whole of it is judged in the end; where that is
// another verdict it says which one was told before.
func TestTheVerdictBeforeTheCurve(t *testing.T) {
	for _, c := range []struct {
		name         string
		early, whole string
		open         bool
		points       int
		shown        bool
		before       string
	}{
		{"as told", "in band", "in band", false, 6, true, ""},
		{"another one", "in band", "too low", false, 6, true, "in band"},
		{"no verdict", "can't tell", "in band", true, 6, false, ""},
		{"one other voltage", "in band", "in band", false, 1, false, ""},
		{"no curve", "in band", "in band", false, 0, false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, led)
			g := &previewing{early: c.early, whole: c.whole, open: c.open}
			g.steps = []Step{kept(c.points)}
			f, r := &face{}, &record{}
			recs, err := Run(t.Context(), b.Bench(), g, f, r, seeded())
			b.mustOff()
			if err != nil || len(recs) != 1 || recs[0].Outcome != Measured {
				t.Fatalf("%v, %v", outcomes(recs), err)
			}
			told, ends := f.kinds(SoFar), f.kinds(StepEnds)
			if (len(told) == 1) != c.shown || len(told) > 1 || len(ends) != 1 ||
				ends[0].Said[0].Before != c.before || ends[0].Said[0].Verdict != c.whole {
				t.Fatalf("so far %+v, in the end %+v", told, ends)
			}
			if n := len(g.asked); n > 2 || c.points < 2 && n > 0 {
				t.Errorf("previewed %d times", n)
			}
			if !c.shown {
				return
			}
			// Before its curve, and before all of the reading that is kept.
			if !told[0].OutputOn || told[0].Said[0].Verdict != c.early || !told[0].At.Before(recs[0].Points[0].At) {
				t.Errorf("%+v, the curve begins %v", told[0], recs[0].Points[0].At)
			}
			if n := len(recs[0].Trace("meter", "current")); n < 18 {
				t.Errorf("%d readings of what is kept", n)
			}
			if early := g.asked[0].Trace("meter", "current"); len(early) != 8 {
				t.Errorf("%d readings told what it comes to", len(early))
			}
			if slices.ContainsFunc(r.marks, func(m Mark) bool { return m.Reason != "" || m.Kind == MarkNote }) {
				t.Errorf("the record knows of it: %+v", r.marks)
			}
		})
	}
}

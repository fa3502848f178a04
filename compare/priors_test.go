package compare

import (
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/fault"
)

// What a maker's file changes reaches all that judges: a group, what is to be read
// next, what stopped a ramp, what several groups have in common.
func TestPriorsReachAllThatJudges(t *testing.T) {
	dim := func(y *yard) map[string]Finding { // one of three is a little low
		y.healthy(Fitted)
		y.measure("mid", Fitted, 0.95*y.expected("mid", Fitted))
		_, groups := y.verdicts()
		return groups
	}
	first := func(f Finding) Cause {
		if len(f.Causes) == 0 {
			return Cause{}
		}
		return f.Causes[0]
	}
	for _, x := range []struct {
		name   string
		change func(*fault.Priors)
		say    func(y *yard) any
	}{
		{"a group", func(p *fault.Priors) { p.None = 0.2 }, func(y *yard) any { return dim(y)["mid"].PHealthy }},
		{"what to read next", func(p *fault.Priors) { p.Fault.BadJoint = 0.3 }, func(y *yard) any {
			dim(y)
			ds, err := y.j.Next(y.h, "", "")
			if err != nil || len(ds) == 0 {
				t.Fatal(ds, err)
			}
			return ds[0].Healthy
		}},
		{"a trip", func(p *fault.Priors) { p.Fault.Short = 0 }, func(y *yard) any {
			r := y.measure("mid", Fitted, 0.15)
			r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 1, "too much current"
			r.Step.Ramp = []capture.RampPoint{{Volts: 1, LimitA: 0.02, MaxA: 0.02},
				{Volts: 12, LimitA: 0.2, MaxA: 0.2}}
			_, groups := y.verdicts()
			return first(groups["mid"]).Name
		}},
		{"what several have in common", func(p *fault.Priors) { p.Common.Joint = 0 }, func(y *yard) any {
			y.healthy(Fitted)
			for g, part := range map[string]float64{"fore": 0.93, "mid": 0.91, "aft": 0.89} {
				y.measure(g, Fitted, part*y.expected(g, Fitted))
			}
			_, groups := y.verdicts()
			return first(groups["mid"]).Name
		}},
	} {
		before := x.say(newYard(t, punt))
		y := newYard(t, punt)
		p := fault.DefaultPriors()
		x.change(&p)
		y.j.Priors = &p
		if after := x.say(y); after == before {
			t.Errorf("%s: %v with the defaults and with other priors", x.name, after)
		} else {
			t.Logf("%s: %v, with other priors %v", x.name, before, after)
		}
	}
}

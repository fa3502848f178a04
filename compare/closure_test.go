package compare

import (
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare/look"
	"sealworthy/instruments"
)

func TestClosureVerdicts(t *testing.T) {
	for _, c := range []struct {
		name        string
		do          func(*yard)
		hull, cabin ClosureVerdict
		reason      string // must stand among the hull's reasons
	}{
		{"nothing measured", func(y *yard) {}, NotSettled, NotSettled, "windows: not measured"},
		{"all healthy, not looked at: a wide group stays open", func(y *yard) { y.healthy(Fitted) }, NotSettled,
			LookFirst, "galley: can't tell"},
		{"all healthy and looked at", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, ReadyToClose, ReadyToClose, "every group is in band"},
		{"outer looked at, inner not", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
		}, LookFirst, LookFirst, "not looked at: cabin"},
		{"looked at by somebody who can't judge colours", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", "windows: all right, colours not judged; galley: all right")
			y.look("cabin", look.Right)
		}, LookFirst, ReadyToClose, "let somebody look who can judge them: windows"},
		{"and then by somebody who can", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", "windows: all right, colours not judged; galley: all right")
			y.look("cabin", look.Right)
			y.look("hull", "windows: all right; galley: all right")
		}, ReadyToClose, ReadyToClose, "every group is in band"},
		{"a segment dark", func(y *yard) {
			y.healthy(Fitted)
			y.measure("windows", Fitted, 0.75*y.expected("windows", Fitted))
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, KeepOpen, ReadyToClose, "windows: low"},
		{"the eye can't override a current that failed", func(y *yard) {
			y.healthy(Fitted)
			y.measure("windows", Fitted, 1.5*y.expected("windows", Fitted))
			y.look("hull", look.Right)
		}, KeepOpen, LookFirst, "windows: high"},
		{"the eye sees what current can't", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", "windows: two are blue")
			y.look("cabin", look.Right)
		}, KeepOpen, ReadyToClose, "windows: seen: two are blue"},
		{"words that name no group speak of all", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", "something smells")
		}, KeepOpen, LookFirst, "something smells"},
		{"inner keep open keeps the outer open", func(y *yard) {
			y.healthy(Fitted)
			y.measure("chart lamp", Fitted, 0)
			y.look("hull", look.Right)
		}, KeepOpen, KeepOpen, "cabin, which closes inside: keep open"},
		{"loose only", func(y *yard) {
			y.healthy(Loose)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, NotSettled, NotSettled, "windows: measured loose only"},
		{"reworked after the reading", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			y.rework("windows")
		}, NotSettled, ReadyToClose, "windows: not measured (reworked after this reading)"},
		{"a joint reworked: all behind it", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			y.rework("keel")
		}, NotSettled, NotSettled, "galley: not measured"},
		{"reworked, measured and looked at anew", func(y *yard) {
			y.healthy(Fitted)
			y.rework("keel")
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, ReadyToClose, ReadyToClose, "every group is in band"},
		{"a look before the rework doesn't count", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			y.rework("windows")
			y.measure("windows", Fitted, y.expected("windows", Fitted))
		}, LookFirst, ReadyToClose, "not looked at: windows"},
		{"accepted with a reason", func(y *yard) {
			y.healthy(Fitted)
			y.measure("windows", Fitted, 0.75*y.expected("windows", Fitted))
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			y.accept("windows", "the aft one is hidden anyway")
		}, ClosedByChoice, ReadyToClose, "low, accepted: the aft one is hidden anyway"},
		{"an acceptance doesn't outlive the next reading", func(y *yard) {
			y.healthy(Fitted)
			y.accept("windows", "x")
			y.measure("windows", Fitted, 0.5*y.expected("windows", Fitted))
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, KeepOpen, ReadyToClose, "windows: low"},
		{"an interrupted try undoes a reading", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			r := y.measure("windows", Fitted, 0)
			r.Outcome, r.Reason = capture.Interrupted, "Ctrl-C"
		}, NotSettled, ReadyToClose,
			"windows: not measured (not measured since; the test of 2026-11-25 08:06 UTC broke off in it: Ctrl-C)"},
		{"an interrupted try, then a whole one", func(y *yard) {
			y.healthy(Fitted)
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
			r := y.measure("windows", Fitted, 0)
			r.Outcome, r.Reason = capture.Interrupted, "Ctrl-C"
			y.measure("windows", Fitted, y.expected("windows", Fitted))
		}, ReadyToClose, ReadyToClose, "every group"},
		{"changed between fitted and closed, though in band at both", func(y *yard) {
			y.healthy(Fitted)
			y.measure("windows", Closed, 0.985*y.expected("windows", Closed))
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, KeepOpen, ReadyToClose, "a pinched wire"},
		{"changed between loose and fitted", func(y *yard) {
			y.healthy(Loose)
			y.healthy(Fitted)
			y.measure("windows", Fitted, 0.985*y.expected("windows", Fitted))
			y.look("hull", look.Right)
			y.look("cabin", look.Right)
		}, KeepOpen, ReadyToClose, "a pinched wire"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, cutter)
			c.do(y)
			y.nothing()
			got, _ := y.verdicts()
			if got["hull"].Verdict != c.hull || got["cabin"].Verdict != c.cabin {
				t.Errorf("hull %s, cabin %s; want %s, %s\n%q", got["hull"].Verdict, got["cabin"].Verdict, c.hull,
					c.cabin, got["hull"].Reasons)
			}
			if all := strings.Join(got["hull"].Reasons, "\n"); !strings.Contains(all, c.reason) {
				t.Errorf("no reason says %q: %q", c.reason, got["hull"].Reasons)
			}
		})
	}
}

func TestOneGroup(t *testing.T) {
	for _, c := range []struct {
		name    string
		do      func(*yard)
		group   string
		verdict Verdict
		says    string // in causes, notes or what would settle it
	}{
		{"draws nothing: the bench first", func(y *yard) { y.measure("windows", Fitted, 0) }, "windows", Low,
			"look at the clip"},
		{"a segment dark", func(y *yard) { y.measure("windows", Fitted, 0.75*y.expected("windows", Fitted)) },
			"windows", Low, "Then one is dark"},
		{"half of it missing: the plan first",
			func(y *yard) { y.measure("windows", Fitted, 0.5*y.expected("windows", Fitted)) }, "windows", Low,
			"Count the segments. Four? Then "},
		{"a shift of no whole segment",
			func(y *yard) { y.measure("windows", Fitted, 0.63*y.expected("windows", Fitted)) }, "windows", Low,
			"bad joint"},
		{"wide band", func(y *yard) { y.measure("galley", Fitted, y.expected("galley", Fitted)) }, "galley", CantTell,
			"measure a sample of smd warm white 12 V, 10 loose pieces: sealworthy part (it may then vary by "},
		{"overload", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Readings[3].Status, r.Readings[3].Value = instruments.Overload, nil
		}, "windows", CantTell, "overload in between"},
		{"range change", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Readings[3].Range = "2 A"
		}, "windows", CantTell, "changed its range"},
		{"Too few readings", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Readings = r.Readings[:2]
		}, "windows", CantTell, "Too few readings"},
		{"overload and a look: still can't tell", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Readings[3].Status, r.Readings[3].Value = instruments.Overload, nil
			y.look("hull", look.Right)
		}, "windows", CantTell, "overload"},
		{"typed in: one reading is enough", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Readings = r.Readings[:1]
			r.Instruments = map[string]instruments.Description{MeterName: {Profile: "by hand"}}
		}, "windows", InBand, ""},
		{"tripped", func(y *yard) {
			r := y.measure("windows", Fitted, 0.15)
			r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 1.5, "too much"
		}, "windows", High, "Plus and minus touch"},
		{"the wire allows less than it needs", func(y *yard) {
			r := y.measure("windows", Fitted, 0.03)
			r.Outcome, r.TripVolts, r.Reason = capture.Tripped, 12, "too much"
			r.Step.Ramp = []capture.RampPoint{{Volts: 12, LimitA: 0.03, MaxA: 0.03}}
		}, "windows", CantTell, "thicker wire"},
		{"skipped", func(y *yard) {
			r := y.measure("windows", Fitted, 0)
			r.Outcome, r.Reason = capture.Skipped, "clip doesn't reach"
		}, "windows", NotMeasured, "clip doesn't reach"},
		{"the plan changed since", func(y *yard) {
			r := y.measure("windows", Fitted, y.expected("windows", Fitted))
			r.Step.PlanRevision = "0123456789ab"
		}, "windows", InBand, "the plan changed after this reading"},
		{"the meter is dark, the supply is not", func(y *yard) {
			r := y.measure("windows", Fitted, 0)
			for i := range 3 {
				v := y.expected("windows", Fitted)
				r.Readings = append(r.Readings,
					instruments.Reading{Instrument: SupplyName, Quantity: instruments.Current, Status: instruments.OK,
						Value: &v, HalfWidth: 0.003, At: r.Settled.Add(1), Unit: "A"})
				_ = i
			}
		}, "windows", Low, "the meter reads nothing"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y := newYard(t, cutter)
			c.do(y)
			_, groups := y.verdicts()
			f := groups[c.group]
			if f.Verdict != c.verdict {
				t.Errorf("%s, want %s: %+v", f.Verdict, c.verdict, f)
			}
			said := append(append([]string{f.Why}, f.Notes...), f.Settle...)
			for _, x := range f.Causes {
				said = append(said, x.Text)
			}
			if !strings.Contains(strings.Join(said, "\n"), c.says) {
				t.Errorf("nothing says %q: %q", c.says, said)
			}
		})
	}
}

package stages_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/rule"
	"sealworthy/compare/stages"
)

func TestAWirePinchedWhileClosingShows(t *testing.T) {
	p := brackwaterPlan(t)
	before := reading(t, p, nil, 5, 1, "fitted", home(), load.Options{})
	for _, x := range []struct{ fault, group string }{
		{"anchor light=open branch", "anchor light"},
		{"cabin windows=dark segment", "cabin windows"},
		{"galley lamps=open branch", "galley lamps"},
		{"hold lamps=open branch", "hold lamps"},
	} {
		now := reading(t, p, []fault.Fault{faultOf(t, p, x.fault, 3)}, 5, 2, "closed", home(), load.Options{})
		ch := compared(t, p, before, now)
		if ch.Verdict != stages.Changed || !fitsGroup(ch, x.group) {
			t.Errorf("%s: %s, fits %v", x.fault, ch.Text, ch.Fits)
		}
		if !strings.Contains(strings.Join(ch.Settle, "; "), "pinched wire") || ch.Before != "fitted" {
			t.Errorf("%s: says %q", x.fault, ch.Settle)
		}
	}
}

func TestWhatBlinksIsJudgedByItsStep(t *testing.T) {
	p := brackwaterPlan(t)
	before := reading(t, p, nil, 5, 1, "closed", home(), load.Options{})
	for f, say := range map[string]string{
		"lantern=stuck dark":            "lantern stays dark",
		"starboard beacon=stuck dark":   "starboard beacon stays dark",
		"port beacon=overloaded output": "port beacon stays lit",
		"lantern=open branch":           "lantern draws",
	} {
		now := reading(t, p, []fault.Fault{faultOf(t, p, f, 3)}, 5, 2, "delivered", home(), load.Options{})
		if ch := compared(t, p, before, now); ch.Verdict != stages.Changed || !strings.Contains(ch.Text, say) {
			t.Errorf("%s: %s: %s", f, ch.Verdict, ch.Text)
		}
	}
}

func TestAHealthyModelIsUnchanged(t *testing.T) {
	p := brackwaterPlan(t)
	for seed := uint64(1); seed < 6; seed++ {
		before := reading(t, p, nil, seed, 1, "closed", home(), load.Options{})
		warmer := home()
		warmer.roomC = 25
		now := reading(t, p, nil, seed, 2, "delivered", warmer, load.Options{})
		ch := compared(t, p, before, now)
		if ch.Verdict != stages.Unchanged || ch.Text == "" || len(ch.Fits) > 0 {
			t.Errorf("seed %d: %s: %s %s", seed, ch.Verdict, ch.Text, ch.Why)
		}
		// The whole moved with the room, and that was expected.
		if x := ch.Parts[0]; math.Abs(x.DeltaA) > math.Abs(x.NowA-x.BeforeA) {
			t.Errorf("seed %d: moved by %g A, against the expected %g A", seed, x.NowA-x.BeforeA, x.DeltaA)
		}
	}
}

func TestWhatIsNotKnownIsCountedAndNamed(t *testing.T) {
	p := brackwaterPlan(t)
	before := reading(t, p, nil, 7, 1, "closed", home(), load.Options{})
	for _, x := range []struct {
		name, why, settle string
		change            func(*bench)
	}{
		{"another meter", "clips, plug and leads", "same bench",
			func(b *bench) { b.meter, b.accuracy, b.gain = "meter 2", 0.01, 0.004 }},
		{"room not noted", "not noted", "--room", func(b *bench) { b.roomUnknown = true }},
		{"cold", "warming up", "as warm as then", func(b *bench) { b.onS = 5 }},
	} {
		b := home()
		x.change(&b)
		ch := compared(t, p, before, reading(t, p, nil, 7, 2, "delivered", b, load.Options{}))
		most := ch.Parts[0].Doubts[0].What
		if !strings.Contains(most, x.why) && !strings.Contains(ch.Parts[0].Doubts[1].What, x.why) {
			t.Errorf("%s: most of the doubt is %s", x.name, most)
		}
		if ch.Verdict == stages.Changed {
			t.Errorf("%s: called changed: %s", x.name, ch.Text)
		}
		if x.name == "cold" && (ch.Verdict != stages.CantTell ||
			!strings.Contains(strings.Join(ch.Settle, "; "), x.settle) || len(ch.Hidden) == 0 || ch.Why == "") {
			t.Errorf("%s: %s, %q, %q, %q", x.name, ch.Verdict, ch.Why, ch.Settle, ch.Hidden)
		}
	}
}

func TestAgeIsNoChangeAndALostGroupIsOneOnAnyBench(t *testing.T) {
	p := brackwaterPlan(t)
	before := reading(t, p, nil, 9, 1, "delivered", home(), load.Options{})
	far := bench{meter: "meter 2", supply: "supply 2", accuracy: 0.005, gain: -0.003, voltsOff: 0.006, roomC: 26,
		onS: 600, clipOhm: 0.05}
	aged := reading(t, p, nil, 9, 2, "returned", far, load.Options{Years: 3})
	aged.At = aged.At.AddDate(3, 0, 0)
	if ch := compared(t, p, before, aged); ch.Verdict == stages.Changed {
		t.Errorf("three years: %s", ch.Text)
	}
	lost := reading(t, p, []fault.Fault{faultOf(t, p, "saloon=group reversed", 1)}, 9, 2, "returned", far,
		load.Options{Years: 3})
	lost.At = aged.At
	ch := compared(t, p, before, lost)
	if ch.Verdict != stages.Changed || !fitsGroup(ch, "saloon") {
		t.Errorf("a group lost: %s: %s %v", ch.Verdict, ch.Text, ch.Fits)
	}
	if !strings.Contains(strings.Join(ch.Settle, ";"), "sealworthy return") {
		t.Errorf("a return says %q", ch.Settle)
	}
}

func TestNotTheSameThingIsNotCompared(t *testing.T) {
	p := brackwaterPlan(t)
	a := reading(t, p, nil, 1, 1, "closed", home(), load.Options{})
	for name, change := range map[string]func(*stages.Reading){
		"pace":     func(x *stages.Reading) { x.Pace = "lamp driver: fast" },
		"jack":     func(x *stages.Reading) { x.Jack = "other" },
		"feeds":    func(x *stages.Reading) { x.On = []string{"saloon"} },
		"too few":  func(x *stages.Reading) { x.Trace = x.Trace[:6] },
		"lost one": func(x *stages.Reading) { x.Pace = "beacon: gone" },
	} {
		b := a
		change(&b)
		if name == "lost one" {
			a := a
			a.Pace = b.Pace
			if _, err := comparer(t, p).Compare(a, b); err == nil || !strings.Contains(err.Error(), "gone") {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if ch, err := comparer(t, p).Compare(a, b); err == nil {
			t.Errorf("%s: compared: %s", name, ch.Text)
		}
	}
}

func TestSomethingElseThatChangesIsNotSettled(t *testing.T) {
	p := brackwaterPlan(t)
	a := reading(t, p, nil, 1, 1, "closed", home(), load.Options{})
	b := a
	b.Trace = slices.Clone(a.Trace)
	for i := range b.Trace {
		if i%7 < 3 {
			b.Trace[i] = blink.Sample{AtS: b.Trace[i].AtS, Amps: b.Trace[i].Amps - 0.02*float64(i%3)}
		}
	}
	b.Stage = "delivered"
	if ch := compared(t, p, a, b); ch.Verdict == stages.Unchanged || ch.Verdict == "" {
		t.Errorf("a contact that opens now and then: %s: %s", ch.Verdict, ch.Text)
	}
}

func TestARuleWithoutGuardsIsRefused(t *testing.T) {
	p := brackwaterPlan(t)
	for _, r := range []rule.Rule{{}, {K: 3.29}, {Guard: 1.64}, {K: math.Inf(1), Guard: 1},
		{K: math.NaN(), Guard: 1}} {
		if _, err := stages.New(p, r, nil); err == nil {
			t.Errorf("%v was taken", r)
		}
	}
}

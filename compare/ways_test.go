package compare_test

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

// noRecord: these tests judge what the engine hands back.
type noRecord struct{}

func (noRecord) Append(instruments.Reading, capture.StepRef) error { return nil }
func (noRecord) Mark(capture.Mark) error                           { return nil }
func (noRecord) Sync() error                                       { return nil }
func (noRecord) Kept() uint64                                      { return 0 }

// judged measures a closure of the demo build on a simulated bench, in
// simulated time, and gives the findings by group.
func judged(t *testing.T, o compare.StepOptions, seed uint64, faults ...fault.Fault) map[string]compare.Finding {
	t.Helper()
	return judgedBy(t, brackwater.Plan, capture.Unattended{}, o, seed, faults...)
}

// judgedBy is judged for any plan, with somebody there or nobody.
func judgedBy(t *testing.T, src []byte, f capture.Face, o compare.StepOptions, seed uint64,
	faults ...fault.Fault) map[string]compare.Finding {
	t.Helper()
	ctx := context.Background()
	p, problems := plan.Parse("plan.toml", src)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	c := clock.NewSimulated(time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC))
	l, err := load.New(p, faults, seed, load.Options{Loose: o.Stage == compare.Loose})
	if err != nil {
		t.Fatal(err)
	}
	b, err := rig.New(ctx, c, l, rig.Options{Seed: seed, MemoryPorts: true, Buttons: l.Buttons()})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Outside(func() { b.Close() })
	names := b.Ports()
	cfg := bench.Default()
	cfg.Supply = bench.Supply{Port: names.Supply, Profile: "scpi supply"}
	cfg.Meter = bench.Meter{Port: names.Meter, Profile: "scpi meter"}
	cfg.Relays = bench.Relays{Port: names.Relays, Profile: "scpi relays"}
	open, err := bench.Open(ctx, c, b.Opener(), cfg, bench.Overrides{})
	if err != nil {
		t.Fatal(err)
	}
	defer open.Close()
	set := capture.Bench{Clock: c, Supply: open.Supply, Meter: open.Meter, Relays: open.Relays,
		SupplyName: compare.SupplyName, MeterName: compare.MeterName, Leads: &benchLeads,
		Channels: map[string]int{},
		Buttons:  map[string]int{}}
	for i, name := range l.Terminals() {
		set.Channels[name] = i + 1
	}
	for i, name := range l.Buttons() {
		set.Buttons[name] = len(l.Terminals()) + 1 + i
	}
	exp := compare.NewExpected(p)
	j, err := compare.NewJudge(exp, rule.Default(), compare.Leads{Ohm: 0.1, HalfOhm: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	bud, err := exp.At(scene.Scene{Loose: o.Stage == compare.Loose, LeadsOhm: 0.1, LeadsHalfOhm: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	steps, err := compare.Steps(p, bud, o)
	if err != nil {
		t.Fatal(err)
	}
	recs, err := capture.Run(ctx, set, compare.NewGuide(j, bud, steps, false), f, noRecord{},
		capture.Options{Stage: o.Stage, Rand: rand.New(rand.NewPCG(seed, 2))})
	if err != nil {
		t.Fatal(err)
	}
	if b.Output().On {
		t.Error("the output is still on")
	}
	out := map[string]compare.Finding{}
	for _, r := range recs {
		if r.Step.Kind == capture.Power && r.Outcome != capture.Measured {
			t.Logf("%s: %s, %s", r.Step.ID, r.Outcome, r.Reason)
		}
		fs, err := j.Step(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range fs {
			out[f.Group] = f
		}
	}
	return out
}

func want(t *testing.T, got map[string]compare.Finding, verdicts map[string]compare.Verdict) {
	t.Helper()
	for g, v := range verdicts {
		if f := got[g]; f.Verdict != v {
			t.Errorf(
				"%s: %s, want %s; healthy %.3f, measured %.2f ±%.2f mA, expected %.2f ±%.2f mA, least %.2f mA; %q %q",
				g, f.Verdict, v,
				f.PHealthy, f.MeasuredA*1e3, f.MeasuredU*1e3, f.ExpectedA*1e3, f.ExpectedU*1e3, f.SmallestA*1e3,
				f.Notes, f.Settle)
		}
	}
}

func TestAddedToWhatIsOn(t *testing.T) {
	dark := fault.Fault{Kind: fault.DarkSegment, Group: "crew portholes", Branch: 1}
	got := judged(t, compare.StepOptions{Stage: compare.Fitted, Closure: "hull", Way: capture.Added}, 3, dark)
	// The boiler glow of this build lies 2.1 standard uncertainties low, where a bad joint
	// in its wire is one explanation in thirteen: too many to pass it.
	want(t, got, map[string]compare.Verdict{
		"cabin windows": compare.InBand, "crew portholes": compare.Low, "engine room": compare.InBand,
		"hold lamps": compare.InBand, "boiler glow": compare.CantTell, "anchor light": compare.InBand,
	})
	if f := got["crew portholes"]; f.Way != string(capture.Added) || len(f.Causes) == 0 ||
		f.Causes[0].Name != string(fault.DarkSegment) {
		t.Errorf("crew portholes: %s, %+v", f.Way, f.Causes)
	}
}

func TestJoinedWhole(t *testing.T) {
	o := compare.StepOptions{Stage: compare.Fitted, Closure: "lantern house", Way: capture.Joined}
	want(t, judged(t, o, 5), map[string]compare.Verdict{
		"lantern": compare.InBand, "gallery lamps": compare.InBand, "masthead light": compare.InBand,
	})
	open := fault.Fault{Kind: fault.OpenBranch, Group: "gallery lamps", Branch: 1}
	got := judged(t, o, 5, open)
	if got["lantern"].Verdict != compare.InBand {
		t.Errorf("lantern: %s", got["lantern"].Verdict)
	}
	for _, g := range []string{"gallery lamps", "masthead light"} {
		if v := got[g].Verdict; v != compare.Low && v != compare.CantTell {
			t.Errorf("%s: %s with a branch gone in the joined whole", g, v)
		}
	}
	stuck := fault.Fault{Kind: fault.StuckDark, Group: "lantern"}
	want(t, judged(t, o, 5, stuck), map[string]compare.Verdict{"lantern": compare.StuckDark})
}

func TestLoosePartsAreMeasuredAtTheirOwnWire(t *testing.T) {
	got := judged(t, compare.StepOptions{Stage: compare.Loose, Closure: "hull"}, 4)
	for g, f := range got {
		if f.Verdict == compare.Low || f.Verdict == compare.High {
			t.Errorf("%s: %s, %.2f mA where %.2f mA are expected", g, f.Verdict, f.MeasuredA*1e3, f.ExpectedA*1e3)
		}
	}
}

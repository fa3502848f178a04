package returns

import (
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/instruments/rig"
)

// lightship is the demo's plan.
func lightship(t *testing.T) *plan.Plan {
	t.Helper()
	src, err := os.ReadFile("../../testdata/brackwater/plan.toml")
	if err != nil {
		t.Fatal(err)
	}
	p, problems := plan.Parse("plan.toml", src)
	if p == nil {
		t.Fatal(problems)
	}
	return p.InService()
}

// drawn is what a model draws once it's warm, over volts, with nothing but some feeds on; of
// what blinks its mean. Nothing reads it: no meter, no noise.
func drawn(t *testing.T, p *plan.Plan, seed uint64, o load.Options, volts []float64, feeds ...string) []float64 {
	t.Helper()
	return drawnWith(t, p, seed, o, nil, volts, feeds...)
}

// drawnWith is drawn, of a model with faults.
func drawnWith(t *testing.T, p *plan.Plan, seed uint64, o load.Options, faults []fault.Fault, volts []float64,
	feeds ...string) []float64 {
	t.Helper()
	l, err := load.New(p, faults, seed, o)
	if err != nil {
		t.Fatal(err)
	}
	on := make([]bool, len(l.Terminals()))
	for i, name := range l.Terminals() {
		on[i] = len(feeds) == 0
		for _, f := range feeds {
			on[i] = on[i] || f == name
		}
	}
	out := make([]float64, len(volts))
	const moments = 400
	for i, v := range volts {
		for k := range moments {
			since := time.Hour + time.Duration(k)*1618033989*time.Nanosecond
			out[i] += l.Current(rig.State{Volts: v, Since: since, On: on, AmbientC: o.RoomC()}) / moments
		}
	}
	if l.Err() != nil {
		t.Fatal(l.Err())
	}
	return out
}

// ofOtherLaw is a lightship whose parts follow a law that nothing here knows, and what was
// kept of it at 21 degC: the curves of its steady groups and of the whole, without noise.
func ofOtherLaw(t *testing.T, p *plan.Plan, seed uint64) *Signature {
	t.Helper()
	s, err := byPlan(p, p.Jacks[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	room := 21.0
	o := load.Options{AmbientC: &room, Law: load.OtherLaw}
	s.AmbientC, s.Groups = &room, nil
	s.TakenAt = time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC)
	for _, g := range p.Groups {
		c := GroupCurve{Group: g.Name, Board: g.Board, Output: g.Output}
		if g.Board == "" {
			from := 2.0
			for from < 6 && drawn(t, p, seed, o, []float64{from}, g.Name)[0] < 50e-6 {
				from += 0.5
			}
			c.Lit.Volts, c.Kept = grid(from, 12, (12-from)/13), KeptSweep
			c.Lit.Amps = drawn(t, p, seed, o, c.Lit.Volts, g.Name)
		}
		s.Groups = append(s.Groups, c)
	}
	volts := grid(2, 12, 0.5)
	s.Whole = []Whole{{Sweep: Curve{Volts: volts, Amps: drawn(t, p, seed, o, volts)}, DwellS: 5}}
	return s
}

// allRight is a look that found nothing.
func allRight(s *Signature) []Seen {
	var out []Seen
	for _, name := range s.Names() {
		out = append(out, Seen{Group: name, Look: look.Look{Saw: look.AllLit}})
	}
	return out
}

// Whatever law a model's parts follow, in another room and after years it's its own curves
// that tell what it should draw: read without any noise, what is left over is far below
// what is asked of a sweep. The plan's law put the knees of groups in the whole model
// elsewhere, by 0.2 V, since it has dark alone what draws a little, and made them steeper
// than they are: each left .11 to .18 mA.
func TestAModelOfAnotherLawAnswersByItsOwnCurves(t *testing.T) {
	const seed = 737337
	p := lightship(t)
	s := ofOtherLaw(t, p, seed)
	sweep := s.Whole[0].Sweep
	for _, c := range []struct {
		roomC float64
		years int
		most  float64
	}{{21, 0, 5e-6}, {17, 0, 60e-6}, {17, 3, 60e-6}, {26, 0, 60e-6}} {
		y := drawn(t, p, seed, load.Options{AmbientC: &c.roomC, Years: float64(c.years), Law: load.OtherLaw}, sweep.Volts)
		d, err := Diagnose(p, s, &Return{At: s.TakenAt.AddDate(c.years, 0, 0), AmbientC: &c.roomC,
			Sweep: Curve{Volts: sweep.Volts, Amps: y}, DwellS: 5, Seen: allRight(s)}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		worst := 0.0
		for i := range y {
			if v := sweep.Volts[i]; v >= 7.5 { // from where all boards run
				worst = math.Max(worst, math.Abs(y[i]-d.HealthyA[i]))
			}
		}
		t.Logf("%g degC, %d years: %.1f uA off at most, healthy %.3f", c.roomC, c.years, 1e6*worst,
			d.PNothing+d.PSlight)
		if worst > c.most || d.Verdict != AsItLeft {
			t.Errorf("%g degC, %d years: %.1f uA off, %s", c.roomC, c.years, 1e6*worst, d.Verdict)
		}
	}
}

// What grows in series by a tenth over years takes millivolts from one make of LED and many
// times that from another: six years are no fault.
func TestMakesOfLEDsAgeEachInItsWay(t *testing.T) {
	p := lightship(t)
	for _, seed := range []uint64{737332, 737337} {
		s := ofOtherLaw(t, p, seed)
		sweep := s.Whole[0].Sweep
		y := drawn(t, p, seed, load.Options{AmbientC: s.AmbientC, Years: 6, Law: load.OtherLaw}, sweep.Volts)
		ret := &Return{AmbientC: s.AmbientC, Sweep: Curve{Volts: sweep.Volts, Amps: y}, DwellS: 5, Seen: allRight(s)}
		n := nuisancesOf(s, ret)
		d, err := Diagnose(p, s, ret, Options{Nuisances: &n})
		if err != nil {
			t.Fatal(err)
		}
		n.AgeMakeV = 0
		alike, err := Diagnose(p, s, ret, Options{Nuisances: &n})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("healthy %.3f, %.3f if all aged alike", d.PNothing+d.PSlight, alike.PNothing+alike.PSlight)
		if d.Verdict != AsItLeft || d.PNothing <= alike.PNothing {
			t.Errorf("seed %d: %s", seed, d.Verdict)
		}
	}
}

// What a fault changes is known by the curves as built, too, in whichever place of the model:
// against the same model with that fault in it, read without noise. The plan's law made it a
// third of what it is below a knee, and twice as much behind a joint that several feeds
// share: joints were named with certainty that were elsewhere.
func TestAJointChangesWhatTheModelsOwnCurvesSay(t *testing.T) {
	const seed = 507795
	p := lightship(t)
	s := ofOtherLaw(t, p, seed)
	sweep := s.Whole[0].Sweep
	l, err := NewLibrary(p, s, "", sweep.Volts, fault.DefaultPriors().Return)
	if err != nil {
		t.Fatal(err)
	}
	o := load.Options{AmbientC: s.AmbientC, Law: load.OtherLaw}
	for _, f := range []fault.Fault{{Kind: fault.BadJoint, Group: "engine room", Ohms: 320},
		{Kind: fault.BadJoint, Group: "crew portholes", Ohms: 56},
		{Kind: fault.BadJoint, Group: "hold lamps", Ohms: 56},
		{Kind: fault.UpstreamJoint, At: "foredeck", Ohms: 56},
		{Kind: fault.UpstreamJoint, At: "engine bed", Ohms: 10}} {
		i := slices.IndexFunc(l.Hypotheses, func(h Hypothesis) bool {
			return h.Place == f.Group+f.At && h.Class == f.Kind && h.Param == f.Ohms
		})
		if i < 0 {
			t.Fatalf("%s isn't among what may be wrong", f)
		}
		want := minus(drawnWith(t, p, seed, o, []fault.Fault{f}, sweep.Volts), sweep.Amps)
		worst := 0.0
		for k, a := range l.Hypotheses[i].DeltaA {
			worst = math.Max(worst, math.Abs(a-want[k]))
		}
		most := -slices.Min(want)
		t.Logf("%s: %.3f mA off of %.1f", f, 1e3*worst, 1e3*most)
		if worst > 0.02*most {
			t.Errorf("%s: %.3f mA off of %.1f", f, 1e3*worst, 1e3*most)
		}
	}
}

// A model that was away for years may have lost to age what one that comes back within a week
// has lost to a joint; where the dates can't be right it's between both.
func TestYearsSayHowFarLEDsMayHaveAged(t *testing.T) {
	const seed = 737332
	p := lightship(t)
	s := ofOtherLaw(t, p, seed)
	sweep := s.Whole[0].Sweep
	healthy := func(years float64, faults []fault.Fault, at time.Time) float64 {
		y := drawnWith(t, p, seed, load.Options{AmbientC: s.AmbientC, Years: years, Law: load.OtherLaw}, faults, sweep.Volts)
		d, err := Diagnose(p, s, &Return{At: at, AmbientC: s.AmbientC, Sweep: Curve{Volts: sweep.Volts, Amps: y}, DwellS: 5,
			Seen: allRight(s)}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		return d.PNothing + d.PSlight
	}
	week, years := s.TakenAt.AddDate(0, 0, 7), s.TakenAt.AddDate(6, 0, 0)
	unset := time.Date(1970, 1, 1, 0, 3, 0, 0, time.UTC)
	if p := healthy(6, nil, years); p < setCovers {
		t.Errorf("six years old: healthy %.3f", p)
	}
	joint := []fault.Fault{{Kind: fault.BadJoint, Group: "crew portholes", Ohms: 18}}
	atOnce, late, unknown := healthy(0, joint, week), healthy(0, joint, years), healthy(0, joint, unset)
	t.Logf("a joint of 18 ohm: healthy %.3f after a week, %.3f after six years, %.3f where a clock isn't set", atOnce,
		late, unknown)
	if atOnce > alarmBelow || !(atOnce < unknown && unknown < late) {
		t.Error("years make no difference")
	}
	n := nuisancesOf(s, &Return{})
	for _, at := range []time.Time{unset, s.TakenAt.AddDate(0, 0, -1), s.TakenAt.AddDate(90, 0, 0)} {
		if x := nuisancesOf(s, &Return{At: at}); x != n {
			t.Errorf("%v was taken for the date of a return", at)
		}
	}
}

package compare

import (
	"fmt"
	"math"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// evidence is all that was read of one group, or of groups whose draws can't be
// told apart: it goes into the probabilities together.
type evidence struct {
	groups   []string
	of       string           // of those, the one that the finding is of
	seen     []string         // of those, the ones that what was seen is of
	readings []belief.Reading // the one at service voltage first
	scene    scene.Scene
	single   verdictOnly // by the reading at service voltage alone
	plan     expectation // by the plan alone, with what else is in its figures
	// others is what groups that share reels, parts or the bench with it tell; nil: nothing.
	others *belief.Others
	// earlier is what was read and seen of the same pieces at the stage before; nil: nothing.
	earlier *earlier
	// elseway is the part of the probability of healthy that other ways to give levels to
	// outputs take away.
	elseway float64
	// settles says of a finding that can't be told why, and what would settle it.
	settles func(Finding) (why string, settle []string)
}

// verdictOnly is what of a finding other readings may change.
type verdictOnly struct {
	verdict Verdict
	why     string
	settle  []string
	notes   int
}

// isExtra: a step at another voltage than the service voltage adds to what is
// known of a group and replaces nothing. One that tripped is a finding of its own.
func (j *Judge) isExtra(r capture.StepRecord) bool {
	if r.Step.Kind != capture.Power || r.Step.Way != capture.Alone || len(r.Step.Groups) == 0 ||
		r.Outcome == capture.Tripped {
		return false
	}
	return r.Step.Volts < serviceVolts(j.Expected.Plan, r.Step.Feed, r.Stage == Loose)-0.1
}

// serviceVolts is the voltage at the source of a feed's jack, or of its own wire while it's loose.
func serviceVolts(p *plan.Plan, feed string, loose bool) float64 {
	joint := ""
	if g, ok := p.Group(feed); ok && g.Board == "" {
		joint = g.Joint
	} else if b, ok := p.Board(feed); ok {
		joint = b.Joint
	}
	jack, ok := p.Jack(p.JackOf(joint))
	if !ok {
		return p.Jacks[0].Volts
	}
	if loose {
		return budget.ServiceVolts(p, joint, jack.Volts)
	}
	return jack.Volts
}

// alsoRead adds what was read of a group at other voltages in steps of their own,
// since it was last touched.
func (j *Judge) alsoRead(f *Finding, extra []capture.StepRecord, touched voids) {
	if f.evidence == nil || f.Board != "" || len(extra) == 0 {
		return
	}
	e := *f.evidence
	e.readings = slices.Clone(e.readings)
	for _, r := range extra {
		if r.Outcome != capture.Measured || r.Stage != f.Stage || touched.covers(r.BeganAt) ||
			len(r.Step.Groups) != 1 || r.Step.Groups[0] != f.Group || r.Step.Way != capture.Alone {
			continue
		}
		t := traceOf(r)
		if t.whyUnusable() != "" {
			continue
		}
		if !sameRoom(f.record, &r) {
			continue // the parts may be warmer or colder now: it says so little
		}
		s := step{j: j, r: r, t: t}
		x := s.evidence(Finding{Group: f.Group, MeasuredA: t.meanA, MeasuredU: t.u}, false)
		one := x.readings[0]
		// With other ohms before it, the same current flows at a voltage that is
		// higher by what they drop more.
		one.Volts += (e.scene.SeriesOhm() - x.scene.SeriesOhm()) * one.Amps
		if !sameMeter(f.record, &r) {
			// Its error isn't that of the other reading.
			one.U, one.GainU = math.Hypot(one.U, one.GainU*one.Amps), 0
		}
		e.readings = append(e.readings, one)
		e.scene.Limits = append(slices.Clip(e.scene.Limits),
			scene.Limit{Volts: one.Volts, Amps: x.scene.LimitAt(r.Step.Volts)})
	}
	j.rejudge(f, &e)
}

// sameRoom: readings are weighed together only if the room is as it was.
func sameRoom(a, b *capture.StepRecord) bool {
	return a == nil || a.AmbientC == nil || b.AmbientC == nil ||
		math.Abs(*a.AmbientC-*b.AmbientC) <= scene.MeasuredHalfC
}

// sameMeter: one meter in one range is off by the same share in both readings.
func sameMeter(a, b *capture.StepRecord) bool {
	if a == nil {
		return true
	}
	x, y := a.Instruments[Ammeter(*a)], b.Instruments[Ammeter(*b)]
	p, _ := rangeOf(x, *a)
	q, _ := rangeOf(y, *b)
	return whichOne(*a, Ammeter(*a)) == whichOne(*b, Ammeter(*b)) && p.Name == q.Name
}

// withMore adds readings at other voltages to a finding.
func (j *Judge) withMore(f *Finding, more []belief.Reading) {
	e := *f.evidence
	e.readings = append(slices.Clone(e.readings), more...)
	j.rejudge(f, &e)
}

// rejudge lets more readings decide together, from what the first one alone said.
func (j *Judge) rejudge(f *Finding, e *evidence) {
	if len(e.readings) == len(f.evidence.readings) {
		return
	}
	was := f.evidence
	f.evidence = e
	if j.conclude(f) != nil {
		f.evidence = was
	}
}

// evidence gathers the readings of a step: at its own voltage as measured in f,
// and at the voltages of its sweep.
func (s step) evidence(f Finding, points bool) *evidence {
	c := SceneOf(s.r, s.j.Leads)
	c.LimitA = scene.Given(s.r.Step.LimitA())
	c.Supply, c.Meter, c.Sitting = whichOne(s.r, SupplyName), s.meter(), fmt.Sprint(s.r.BeganAt.Sitting())
	e := &evidence{groups: s.inSum(f), of: f.Group, scene: c}
	gain := 0.0
	if c.Accuracy != nil {
		gain = c.Accuracy.OfReading / math.Sqrt(3)
	}
	add := func(volts, amps, u, common float64) {
		g := gain
		if own := u*u - g*g*amps*amps; own > 0 {
			u = math.Sqrt(own)
		} else {
			g = 0 // the stated accuracy leaves no room for it: all of u is the reading's own
		}
		e.readings = append(e.readings, belief.Reading{Volts: volts, Amps: amps, U: u, GainU: g, CommonU: common})
	}
	amps, u, common := f.MeasuredA, f.MeasuredU, 0.0
	if b, ok := s.j.Expected.Plan.Board(f.Board); ok {
		if pace, ok := b.Pace(f.Pace); ok && pace.Steady() {
			// The figures hold what the board itself draws.
			base := s.baseDraw(b.Name)
			amps, u = amps-base.MeanA, math.Hypot(u, math.Sqrt(1-standingAlike)*base.UA)
			common = math.Sqrt(standingAlike) * base.UA
		}
	}
	add(s.r.Step.Volts, amps, u, common)
	if !points || s.r.Step.Way == capture.Added {
		return e
	}
	for _, i := range s.pointsUsed() {
		t := readingsTrace(slices.Values(s.r.AtPoint(i, Ammeter(s.r), instruments.Current)))
		if t.n > 0 && t.overloads == 0 && t.unusable == 0 && t.ranges == 1 {
			volts := s.r.Points[i].Volts
			add(volts, t.meanA, t.u, 0)
			e.scene.Limits = append(e.scene.Limits, scene.Limit{Volts: volts, Amps: s.limitAt(volts, c.LimitAt(volts))})
		}
	}
	return e
}

// limitAt is the limit that was in force at a voltage of the step's sweep: behind a converter more flows at a
// lower voltage, up to another limit than at the service voltage. Without a sweep it's otherwise.
func (s step) limitAt(volts, otherwise float64) float64 {
	far := math.Inf(1)
	for _, p := range s.r.Step.Sweep {
		if d := math.Abs(p.Volts - volts); d < far {
			otherwise, far = p.LimitA, d
		}
	}
	return otherwise
}

// standingAlike is the part of the variance of what a board draws by itself that is the same at each
// of its voltages (common practice, no source).
const standingAlike = 0.8

// meter names the meter in its range.
func (s step) meter() string {
	g, _ := rangeOf(s.r.Instruments[Ammeter(s.r)], s.r)
	return whichOne(s.r, Ammeter(s.r)) + "\x00" + g.Name
}

// whichOne names the instrument that a step was read or fed with. One that can't say who it is,
// but for what drives it, or that the maker serves by hand, may be another one in another sitting.
func whichOne(r capture.StepRecord, name string) string {
	d := r.Instruments[name]
	if d.Identity == "" || d.Identity == d.Profile || d.Profile == byHandProfile {
		return fmt.Sprintf("%s\x00of sitting %d", d.Identity, r.BeganAt.Sitting())
	}
	return d.Identity
}

// usedPoints is how many voltages of a sweep are weighed besides the service
// voltage: more tell hardly more, for tolerance is the limit, not noise.
const usedPoints = len(usedParts)

// usedParts are where they lie, as shares of the service voltage: a full sweep begins
// below the first knee, where nothing flows.
var usedParts = [...]float64{0.75, 0.6, 0.5}

// pointsUsed picks from the voltages of a sweep, by index: evenly spread between
// its lowest that tells anything and the service voltage.
func (s step) pointsUsed() []int {
	var all []int
	for i, p := range s.r.Points {
		if p.Volts < s.r.Step.Volts-0.1 {
			all = append(all, i)
		}
	}
	if len(all) <= usedPoints {
		return all
	}
	var out []int
	for _, part := range usedParts {
		best := all[0]
		for _, i := range all {
			if math.Abs(s.r.Points[i].Volts-part*s.r.Step.Volts) < math.Abs(s.r.Points[best].Volts-
				part*s.r.Step.Volts) {
				best = i
			}
		}
		if !slices.Contains(out, best) {
			out = append(out, best)
		}
	}
	return out
}

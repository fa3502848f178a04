package belief

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// pieces are those of a group, drawn once and read as often as one likes.
type pieces struct {
	w    *wiring.Wired
	devs []float64
}

func drawPieces(t *testing.T, p *plan.Plan, r *rand.Rand) *pieces {
	t.Helper()
	w, err := wiring.Build(p, "main", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	u := func() float64 { return 2*r.Float64() - 1 }
	c := make([]float64, w.Commons)
	for i := range c {
		c[i] = u()
	}
	x := &pieces{w: w}
	for _, q := range w.Params {
		x.devs = append(x.devs, q.Value.HalfWidth*(math.Sqrt(q.Value.Share)*c[q.Common]+
			math.Sqrt(1-q.Value.Share)*u()))
	}
	return x
}

// at reads them in a room that is off by so many K, with a supply that is off by so much and
// a meter by a share, and with what is wrong with them.
func (x *pieces) at(t *testing.T, warmK, offV, gain float64, f *fault.Fault) Reading {
	t.Helper()
	x.w.Reset()
	x.w.SetAll(true)
	for i, q := range x.w.Params {
		dev := x.devs[i]
		if q.Kind == wiring.LEDVolts {
			br := x.w.Groups[q.Group].Branches[q.Branch]
			dev += x.w.Plan.Groups[q.Group].Lights[br.Light].Series[q.LED].TempcoVPerK * warmK
		}
		x.w.Apply(i, dev)
	}
	if f != nil {
		if err := apply(x.w, *f, f.Ohms); err != nil {
			t.Fatal(err)
		}
	}
	if err := x.w.Solve(circuit.Source{EmfV: 12 + offV}); err != nil {
		t.Fatal(err)
	}
	return Reading{Volts: 12, Amps: x.w.JackAmps(x.w.Point) * (1 + gain), U: 2e-5, GainU: 0.005 / math.Sqrt(3)}
}

// twiceSaid counts what is said of pieces by their second reading.
type twiceSaid struct{ passed, failed, of int }

// TestWhatWasReadBeforeOfTheSamePieces: healthy pieces that were seen lit before pass where
// their tolerance hides one dark; one that is dark since is found; one that was dark then
// already is no more passed than by the plan alone, and never made normal.
func TestWhatWasReadBeforeOfTheSamePieces(t *testing.T) {
	statistics(t)
	trials := 60
	if long() {
		trials = 400
	}
	const n = 12
	p := onJack(light("three white", 3, n, 330, 0.5))
	dark := &fault.Fault{Kind: fault.OpenBranch, Group: "windows"}
	on := func(day string) *Ensemble {
		return ensemble(t, p, []float64{12}, scene.Scene{Sitting: day, Supply: "bench", Meter: "meter"}, Options{})
	}
	then, now := on("1"), on("2")
	allLit := look.Look{Saw: look.AllLit}
	for _, c := range []struct {
		name      string
		then, now *fault.Fault
		look      look.Look // before
		pass      float64   // at least, of those that a look at them now lets pass
		find      float64   // at least
		most      float64   // passed, at most
	}{
		{name: "healthy, never looked at", most: 1},
		{name: "healthy, seen lit before", look: allLit, pass: 0.9, most: 1},
		{name: "dark since, seen lit before", now: dark, look: allLit, find: 0.95},
		{name: "dark since", now: dark, find: 0.9},
		{name: "dark always", then: dark, now: dark, most: 0.05},
		// Overlooked: one in fifty times the eye does. It passes no more often than overlooked now.
		{name: "dark always, overlooked", then: dark, now: dark, look: allLit, most: 1},
	} {
		r := rand.New(rand.NewPCG(11, uint64(len(c.name))))
		var alone, said, seen twiceSaid
		for range trials {
			x := drawPieces(t, p, r)
			u := func(half float64) float64 { return half * (2*r.Float64() - 1) }
			off, gain := u(0.010), u(0.005)
			a, b := x.at(t, u(5), off, gain, c.then), x.at(t, u(5), off, gain, c.now)
			e, err := now.After(Measured{Ensemble: then, Readings: []Reading{a}, Look: c.look})
			if err != nil {
				t.Fatal(err)
			}
			if e.HealthyU[0] > now.HealthyU[0]/4 {
				t.Fatalf("by what was read before the draw is known to %g A, by the plan to %g", e.HealthyU[0],
					now.HealthyU[0])
			}
			for _, k := range []struct {
				e  *Ensemble
				l  look.Look
				to *twiceSaid
			}{{now, look.Look{}, &alone}, {e, look.Look{}, &said}, {now, c.look, &seen}} {
				d := decision(t, k.e, []Reading{b}, k.l)
				k.to.of++
				switch d.Verdict {
				case rule.Pass:
					k.to.passed++
				case rule.FailLow, rule.FailHigh:
					k.to.failed++
				}
			}
		}
		t.Logf("%-28s by the plan: passed %d, failed %d; and by what was read before: passed %d, failed %d; "+
			"seen so now: passed %d, of %d", c.name, alone.passed, alone.failed, said.passed, said.failed, seen.passed,
			trials)
		of := float64(trials)
		most := c.most*of + 3*math.Sqrt(of*0.05)
		if p := float64(said.passed); p < c.pass*float64(seen.passed) || p > most || float64(said.failed) < c.find*of {
			t.Errorf("%s: passed %d, failed %d of %d", c.name, said.passed, said.failed, trials)
		}
		if c.then != nil && said.passed > seen.passed+1 {
			t.Errorf("%s: passed %d by a look of then, %d by one of now", c.name, said.passed, seen.passed)
		}
		if c.pass > 0 && 2*seen.passed < trials {
			t.Errorf("%s: %d of %d pass by a look of now: nothing is tested", c.name, seen.passed, trials)
		}
	}
}

// TestLargestGroupAgainstWhatWasReadBefore prints, beside a prototype's figures for the same
// branches (simulated, one device law), how large a group may be before the loss of one branch
// since it was read can't be told from none: d' of 3.29.
func TestLargestGroupAgainstWhatWasReadBefore(t *testing.T) {
	for _, c := range []struct {
		name        string
		n           int
		ohms        float64
		halfC       float64 // what isn't known of the room
		otherMeter  bool
		prototype   int // branches
		least, most int
	}{
		{name: "white + 1k, one meter, 5 K", n: 1, ohms: 1000, halfC: 5, prototype: 205, least: 30, most: 205},
		{name: "3 white + 330, one meter, 5 K", n: 3, ohms: 330, halfC: 5, prototype: 38, least: 15, most: 38},
		{name: "3 white + 330, one meter, 1 K", n: 3, ohms: 330, halfC: 1, prototype: 164, least: 30, most: 164},
		{name: "3 white + 330, other meter, 5 K", n: 3, ohms: 330, halfC: 5, otherMeter: true, prototype: 34,
			least: 12, most: 34},
	} {
		largest := 0
		for n := 4; n <= 220; n += 4 {
			p := onJack(light("white", c.n, n, c.ohms, 0.5))
			on := func(day, meter string) *Ensemble {
				b := scene.Scene{Room: &scene.Room{C: 25, HalfC: c.halfC}, Sitting: day, Supply: "bench", Meter: meter}
				e, err := New(p, []string{"windows"}, []float64{12}, b, Options{})
				if err != nil {
					t.Fatal(err)
				}
				return e
			}
			now, then := on("2", "a"), on("1", map[bool]string{false: "a", true: "b"}[c.otherMeter])
			rd := func(e *Ensemble) Reading {
				return Reading{Volts: 12, Amps: e.HealthyA[0], U: 2e-5, GainU: 0.005 / math.Sqrt(3)}
			}
			e, err := now.After(Measured{Ensemble: then, Readings: []Reading{rd(then)}})
			if err != nil {
				t.Fatal(err)
			}
			_, u, ok, err := e.Against(rd(now))
			if err != nil || !ok {
				t.Fatal(ok, err)
			}
			if now.HealthyA[0]/float64(n) < 3.29*u {
				break
			}
			largest = n
		}
		t.Logf("%-34s %d branches, the prototype %d", c.name, largest, c.prototype)
		if largest < c.least || largest > c.most {
			t.Errorf("%s: %d branches, expected %d to %d", c.name, largest, c.least, c.most)
		}
	}
}

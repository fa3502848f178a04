package stages_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/scene"
	"sealworthy/compare/stages"
)

// What two sittings on one bench, and on two, differ by without anybody
// knowing: uniform within the half-widths that the doubts take.
func drawn(r *rand.Rand, other bool) (before, now bench) {
	u := func(half float64) float64 { return half * (2*r.Float64() - 1) }
	before = home()
	before.clipOhm = 0.03
	now = before
	before.roomC = 20 + 3*r.Float64()
	now.roomC = 20 + 3*r.Float64()
	before.gain = u(before.accuracy)
	now.gain = before.gain + 0.0005*r.NormFloat64()
	now.clipOhm += u(0.02)
	now.voltsOff = 0.002 * r.NormFloat64()
	if other {
		now.meter, now.supply, now.accuracy = "meter 2", "supply 2", 0.005
		now.gain, now.clipOhm, now.voltsOff = u(0.005), 0.03+0.1*r.Float64(), u(0.012)
	}
	return before, now
}

// noted is a reading whose thermometer is off.
func noted(x stages.Reading, offK float64) stages.Reading {
	c := x.Room.C + offK
	x.Room = scene.Measured(&c)
	return x
}

type tally struct{ unchanged, cant, changed, n int }

func (t *tally) add(v stages.Verdict) {
	t.n++
	switch v {
	case stages.Unchanged:
		t.unchanged++
	case stages.Changed:
		t.changed++
	default:
		t.cant++
	}
}

func (t tally) share(k int) float64 { return float64(k) / float64(t.n) }

// Rates of the verdicts over simulated models. What the rule promises (normal
// distribution, K = 3.29, guard 1.64): one false alarm in 1000; a loss of the
// smallest branch passed in 5 of 100 at most; found in half of the cases where
// it is worth 3.29 u, in 0.955 where it is worth 5 u.
func TestRates(t *testing.T) {
	if raceOn {
		t.Skip("statistics run without the race detector")
	}
	n := 5
	if os.Getenv("SEALWORTHY_LONG") != "" {
		n = 200
	}
	p := brackwaterPlan(t)
	for _, x := range []struct {
		name  string
		other bool
		fault string
	}{
		{"one bench, healthy", false, ""},
		{"one bench, the smallest branch", false, "masthead light=open branch"},
		{"one bench, a segment", false, "saloon=dark segment"},
		{"two benches, healthy", true, ""},
		{"two benches, the smallest branch", true, "masthead light=open branch"},
		{"two benches, a segment", true, "saloon=dark segment"},
	} {
		var got tally
		r := rand.New(rand.NewPCG(11, uint64(len(x.name))))
		size, z, unnamed := 0.0, 0.0, 0
		for i := range n {
			seed := uint64(100 + i)
			before, now := drawn(r, x.other)
			var fs []fault.Fault
			if x.fault != "" {
				fs = append(fs, faultOf(t, p, x.fault, seed))
			}
			o := load.Options{}
			if x.other {
				o.Years = 3 * r.Float64()
			}
			a := noted(reading(t, p, nil, seed, 2*seed, "closed", before, load.Options{}), 0)
			b := noted(reading(t, p, fs, seed, 2*seed+1, "delivered", now, o), 2*r.Float64()-1)
			b.At = b.At.Add(time.Duration(o.Years * 365.25 * 24 * float64(time.Hour)))
			ch := compared(t, p, a, b)
			got.add(ch.Verdict)
			size += ch.Parts[0].SmallestA / ch.Parts[0].U / float64(n)
			z += ch.Parts[0].DeltaA * ch.Parts[0].DeltaA / ch.Parts[0].U / ch.Parts[0].U / float64(n)
			if x.fault != "" && ch.Verdict == stages.Changed && !fitsGroup(ch, fs[0].Group) {
				unnamed++
			}
		}
		t.Logf("%-34s n %d, smallest branch %.1f u: unchanged %.3f, can't tell %.3f, changed %.3f; true group not "+
			"listed %d; rms z %.2f", x.name, got.n, size,
			got.share(got.unchanged), got.share(got.cant), got.share(got.changed), unnamed, math.Sqrt(z))
		if got.changed > 0 && float64(unnamed) > 0.05*float64(got.changed)+2 {
			t.Errorf("%s: the true group is not among those that fit in %d of %d", x.name, unnamed, got.changed)
		}
		// Binomial slack of three standard deviations about what is promised.
		most := func(share float64) float64 { return share + 3*math.Sqrt(share*(1-share)/float64(got.n)) }
		if x.fault == "" && got.share(got.changed) > most(0.003) {
			t.Errorf("%s: %d of %d called changed", x.name, got.changed, got.n)
		}
		if x.fault != "" && got.share(got.unchanged) > most(0.05) {
			t.Errorf("%s: %d of %d passed", x.name, got.unchanged, got.n)
		}
		if x.fault == "saloon=dark segment" && !x.other && got.share(got.changed) < 0.95 {
			t.Errorf("%s: found in %d of %d only", x.name, got.changed, got.n)
		}
		if x.name == "one bench, healthy" && got.share(got.unchanged) < 0.85 {
			t.Errorf("%s: unchanged in %d of %d only", x.name, got.unchanged, got.n)
		}
	}
}

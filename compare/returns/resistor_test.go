package returns

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/gonum/mat"

	"sealworthy/capture"
	"sealworthy/compare/fault"
	"sealworthy/instruments"
)

// resistorBy reads a resistor of 50 ohm at 12 V as a bench does, one contact a reading.
func resistorBy(r *rand.Rand, gain, offsetA, setV float64) *Resistor {
	a := (12 + setV) / (50 + clipsOhm*r.NormFloat64())
	return &Resistor{Volts: 12, Amps: a*(1+gain)*(1+0.0002*r.NormFloat64()) + offsetA, U: 5e-6}
}

// A resistor that was read twice counts as one more reading of which no fault changes
// anything: beside dense algebra on all readings at once, which knows nothing of how it's done.
func TestAResistorIsOneMoreReading(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(41)
	ls := built(r)
	s, pr := asBuilt(ls, volts, r), fault.DefaultPriors().Return
	l, err := NewLibrary(referencePlan(ls), s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	y := otherBench().sweep(ls, volts, r, nil, trueFault{"strip2", fault.BadJoint, 8}).Amps
	n := DefaultNuisances()
	s.Resistor = resistorBy(r, 0, 0, 0)
	with, why := n.withResistor(s, &Return{Resistor: resistorBy(r, 0.003, 4e-6, -0.006)})
	if with.resistor == nil || why != "" {
		t.Fatal(why)
	}
	with.resistor.pieces = nil // it is the same one
	pr.Two, pr.Unknown = 0, 0
	noise := l.noise(n, 4, nil)
	post, err := l.posterior(y, noise, with, pr, nothingKnown())
	if err != nil {
		t.Fatal(err)
	}
	x, k := *with.resistor, len(volts)
	c := mat.NewSymDense(k+1, nil)
	row := map[string]float64{"gain": n.GainRel * x.amps, "offset": n.OffsetA, "set voltage": n.SetV * x.perV}
	for _, j := range l.nuisances(n) {
		v := append(slices.Clone(j.j), row[j.name])
		for a := range v {
			for b := a; b < len(v); b++ {
				c.SetSym(a, b, c.At(a, b)+v[a]*v[b])
			}
		}
	}
	for i, u := range append(slices.Clone(noise), x.u) {
		c.SetSym(i, i, c.At(i, i)+u*u)
	}
	ln := func(h Hypothesis) float64 {
		c := mat.NewSymDense(k+1, slices.Clone(c.RawSymmetric().Data))
		d := mat.NewVecDense(k+1, nil)
		for i := range volts {
			d.SetVec(i, y[i]-l.HealthyA[i])
			if h.DeltaA != nil {
				d.SetVec(i, d.AtVec(i)-h.DeltaA[i])
			}
		}
		d.SetVec(k, x.d)
		for _, e := range h.extra {
			for a := range k {
				for b := a; b < k; b++ {
					c.SetSym(a, b, c.At(a, b)+e[a]*e[b])
				}
			}
		}
		var ch mat.Cholesky
		if !ch.Factorize(c) {
			t.Fatal("not positive definite")
		}
		var w mat.VecDense
		if err := ch.SolveVecTo(&w, d); err != nil {
			t.Fatal(err)
		}
		return -(mat.Dot(d, &w) + ch.LogDet()) / 2
	}
	none, seen := ln(Hypothesis{}), 0
	for i, h := range l.Hypotheses {
		if post.single[i] < 1e-9 {
			continue
		}
		seen++
		want := math.Log(h.Prior/pr.Nothing) + ln(h) - none
		if got := math.Log(post.single[i] / post.none); math.Abs(got-want) > 1e-5*(1+math.Abs(want)) {
			t.Errorf("%s %s %g: ln %.8f to nothing, want %.8f", h.Place, h.Class, h.Param, got, want)
		}
	}
	if seen < 3 {
		t.Errorf("only %d hypotheses are alive", seen)
	}
}

// It tells the gain between two meters: what is said of it lies as near to the truth as is
// said, and nearer than without.
func TestAResistorTellsTheGainBetweenTwoMeters(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(43)
	ls := built(r)
	p, s, pr, n := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return, DefaultNuisances()
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	s.Resistor = resistorBy(r, 0, 0, 0)
	none, off := [2]float64{}, [2]float64{}
	const times = 12
	for range times {
		gain := 0.005 * (2*r.Float64() - 1)
		b := otherBench()
		b.gainHalf = 0
		sweep := b.sweep(ls, volts, r, nil)
		for i := range sweep.Amps {
			sweep.Amps[i] *= 1 + gain
		}
		for k, now := range []*Resistor{nil, resistorBy(r, gain, 0, 0)} {
			d, err := lib.Diagnose(p, s, &Return{Sweep: sweep, DwellS: 4, Resistor: now},
				Options{Priors: &pr, Nuisances: &n})
			if err != nil {
				t.Fatal(err)
			}
			none[k] += (d.PNothing + d.PSlight) / times
			i := slices.IndexFunc(d.Fitted, func(f Fitted) bool { return f.What == "gain" })
			off[k] += math.Pow(d.Fitted[i].Value-gain, 2) / times
			if now != nil && slices.ContainsFunc(d.Next, func(x NextReading) bool { return x.Resistor }) {
				t.Error("asked for once more")
			}
		}
	}
	t.Logf("healthy: %.3f in the mean without, %.3f with; gain off by %.5f without, %.5f with", none[0], none[1],
		math.Sqrt(off[0]), math.Sqrt(off[1]))
	if none[1] <= none[0] || off[1] >= off[0] || math.Sqrt(off[1]) > 0.0015 {
		t.Error("it tells nothing")
	}
}

// Another resistor is none: what two meters can't differ by isn't put down to them.
func TestAnotherResistorIsNotCounted(t *testing.T) {
	r := testRand(44)
	s := &Signature{Resistor: resistorBy(r, 0, 0, 0)}
	other := *s.Resistor
	other.Amps *= 1.05
	n, why := DefaultNuisances().withResistor(s, &Return{Resistor: &other})
	if n.resistor != nil || !strings.Contains(why, "another resistor") {
		t.Errorf("%+v %q", n.resistor, why)
	}
	if n, why := DefaultNuisances().withResistor(&Signature{}, &Return{Resistor: &other}); n.resistor != nil ||
		why != "" {
		t.Error("one reading tells of two meters")
	}
}

// What to do next: where the gain between two meters hides what is wrong, the resistor of
// then tells more than none; of one meter against itself it tells next to nothing.
func TestAResistorIsWeighedLikeAReading(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(45)
	ls := built(r)
	p, s, pr := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	s.Resistor = resistorBy(r, 0, 0, 0)
	// Nobody heard its trace: which of two blinkers it is hangs on a hundredth of the draw.
	y := otherBench().sweep(ls, volts, r, nil, trueFault{"bl1", fault.StuckDark, 0}).Amps
	bits := func(n Nuisances) float64 {
		d, err := lib.Diagnose(p, s, &Return{Sweep: Curve{Volts: volts, Amps: y}, DwellS: 4},
			Options{Priors: &pr, Nuisances: &n})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range d.Next {
			if x.Resistor {
				return x.Bits
			}
		}
		return 0
	}
	other, same := bits(DefaultNuisances()), bits(DefaultNuisances().SameMeter())
	t.Logf("%.3f bits of another meter, %.3f of the same", other, same)
	if other < 2*leastBits || same != 0 {
		t.Error("the resistor isn't asked for where it tells most, or where it tells nothing")
	}
}

// Each range has a shunt of its own: a resistor counts for the range that the model was
// read in, by the same meter, and where enough flowed.
func TestAResistorIsReadAsTheModelWas(t *testing.T) {
	step := func(kind capture.Kind, meter, in string, amps float64) capture.StepRecord {
		at := time.Date(2026, 12, 1, 10, 0, 0, 0, time.UTC)
		r := capture.StepRecord{Step: capture.Step{Kind: kind, Volts: 12}, Stage: "delivered",
			Outcome: capture.Measured,
			Settled: at, Ended: at.Add(time.Minute),
			Instruments: map[string]instruments.Description{meterName: {Identity: meter, Ranges: []instruments.Range{
				{Name: "200 mA", Quantity: instruments.Current, Max: 0.2},
				{Name: "2 A", Quantity: instruments.Current, Max: 2}}}}}
		for k := range 6 {
			r.Readings = append(r.Readings, instruments.Reading{Instrument: meterName, Quantity: instruments.Current,
				At: at.Add(time.Duration(k+1) * time.Second), Value: &amps, Range: in, Status: instruments.OK})
		}
		return r
	}
	whole := step(capture.Whole, "a", "2 A", 0.4)
	for _, c := range []struct {
		what string
		r    capture.StepRecord
		kept bool
	}{{"as the model", step(capture.Resistor, "a", "2 A", 0.24), true},
		{"in another range", step(capture.Resistor, "a", "200 mA", 0.12), false},
		{"in one nobody knows", step(capture.Resistor, "a", "", 0.24), false},
		{"by another meter", step(capture.Resistor, "b", "2 A", 0.24), false},
		{"with the model on the clips", step(capture.Resistor, "a", "2 A", 0.401), false},
		{"without contact", step(capture.Resistor, "a", "2 A", 0.0001), false}} {
		s := &Signature{}
		s.keepResistor([]capture.StepRecord{whole, c.r}, []capture.StepRecord{whole}, Leads{})
		if (s.Resistor != nil) != c.kept || (len(s.Notes) == 0) != c.kept {
			t.Errorf("%s: %+v, %q", c.what, s.Resistor, s.Notes)
		}
	}
}

// Another resistor of the same marking is weighed: beside sums over all gains and over the three that it may
// be, which know nothing of how it's done. One that is off as far as a meter may be tells less of
// the meter, the further the less sure.
func TestAnotherOfTheSameMarkingIsWeighed(t *testing.T) {
	n := DefaultNuisances()
	then := Resistor{Volts: 12, Amps: 0.24, U: 5e-6}
	before := 0.0
	for _, off := range []float64{0, 0.002, 0.005, 0.007, 0.009} {
		now := then
		now.Amps *= 1 + off
		with, why := n.withResistor(&Signature{Resistor: &then}, &Return{Resistor: &now})
		k, ok := with.known()
		if !ok || why != "" {
			t.Fatalf("%g: %s", off, why)
		}
		x := *with.resistor
		long := math.Sqrt(k.a[0]*k.a[0] + k.a[1]*k.a[1] + k.a[2]*k.a[2])
		var sum, mean, square float64
		for s := -8.0; s <= 8; s += 1e-3 { // of what the meters differ by, in standard deviations
			for _, o := range []struct{ p, half float64 }{{0.95, 0}, {0.025, 0.01}, {0.025, 0.05}} {
				u := math.Sqrt(x.u*x.u + o.half*o.half*x.amps*x.amps*2/3)
				p := o.p * bell(s) * bell((x.d-long*s)/u) / u
				sum, mean, square = sum+p, mean+p*s, square+p*s*s
			}
		}
		mean, square = mean/sum, square/sum
		gotMean := (k.mean[0]*k.a[0] + k.mean[1]*k.a[1] + k.mean[2]*k.a[2]) / long
		gotSD := math.Abs(1 - k.c*long*long)
		wantSD := math.Sqrt(square - mean*mean)
		if math.Abs(gotMean-mean) > 1e-4 || math.Abs(gotSD-wantSD) > 1e-4 {
			t.Errorf("%.1f %% off: %.4f ± %.4f, want %.4f ± %.4f", 100*off, gotMean, gotSD, mean, wantSD)
		}
		if gotSD < before {
			t.Errorf("%.1f %% off: the meters are known to %.3f, better than nearer by (%.3f)", 100*off, gotSD, before)
		}
		before = gotSD
	}
}

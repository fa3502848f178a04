package stages_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
	"sealworthy/compare/stages"
	"sealworthy/instruments"
	"sealworthy/instruments/rig"
	"sealworthy/testdata/brackwater"
)

func planOf(t testing.TB, src []byte) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", src)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	return p
}

func brackwaterPlan(t testing.TB) *plan.Plan { return planOf(t, brackwater.Plan) }

// bench is one bench at one stage, with what it gets wrong. Invented, within
// what the instruments' accuracies state.
type bench struct {
	meter, supply string
	gain          float64 // of the meter's reading, fraction off
	accuracy      float64 // stated, fraction
	voltsOff      float64
	clipOhm       float64
	roomC         float64
	roomUnknown   bool
	onS           float64
}

func home() bench {
	return bench{meter: "meter 1", supply: "supply 1", accuracy: 0.001, roomC: 21, onS: 600}
}

// reading measures a model as a meter would: 30 s, means over 90 ms at uneven
// spacing, 0.02 mA of noise.
func reading(t testing.TB, p *plan.Plan, fs []fault.Fault, seed, noise uint64, stage string, b bench,
	o load.Options) stages.Reading {
	t.Helper()
	r := rand.New(rand.NewPCG(noise, 0x57a9e))
	o.AmbientC = &b.roomC
	o.JackOhm += b.clipOhm
	l, err := load.New(p, fs, seed, o)
	if err != nil {
		t.Fatal(err)
	}
	s := rig.State{Volts: 12 + b.voltsOff, On: make([]bool, len(l.Terminals()))}
	for i := range s.On {
		s.On[i] = true
	}
	x := stages.Reading{Stage: stage, Jack: "main", At: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), VoltsRead: true,
		Scene: scene.Scene{Volts: scene.Is(12), SetVolts: scene.Is(0.012)}, OnS: b.onS + 15, MeterName: "meter",
		Range: "1 A", WindowS: 0.09, Simulated: true,
		MeterIs: instruments.Description{Identity: b.meter,
			Ranges: []instruments.Range{{Name: "1 A", Quantity: instruments.Current, Max: 1, Resolution: 1e-5,
				Accuracy: instruments.Accuracy{OfReading: b.accuracy, Floor: 3e-5}}}},
		SupplyIs: instruments.Description{Identity: b.supply, SetAccuracy: instruments.Accuracy{Floor: 0.01}}}
	if !b.roomUnknown {
		x.Room = scene.Measured(&b.roomC)
	}
	const window, slices = 0.09, 30
	for at := 0.1; at < 30; at += window * (1 + 0.3*r.Float64()) {
		sum := 0.0
		for k := range slices {
			s.Since = time.Duration((b.onS + at - window*(float64(k)+0.5)/slices) * 1e9)
			sum += l.Current(s) / slices
		}
		x.Trace = append(x.Trace, blink.Sample{AtS: at, Amps: sum*(1+b.gain) + 2e-5*r.NormFloat64()})
	}
	if err := l.Err(); err != nil {
		t.Fatal(err)
	}
	return x
}

func comparer(t testing.TB, p *plan.Plan) *stages.Comparer {
	t.Helper()
	c, err := stages.New(p, rule.Rule{K: 3.29, Guard: 1.64}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func compared(t testing.TB, p *plan.Plan, before, now stages.Reading) stages.Change {
	t.Helper()
	ch, err := comparer(t, p).Compare(before, now)
	if err != nil {
		t.Fatal(err)
	}
	return ch
}

func faultOf(t testing.TB, p *plan.Plan, s string, seed uint64) fault.Fault {
	t.Helper()
	f, err := fault.Parse(p, s, rand.New(rand.NewPCG(seed, 1)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func fitsGroup(ch stages.Change, group string) bool {
	return slices.ContainsFunc(ch.Fits, func(f stages.Fit) bool { return f.Group == group })
}

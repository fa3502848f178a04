package sample_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/sample"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// pieces is a plan of three loose pieces, each on its own clip.
func pieces(t *testing.T, light, what string) *plan.Plan {
	t.Helper()
	src := "build = \"Loose\"\n[jack.main]\nvolts = 12.0\n[closure.bag]\n"
	for i := range 3 {
		src += "[[group]]\nname = \"" + what + " " + string(rune('1'+i)) +
			"\"\nclosure = \"bag\"\njoint = \"main\"\n" +
			"wire = { mm = 0.5, length_mm = 10 }\nlights = [ " + light + " ]\n"
	}
	p, problems := plan.Parse("pieces.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	return p
}

// clips is a maker who puts each piece between the clips.
type clips struct {
	t *testing.T
	b *rig.Bench
}

func (c clips) Show(capture.Event) {}
func (c clips) Ask(_ context.Context, q capture.Question) (capture.Answer, error) {
	if q.Kind == capture.AskClip {
		if err := c.b.Connect(q.Step.On...); err != nil {
			c.t.Error(err)
		}
	}
	return capture.Answer{Choice: "done"}, nil
}

type walk []capture.Step

func (w walk) Next(done []capture.StepRecord) (capture.Step, bool) {
	if len(done) >= len(w) {
		return capture.Step{}, false
	}
	return w[len(done)], true
}
func (walk) Recognise(capture.Step, float64, float64) (own capture.Fit, others []capture.Fit) {
	return own, nil
}
func (walk) Judge(capture.StepRecord) []capture.Said      { return nil }
func (walk) Remaining([]capture.StepRecord) time.Duration { return 0 }

// noRecord: what is learned of loose pieces is kept, not their readings.
type noRecord struct{}

func (noRecord) Append(instruments.Reading, capture.StepRef) error { return nil }
func (noRecord) Mark(capture.Mark) error                           { return nil }
func (noRecord) Sync() error                                       { return nil }
func (noRecord) Kept() uint64                                      { return 0 }

// measured runs the steps against a simulated bench with pieces on it.
func measured(t *testing.T, p *plan.Plan, s sample.Sampling, seed uint64) []capture.StepRecord {
	t.Helper()
	steps, err := sample.Steps(s)
	if err != nil {
		t.Fatal(err)
	}
	c := clock.NewSimulated(time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC))
	l, err := load.New(p, nil, seed, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := rig.New(context.Background(), c, l, rig.Options{Seed: seed, MemoryPorts: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Outside(func() { b.Close() })
	names := b.Ports()
	cfg := bench.Default()
	cfg.Supply = bench.Supply{Port: names.Supply, Profile: "scpi supply"}
	cfg.Meter = bench.Meter{Port: names.Meter, Profile: "scpi meter"}
	o, err := bench.Open(context.Background(), c, b.Opener(), cfg, bench.Overrides{})
	if err != nil {
		t.Fatal(err)
	}
	defer o.Close()
	recs, err := capture.Run(context.Background(), capture.Bench{Clock: c, Supply: o.Supply, Meter: o.Meter,
		SupplyName: "supply", MeterName: "meter"},
		walk(steps), clips{t, b}, noRecord{}, capture.Options{Stage: "loose", Rand: rand.New(rand.NewPCG(1, 2))})
	if err != nil {
		t.Fatal(err)
	}
	if out := b.Output(); out.On {
		t.Error("the output is still on")
	}
	return recs
}

func part(t *testing.T, name string) plan.Part {
	t.Helper()
	p, err := plan.Find(name)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Three pieces of a bag narrow its ±30 % to what they show; the learned current
// holds each of the pieces that were measured.
func TestSMDsFromABag(t *testing.T) {
	generic := part(t, "smd warm white 12 V")
	for seed := uint64(1); seed <= 3; seed++ {
		p := pieces(t, `{ part = "smd warm white 12 V", tolerance = 0.05 }`, "piece")
		s := sample.Sampling{Part: generic, Pieces: 3, Bench: sample.Bench{Window: 100 * time.Millisecond}}
		recs := measured(t, p, s, seed)
		got, err := sample.Learn(s, "warm SMD, bag of May", recs, "meter")
		if err != nil {
			t.Fatal(err)
		}
		if got.Pieces != 3 || len(got.Left) > 0 {
			t.Errorf("seed %d: %d pieces counted, left out %v", seed, got.Pieces, got.Left)
		}
		if math.Abs(got.Part.Amps/generic.Amps-1) > 0.06 {
			t.Errorf("seed %d: %.2f mA, the pieces lie within 5 %% of %.2f mA", seed, got.Part.Amps*1e3,
				generic.Amps*1e3)
		}
		if got.Part.Tolerance >= generic.Tolerance || got.Part.Tolerance < 0.002 {
			t.Errorf("seed %d: tolerance %.3f, generic %.3f", seed, got.Part.Tolerance, generic.Tolerance)
		}
		text, err := plan.EncodePart(got.Part)
		if err != nil {
			t.Fatal(err)
		}
		book, problems := plan.ParseBook("parts.toml", text)
		if len(problems) > 0 {
			t.Fatal(problems[0])
		}
		if back, err := book.Find(got.Part.Name); err != nil || math.Abs(back.Amps/got.Part.Amps-1) > 1e-4 {
			t.Errorf("read back %v, %v", back.Amps, err)
		}
	}
}

// Segments with a regulator are sampled like any: their current is learned, and the
// volts from which they hold it stay those of the part.
func TestSegmentsThatHoldTheirCurrent(t *testing.T) {
	generic := part(t, "strip constant current warm white 12 V")
	p := pieces(t, `{ part = "strip constant current warm white 12 V", segments = 1, tolerance = 0.05 }`, "segment")
	s := sample.Sampling{Part: generic, Pieces: 3, Bench: sample.Bench{Window: 100 * time.Millisecond}}
	got, err := sample.Learn(s, "held strip, reel 2", measured(t, p, s, 2), "meter")
	if err != nil {
		t.Fatal(err)
	}
	if got.Pieces != 3 || len(got.Left) > 0 {
		t.Errorf("%d pieces counted, left out %v", got.Pieces, got.Left)
	}
	if math.Abs(got.Part.Amps/generic.Amps-1) > 0.08 || got.Part.Tolerance >= generic.Tolerance {
		t.Errorf("%.2f mA ± %.1f %%, planned %.2f mA", got.Part.Amps*1e3, 100*got.Part.Tolerance, generic.Amps*1e3)
	}
	text, err := plan.EncodePart(got.Part)
	if err != nil {
		t.Fatal(err)
	}
	book, problems := plan.ParseBook("parts.toml", text)
	if len(problems) > 0 {
		t.Fatal(problems[0])
	}
	if back, err := book.Find(got.Part.Name); err != nil || back.HoldVolts != generic.HoldVolts {
		t.Errorf("holds from %g V, planned %g, %v", back.HoldVolts, generic.HoldVolts, err)
	}
}

// A bare LED's curve comes out as its part says, within its bin.
func TestBareLEDs(t *testing.T) {
	generic := part(t, "red 3 mm")
	p := pieces(t, `{ part = "red 3 mm", ohms = 1000, ohms_tolerance = 0.001 }`, "piece")
	s := sample.Sampling{Part: generic, Pieces: 3, Bench: sample.Bench{SeriesOhm: 1000, SeriesHalf: 1,
		Window: 100 * time.Millisecond}}
	got, err := sample.Learn(s, "red, bag 3", measured(t, p, s, 5), "meter")
	if err != nil {
		t.Fatal(err)
	}
	last := got.Part.Points[len(got.Part.Points)-1]
	want := generic.Points[len(generic.Points)-1]
	if math.Abs(last.Amps-0.010) > 0.0007 || math.Abs(last.Volts-want.Volts) > 0.25+generic.SpreadVolts {
		t.Errorf("top of the curve %.3f V at %.2f mA; the part says %.2f V at %.0f mA", last.Volts, last.Amps*1e3,
			want.Volts, want.Amps*1e3)
	}
	if len(got.Part.Points) < 4 {
		t.Errorf("%d points learned", len(got.Part.Points))
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name string
		s    sample.Sampling
		says string
	}{
		{"no resistor", sample.Sampling{Part: part(t, "red 3 mm"), Pieces: 1}, "put a resistor in series"},
		{"resistor too small", sample.Sampling{Part: part(t, "red 3 mm"), Pieces: 1,
			Bench: sample.Bench{SeriesOhm: 100}}, "ohm or more"},
		{"too many", sample.Sampling{Part: part(t, "smd warm white 12 V"), Pieces: 21}, "1 to 20"},
		{"too high", sample.Sampling{Part: part(t, "smd warm white 12 V"), Pieces: 1, Bench: sample.Bench{Volts: 14}},
			"would hurt it"},
		{"a board", sample.Sampling{Part: part(t, "single blinker"), Pieces: 1}, "only strips"},
	} {
		if _, err := sample.Steps(c.s); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
	}
}

func TestNothingIsLearnedFromDarkPieces(t *testing.T) {
	s := sample.Sampling{Part: part(t, "smd warm white 12 V"), Pieces: 1}
	steps, err := sample.Steps(s)
	if err != nil {
		t.Fatal(err)
	}
	var recs []capture.StepRecord
	for _, x := range steps {
		recs = append(recs, capture.StepRecord{Step: x, Outcome: capture.Tripped, Reason: "too much"})
	}
	if _, err := sample.Learn(s, "x", recs, "meter"); !errors.Is(err, sample.ErrNothing) {
		t.Errorf("%v", err)
	}
	if _, err := sample.Learn(s, " ", nil, "meter"); err == nil {
		t.Error("a part without a name was made")
	}
}

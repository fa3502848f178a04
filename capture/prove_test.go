package capture

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

// proofBench has clips that the face moves: open, together (through series
// ohms), or on a resistor.
type proofBench struct {
	*bench
	f      *face
	series float64
	ohm    float64
	state  string
}

func newProofBench(t *testing.T) *proofBench {
	p := &proofBench{series: 1.6, ohm: 1000, state: "open"}
	p.bench = newBench(t, func(v float64, _ []int, _ time.Duration) float64 {
		switch p.state {
		case "together":
			return v / p.series
		case "resistor":
			return v / (p.series + p.ohm)
		}
		return 0
	})
	p.f = &face{answer: func(q Question) (Answer, error) {
		if p.outputOn() {
			t.Errorf("asked with the output on: %s", q.Text)
		}
		switch {
		case strings.Contains(q.Text, "together"):
			p.state = "together"
		case strings.Contains(q.Text, "resistor"):
			p.state = "resistor"
		default:
			p.state = "open"
		}
		return Answer{Choice: "done"}, nil
	}}
	return p
}

// proofSupply reads the voltage back as it stands at the terminals.
type proofSupply struct {
	fakeSupply
	p *proofBench
}

func (s *proofSupply) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	r, err := s.fakeSupply.Read(ctx, q)
	if a, limiting := s.b.current(); err == nil && q == instruments.Voltage && limiting {
		v := a * s.p.series
		if s.p.state == "resistor" {
			v += a * s.p.ohm
		}
		r.Value = &v
	}
	return r, err
}

func (p *proofBench) Bench() Bench {
	b := p.bench.Bench()
	b.Supply = &proofSupply{fakeSupply{p.bench, "supply A"}, p}
	return b
}

func TestProve(t *testing.T) {
	for _, c := range []struct {
		name  string
		setup func(p *proofBench)
		want  string // in the warnings; "" is none
	}{
		{"good", func(p *proofBench) {}, ""},
		{"offset", func(p *proofBench) { p.offset = 0.0005 }, "set it to zero"},
		{"meter's fuse blown", func(p *proofBench) {
			p.load = func(float64, []int, time.Duration) float64 { return 0 }
		}, "fuse is blown"},
		{"meter beside the path", func(p *proofBench) { p.scale = 1e-9 }, "leads, jack and fuse first"},
		{"leads swapped", func(p *proofBench) { p.scale = -1 }, "leads are swapped"},
		{"bad clip", func(p *proofBench) { p.series = 14 }, "14.0 ohm"},
		{"unit ten off", func(p *proofBench) { p.scale = 10 }, "power of ten"},
		{"another resistor", func(p *proofBench) { p.ohm = 470 },
			"should draw 5.0 mA, the meter reads 10.0 mA: the supply is at its limit"},
		{"another, larger resistor", func(p *proofBench) { p.ohm = 1500 }, "another resistor"},
		{"open clips touch", func(p *proofBench) {
			p.load = func(v float64, _ []int, _ time.Duration) float64 { return v / p.series }
		}, "something connects them"},
		{"overload at 100 mA", func(p *proofBench) { p.overAt = 0.05 }, "overload at 100 mA"},
		{"meter reads a fifth more", func(p *proofBench) { p.scale = 1.2 }, "disagree"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newProofBench(t)
			c.setup(p)
			began := p.c.Now()
			proof, err := Prove(context.Background(), p.Bench(), p.f, ProveOptions{})
			if err != nil {
				t.Fatal(err)
			}
			p.mustOff()
			text := strings.Join(proof.Warnings, "\n")
			if (c.want == "") != (text == "") || !strings.Contains(text, c.want) {
				t.Errorf("warnings %q, want %q", text, c.want)
			}
			if len(p.f.kinds(Warning)) != len(proof.Warnings) {
				t.Error("not all that was found was shown")
			}
			if d := p.c.Now().Sub(began); d > 30*time.Second {
				t.Errorf("took %v", d)
			}
			if c.name != "good" {
				return
			}
			if !proof.Good() || math.Abs(proof.SeriesOhm-1.6) > proof.SeriesHalfWidth || proof.SeriesHalfWidth > 0.5 {
				t.Errorf("%+v", proof)
			}
			for _, l := range p.lines() {
				if strings.HasPrefix(l, "set") && l > "set 2.00 0.1000" && strings.HasPrefix(l, "set 2") {
					t.Errorf("clips together at more than 100 mA: %s", l)
				}
			}
		})
	}
}

func TestProveLeftOutIsNotProved(t *testing.T) {
	p := newProofBench(t)
	p.f.answer = func(q Question) (Answer, error) { return Answer{Choice: "skip"}, nil }
	proof, err := Prove(context.Background(), p.Bench(), p.f, ProveOptions{})
	if err != nil || proof.Good() || len(proof.Parts) != 0 {
		t.Errorf("%+v, %v", proof, err)
	}
	p.mustOff()
}

func TestProveByRelays(t *testing.T) {
	p := newProofBench(t)
	p.load = func(v float64, closed []int, _ time.Duration) float64 {
		for _, c := range closed {
			switch c {
			case 7:
				return v / p.series
			case 8:
				return v / (p.series + p.ohm)
			}
		}
		return 0
	}
	b := p.Bench()
	b.Relays, b.Channels = &fakeRelays{p.bench}, map[string]int{"nav lights": 1}
	proof, err := Prove(context.Background(), b, Unattended{}, ProveOptions{Together: []int{7}, Resistor: []int{8}})
	if err != nil || !proof.Good() {
		t.Errorf("%+v, %v", proof, err)
	}
	p.mustOff()
}

// What a hand laid between the clips stays there where relays switch the feeds:
// no step asks for a clip, so the proof has it taken away.
func TestProveTakesTheResistorAway(t *testing.T) {
	p := newProofBench(t)
	b := p.Bench()
	b.Relays, b.Channels = &fakeRelays{p.bench}, map[string]int{"nav lights": 1}
	answer := p.f.answer
	var asked []string
	p.f.answer = func(q Question) (Answer, error) {
		asked = append(asked, q.Text)
		if strings.HasPrefix(q.Text, "Take away") {
			return Answer{Choice: "done"}, nil
		}
		return answer(q)
	}
	if _, err := Prove(context.Background(), b, p.f, ProveOptions{}); err != nil {
		t.Fatal(err)
	}
	if n := len(asked); n == 0 || !strings.HasPrefix(asked[n-1], "Take away what lies between the clips") {
		t.Errorf("asked %q", asked)
	}
	p.mustOff()
}

func TestProveStopAndPanic(t *testing.T) {
	p := newProofBench(t)
	p.f.answer = func(q Question) (Answer, error) { return Answer{Choice: "stop"}, nil }
	_, err := Prove(context.Background(), p.Bench(), p.f, ProveOptions{})
	wantErr(t, err, ErrStopped)
	p.mustOff()
	p = newProofBench(t)
	p.meterFails = func(int) error { panic("driver") }
	_, err = Prove(context.Background(), p.Bench(), p.f, ProveOptions{})
	wantPanic(t, nil, err)
	p.mustOff()
}

// lowGuarded is a supply with a protection of its own, which a test before has left low.
type lowGuarded struct {
	*proofSupply
	amps  float64 // above it the protection trips
	limit float64 // that was set last
}

func (g *lowGuarded) Protect(_ context.Context, _, amps float64) error { g.amps = amps; return nil }

func (g *lowGuarded) Set(ctx context.Context, volts, limitA float64) error {
	g.limit = limitA
	return g.proofSupply.Set(ctx, volts, limitA)
}

func (g *lowGuarded) On(ctx context.Context) error {
	if g.limit > g.amps {
		return errors.New("its protection has tripped")
	}
	return g.proofSupply.On(ctx)
}

// What the test before left as the supply's own protection doesn't trip in a proof, whose
// clips together draw more than a small group.
func TestProofIsProtectedAnew(t *testing.T) {
	p := newProofBench(t)
	b := p.Bench()
	g := &lowGuarded{proofSupply: b.Supply.(*proofSupply), amps: 0.03}
	b.Supply = g
	got, err := Prove(context.Background(), b, p.f, ProveOptions{})
	if err != nil || !got.Good() {
		t.Errorf("%v: %+v", err, got.Warnings)
	}
	if g.amps < proveResistorV/1000 || g.amps > 0.1 {
		t.Errorf("at the end it trips at %g A", g.amps)
	}
}

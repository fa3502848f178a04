package budget

import (
	"testing"

	"sealworthy/compare/reel"
)

// A plan of 12 groups and 120 branches: the whole budget, and one ramp.
func BenchmarkOf(b *testing.B) {
	p := lightship()
	at := At{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1, Meter: &Accuracy{OfReading: 0.005}}
	b.ReportAllocs()
	for b.Loop() {
		of(b, p, at)
	}
}

func BenchmarkCurve(b *testing.B) {
	bud := of(b, lightship(), At{})
	volts := []float64{3, 4, 5, 6, 7, 8, 9, 10, 11, 12}
	for b.Loop() {
		if _, err := bud.Curve("strip 1", volts...); err != nil {
			b.Fatal(err)
		}
	}
}

// One trial of everything that is read alone at the meter.
func BenchmarkTrial(b *testing.B) {
	m := &model{p: lightship(), at: At{}.filled(), seed: 1}
	if err := m.choose(); err != nil {
		b.Fatal(err)
	}
	s, err := newSide(m.p, 0, m.at)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := m.addFeeds(s, m.p.Jacks[0]); err != nil {
		b.Fatal(err)
	}
	smp := newSampler(s.law, 1)
	dev, out := make([]float64, s.law.inputs), make([]float64, s.outs)
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		smp.draw(i, dev)
		if err := s.eval(dev, out); err != nil {
			b.Fatal(err)
		}
	}
}

// One group of twelve, with what eleven others have told, each left out in
// turn: what a judge asks for every group. "learn" is the learning alone.
func BenchmarkOneLearned(b *testing.B) {
	p := lightship()
	at := At{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1, Meter: &Accuracy{OfReading: 0.005}, FeedsOnly: true}
	var obs []reel.Observation
	for _, g := range of(b, p, at).Groups {
		obs = append(obs, reel.Observation{Group: g.Group, Volts: 12, AmpsA: 0.97 * g.Lit.MeanA, UA: 0.0005 * g.Lit.MeanA, GainU: 0.003,
			ExpectedA: g.Lit.MeanA, PHealthy: 1, SeriesOhm: 1.9, SeriesHalfOhm: 0.1})
	}
	b.Run("prepare", func(b *testing.B) {
		for b.Loop() {
			if _, err := reel.Prepare(p, obs, reel.Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	l, err := reel.Prepare(p, obs, reel.Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Run("without", func(b *testing.B) {
		for b.Loop() {
			l.Without("cabin")
		}
	})
	for _, name := range []string{"strip 1", "cabin", "beacon"} {
		at.Terminals = []string{name}
		b.Run("nothing learned/"+name, func(b *testing.B) {
			at.Learned = nil
			for b.Loop() {
				of(b, p, at)
			}
		})
		b.Run("learned/"+name, func(b *testing.B) {
			at.Learned = l.Without(name)
			for b.Loop() {
				of(b, p, at)
			}
		})
	}
}

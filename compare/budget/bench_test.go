package budget

import (
	"sealworthy/compare/scene"
	"testing"
)

// A plan of 12 groups and 120 branches: the whole budget, and one ramp.
func BenchmarkOf(b *testing.B) {
	p := lightship()
	at := At{Scene: scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1,
		Accuracy: &scene.Accuracy{OfReading: 0.005}}}
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

package returns

import (
	"math/rand/v2"
	"testing"

	"sealworthy/compare/fault"
)

// How noisy a sweep is it says itself: what is assumed of the noise comes down for a
// quiet one, goes up for a restless one, with a fault or without, and stays for the
// first reading, which scatters about nothing.
func TestASweepTellsItsOwnNoise(t *testing.T) {
	volts := grid(2, 12.5, 0.5)
	p := populations(t, 1, rand.New(rand.NewPCG(5, 1)), volts)[0]
	pr, n := fault.DefaultPriors().Return, DefaultNuisances()
	n.ShapeRel = shapeRel
	dark := p.lib.Hypotheses[0].DeltaA
	settled := func(l *Library, by float64, delta []float64) Nuisances {
		r := rand.New(rand.NewPCG(6, 2))
		noise := func(n Nuisances) []float64 { return l.noise(n, 4, nil) }
		y := added(scaled(1.002, l.HealthyA), delta)
		for i, u := range noise(n) {
			y[i] += by * u * r.NormFloat64()
		}
		out, err := l.settle(y, noise, n, pr, nothingKnown())
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	for _, delta := range [][]float64{make([]float64, len(volts)), dark} {
		quiet, as, restless := settled(p.lib, 0.2, delta), settled(p.lib, 1, delta), settled(p.lib, 2, delta)
		if quiet.NoiseBy > 0.5 || as.NoiseBy < 0.6 || as.NoiseBy > 1.5 || restless.NoiseBy < 1.5 {
			t.Errorf("noise of a fifth counts %.2f, as assumed %.2f, of twice %.2f", quiet.NoiseBy, as.NoiseBy,
				restless.NoiseBy)
		}
		if quiet.ShapeRel > n.ShapeRel {
			t.Errorf("sensitivities that are right are taken to be off by %.3f, not %.3f", quiet.ShapeRel, n.ShapeRel)
		}
	}
	one := p.lib.only([]int{len(volts) - 2})
	if x := settled(one, 1, []float64{0}); x.NoiseBy < 0.8 || x.NoiseBy > 1.3 {
		t.Errorf("after one reading its noise counts %.2f", x.NoiseBy)
	}
}

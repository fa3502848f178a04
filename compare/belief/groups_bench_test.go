package belief

import (
	"fmt"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/scene"
)

// BenchmarkTogether is what weighing groups of one reel together costs.
func BenchmarkTogether(b *testing.B) {
	for _, n := range []int{3, 10, 30} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			segments := make([]int, n)
			for i := range segments {
				segments[i] = 6 + i%4
			}
			p := reelOfStrips(0.10, 0.5, segments...)
			var ms []Measured
			for i, g := range p.Groups {
				e, err := New(p, []string{g.Name}, []float64{12}, scene.Scene{}, Options{})
				if err != nil {
					b.Fatal(err)
				}
				ms = append(ms, Measured{Ensemble: e,
					Readings: []Reading{{Volts: 12, Amps: (1 + 0.01*float64(i%5-2)) * e.HealthyA[0], U: 1e-5,
						GainU: 0.002}}})
			}
			for b.Loop() {
				if _, err := Together(p, ms, fault.DefaultPriors().Common); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

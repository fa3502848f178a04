package blink

import (
	"math/rand/v2"
	"testing"
)

// prototypeScanMs is what a throw-away scan alone of 300 readings took, on one
// core of the machine that the error rates were first measured on.
const prototypeScanMs = 53.0

func threeHundred(at func(float64) float64) ([]Sample, Known) {
	k := taking{10, 0.09, 0.1, 30, 0.005, 0.0002}
	l := newLight(1.63, 0.001, 0.020, at)
	return k.read(rand.New(rand.NewPCG(1, 2)), l.mean), k.known()
}

func benchmarkPace(b *testing.B, at func(float64) float64, shape Shape, count int) {
	s, k := threeHundred(at)
	b.ReportAllocs()
	for b.Loop() {
		if f := Pace(s, k); f.Verdict != Periodic || f.Shape != shape || f.Count != count {
			b.Fatal(f.Verdict, f.Shape, f.Count)
		}
	}
	ms := 1000 * b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(ms, "ms/fit")
	b.ReportMetric(ms/prototypeScanMs, "of-prototype-scan")
}

// BenchmarkPace fits 300 readings of an ordinary blinker.
func BenchmarkPace(b *testing.B) { benchmarkPace(b, rectangle(0.35), Flashes, 1) }

// BenchmarkPaceDouble has to try the richer shapes as well.
func BenchmarkPaceDouble(b *testing.B) { benchmarkPace(b, group(2, 0.10, 0.22), Flashes, 2) }

// BenchmarkPaceTriple tries two flashes in vain first.
func BenchmarkPaceTriple(b *testing.B) { benchmarkPace(b, group(3, 0.10, 0.22), Flashes, 3) }

func BenchmarkPaceSine(b *testing.B) { benchmarkPace(b, sineFade, Sine, 0) }

func BenchmarkPaceRamp(b *testing.B) { benchmarkPace(b, rampFade(0.2), Ramp, 0) }

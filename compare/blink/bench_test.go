package blink

import (
	"testing"
	"time"
)

// prototypeScanMs is what a throw-away scan alone of 300 readings took, on one
// core of the machine that the error rates were first measured on.
const prototypeScanMs = 53.0

func threeHundred(at func(float64) float64) ([]Sample, Known) {
	k := taking{10, 0.09, 0.1, 30, 0.005, 0.0002}
	l := newLight(1.63, 0.001, 0.020, at)
	return k.read(seeded(1, 2), l.mean), k.known()
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

// BenchmarkScan fills the Gram matrix of all edges at one pace, and does it
// the plain way too: every edge's response at every reading.
func BenchmarkScan(b *testing.B) {
	s, k := threeHundred(rectangle(0.35))
	d, _ := newTrace(s, k, leastFree)
	const hz = 1.1
	plain := func(resp []float64, gram []float64) {
		span := d.window * hz
		for i, t := range d.t {
			for e := range scanEdges {
				x := t*hz - float64(e)/scanEdges
				resp[i*scanEdges+e] = (sawtooth(x) - sawtooth(x-span)) / span
			}
		}
		for e := range scanEdges {
			for g := 0; g <= e; g++ {
				sum := 0.0
				for i := range d.t {
					sum += resp[i*scanEdges+e] * resp[i*scanEdges+g]
				}
				gram[e*scanEdges+g] = sum
			}
		}
	}
	resp, gram := make([]float64, len(d.t)*scanEdges), make([]float64, scanEdges*scanEdges)
	sc := newScanner(d, scanEdges)
	b.ReportAllocs()
	var ours, theirs time.Duration
	for b.Loop() {
		from := time.Now()
		for range 50 {
			sc.prepare(hz)
		}
		between := time.Now()
		for range 50 {
			plain(resp, gram)
		}
		ours += between.Sub(from)
		theirs += time.Since(between)
	}
	b.ReportMetric(float64(ours.Nanoseconds())/float64(50*b.N), "ns/pace")
	b.ReportMetric(float64(theirs)/float64(ours), "plain/ours")
}

// BenchmarkPaceNone reads two blinkers at once: everything is tried in vain.
func BenchmarkPaceNone(b *testing.B) {
	k := taking{10, 0.09, 0.1, 30, 0.005, 0.0002}
	one, two := newLight(0.83, 0.001, 0.012, rectangle(0.4)), newLight(1.47, 0, 0.009, rectangle(0.3))
	s := k.read(seeded(1, 3), func(at, w float64) float64 { return one.mean(at, w) + two.mean(at, w) })
	b.ReportAllocs()
	for b.Loop() {
		if f := Pace(s, k.known()); f.Verdict != NoFit {
			b.Fatal(f.Verdict)
		}
	}
	b.ReportMetric(1000*b.Elapsed().Seconds()/float64(b.N), "ms/fit")
}

// BenchmarkMatch compares 300 readings with the pace planned.
func BenchmarkMatch(b *testing.B) {
	s, k := threeHundred(rectangle(0.35))
	for b.Loop() {
		if m := Match(s, k, Pattern{PeriodS: 1.6, Duty: 0.33}, planned(0.020, 0.001)); m.Agreement != Agrees {
			b.Fatal(m.Agreement)
		}
	}
	b.ReportMetric(1000*b.Elapsed().Seconds()/float64(b.N), "ms/fit")
}

package blink

import (
	"math"
	"math/rand/v2"
	"os"
	"strconv"
)

// seeded is the randomness of one trial. SEALWORTHY_SEED shifts all of it, for
// a run on populations that no limit was ever set by.
func seeded(set, trial uint64) *rand.Rand {
	shift, _ := strconv.ParseUint(os.Getenv("SEALWORTHY_SEED"), 10, 31)
	return rand.New(rand.NewPCG(set+shift<<32, trial))
}

// light is a simulated light: the current at an instant is exact, and its
// integral is taken on a fine grid, by other code than the fits use.
type light struct {
	period float64
	at     func(phase float64) float64 // 0..1 over one period
	off    float64
	on     float64
	table  []float64 // running integral over one period, from phase 0
}

const fine = 20000

func newLight(period, off, on float64, at func(float64) float64) *light {
	l := &light{period: period, at: at, off: off, on: on, table: make([]float64, fine+1)}
	for i := range fine {
		l.table[i+1] = l.table[i] + at((float64(i)+0.5)/fine)/fine
	}
	return l
}

func (l *light) integral(t float64) float64 {
	x := t / l.period
	n := math.Floor(x)
	f := (x - n) * fine
	i := min(int(f), fine-1)
	return l.period * (n*l.table[fine] + l.table[i] + (f-float64(i))*(l.table[i+1]-l.table[i]))
}

// mean is the mean current over the window that ends at t.
func (l *light) mean(t, window float64) float64 {
	return l.off + (l.on-l.off)*(l.integral(t)-l.integral(t-window))/window
}

func rectangle(duty float64) func(float64) float64 {
	return func(x float64) float64 {
		if x < duty {
			return 1
		}
		return 0
	}
}

// group is n flashes of a given length and spacing, fractions of the period.
func group(n int, lit, spacing float64) func(float64) float64 {
	return func(x float64) float64 {
		for i := range n {
			if from := float64(i) * spacing; x >= from && x < from+lit {
				return 1
			}
		}
		return 0
	}
}

func sineFade(x float64) float64 { return (1 - math.Cos(2*math.Pi*x)) / 2 }

func rampFade(rise float64) func(float64) float64 {
	return func(x float64) float64 {
		if x < rise {
			return x / rise
		}
		return (1 - x) / (1 - rise)
	}
}

// taking is how a meter reads.
type taking struct {
	rate, window, spread, span float64 // readings/s, s, fraction of 1/rate, s
	stampStd, noise            float64 // s, A
}

// read takes readings of a current whose mean over a window is known.
func (k taking) read(r *rand.Rand, mean func(t, window float64) float64) []Sample {
	var out []Sample
	t := 1 + r.Float64()
	for end := t + k.span; t < end; {
		out = append(out, Sample{t + k.stampStd*r.NormFloat64(), mean(t, k.window) + k.noise*r.NormFloat64()})
		t += (1 + k.spread*(2*r.Float64()-1)) / k.rate
	}
	return out
}

func (k taking) known() Known {
	return Known{WindowS: k.window, StampStdS: k.stampStd, NoiseA: k.noise}
}

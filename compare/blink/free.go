package blink

import (
	"fmt"
	"math"
)

// Limits of taking outputs apart that run free of each other.
const (
	apartShare = 0.6  // of the trace in which their edges must be told apart
	edgeMargin = 0.02 // of a period, beside window and tolerance
	widestZone = 0.4  // of a period, either side: hardly anything is left of it
	leastTurns = 8.0  // periods of a trace in any case
	mostTurns  = 1e5
)

// coincidence is how near in phase, in periods, two outputs are taken for one
// step: within the window, an edge of one can't be told from one of the other,
// and within the tolerance of the duty they can trade their edges.
func (e *expected) coincidence(window float64) float64 {
	return e.tol.DutyAbs + window/e.period + edgeMargin
}

// apartFor returns the share of turns from phase difference first on, drifting
// by drift in all, in which the difference is beyond a zone either side of zero.
func apartFor(first, drift, zone float64) float64 {
	// The time within the zone is an integral over whole and broken turns.
	inside := func(x float64) float64 {
		n := math.Floor(x + 0.5)
		f := x - n // -0.5 to 0.5
		return n*2*zone + math.Max(math.Min(f, zone), -zone)
	}
	if math.Abs(drift) < 1e-9 {
		if math.Abs(first-math.Round(first)) > zone {
			return 1
		}
		return 0
	}
	return 1 - (inside(first+drift)-inside(first))/drift
}

// parts reports whether a phase difference that starts and drifts like this
// lets two outputs be told apart: they keep out of each other's way for most
// of the trace, or they go once round.
func parts(first, drift, zone float64) bool {
	return math.Abs(drift) >= 1 || apartFor(first, drift, zone) >= apartShare
}

// apart reports whether two outputs of the same kind can be told apart.
func (d *trace) apart(p, q timing, e *expected) bool {
	first, last := d.t[0], d.t[len(d.t)-1]
	at := func(t float64) float64 { return (p.hz-q.hz)*t - p.phase + q.phase }
	from := at(first)
	return parts(from, at(last)-from, e.coincidence(d.window))
}

// inStep reports whether one of the steps found may be that of several outputs
// lit at the same moments: where a sum of expected draws explains it about as
// well as a single one, outputs that weren't found may run all the same.
func (o *Outputs) inStep(steps []float64) bool {
	for _, x := range steps {
		one, several := math.Inf(1), math.Inf(1)
		for set := 1; set < 1<<len(o.ExpectedA); set++ {
			sum, count := 0.0, 0
			for i, a := range o.ExpectedA {
				if set&(1<<i) != 0 {
					sum += a
					count++
				}
			}
			if sum <= 0 {
				continue
			}
			off := (x - sum) / (drawSpread * sum)
			if count == 1 {
				one = math.Min(one, off*off)
			} else {
				several = math.Min(several, off*off)
			}
		}
		if several-one < wayMargin {
			return true
		}
	}
	return false
}

// PartingS returns how long, in seconds, a trace must be so that outputs which
// run free of each other can be separated by [Levels] in the given share of
// boards (0 to 1, 0.9 is usual), from what is planned alone: each output's
// period may lie anywhere within its tolerance, and they start at any phase.
// Outputs whose periods happen to be equal never part, so a share of 1 can't
// be reached: the answer is then 0 with the reason. Windows are those of k.
func PartingS(k Known, o Outputs, share float64) (seconds float64, why string) {
	e, why := o.Pattern.expected(o.Tolerance)
	if why != "" {
		return 0, why
	}
	n := max(len(o.ExpectedA), 2)
	if n > maxOutputs {
		return 0, fmt.Sprintf("%d outputs: at most %d can be separated", n, maxOutputs)
	}
	if !finite(share) || share <= 0 || share >= 1 {
		return 0, "give the share of boards as a number between 0 and 1"
	}
	window := math.Max(positive(k.WindowS, leastWindowS), leastWindowS)
	zone := e.coincidence(window)
	if zone >= widestZone {
		return 0, "the meter's window and the tolerance of the duty are too wide beside the period: read faster, or " +
			"measure the outputs one at a time"
	}
	// Every pair must part; pairs are taken as unrelated.
	pairs := float64(n * (n - 1) / 2)
	want := math.Pow(share, 1/pairs)
	low, high := leastTurns, leastTurns
	for e.parted(high, zone) < want {
		if low, high = high, 2*high; high > mostTurns {
			return 0, "no trace of a useful length parts so many of them: measure the outputs one at a time"
		}
	}
	for range 20 {
		if mid := (low + high) / 2; e.parted(mid, zone) < want {
			low = mid
		} else {
			high = mid
		}
	}
	return high*e.period + window, ""
}

// parted is the share of pairs that a trace of so many periods parts: the
// difference of two rectangular distributions is triangular.
func (e *expected) parted(turns, zone float64) float64 {
	const steps = 100
	sum, all := 0.0, 0.0
	for i := range steps {
		x := (float64(i) + 0.5) / steps // of the greatest difference
		drift := x * 2 * e.tol.PeriodRel * turns
		good := 0
		for j := range steps {
			if parts(float64(j)/steps, drift, zone) {
				good++
			}
		}
		sum += (1 - x) * float64(good) / steps
		all += 1 - x
	}
	return sum / all
}

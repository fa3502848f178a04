package fault

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/circuit"
	"sealworthy/compare/wiring"
)

// RampPoint is one voltage on the way up and what was allowed there.
type RampPoint struct {
	Volts float64 // V, as set
	MaxA  float64
}

// Trip ranks what stopped a ramp at its point number at (from 0): a fault is
// likely as far as it would have passed the points before and not this one. How
// much flowed says little, for the supply held it back. Every part counts at
// its nominal value; that a knee lies a point off is allowed for. The list
// holds classes of look-alike faults, likeliest first, and leaves an unknown
// cause out. w is changed and reset.
func Trip(w *wiring.Wired, group string, ramp []RampPoint, at int, pr Priors) ([]Ranked, error) {
	gi := w.Plan.GroupAt(group)
	if gi < 0 || at < 0 || at >= len(ramp) {
		return nil, fmt.Errorf("no group %q in the plan, or no point %d in its ramp", group, at+1)
	}
	weights := map[Kind]float64{}
	points := map[Kind]int{}
	first := map[Kind]Fault{}
	places := map[Kind]int{}
	total := pr.Unknown / float64(len(ramp))
	healthy := len(ramp) // where the group itself would stop the ramp: a limit set by a thin wire
	if k, ok := stopsAt(w, gi, nil, ramp); ok {
		healthy = k
	}
	turns := w.Plan.Groups[gi].Board != "" && blinks(w.Plan, w.Plan.Groups[gi].Board)
	for _, f := range Possible(w.Plan, w.Plan.Groups[gi]) {
		k, ok := stopsAt(w, gi, &f, ramp)
		if !ok || k >= healthy {
			continue
		}
		d := float64(k - at)
		if turns && k < at {
			d = 0 // its output may have been dark so far
		}
		weight := pr.Fault.In(w.Plan.Groups[gi], f) * math.Exp(-d*d/(2*tripSpread*tripSpread))
		if weights[f.Kind] == 0 || weight > weights[f.Kind]/float64(max(places[f.Kind], 1)) {
			first[f.Kind], points[f.Kind] = f, k
		}
		weights[f.Kind] += weight
		places[f.Kind]++
		total += weight
	}
	w.Reset()
	var out []Ranked
	add := func(ks ...Kind) {
		x := 0.0
		for _, k := range ks {
			x += weights[k]
			delete(weights, k)
		}
		if x > 0 {
			out = append(out, Ranked{Fault: first[ks[0]], Kinds: ks, Places: places[ks[0]], P: x / total})
		}
	}
	if resistorsAlike(weights, first, points) {
		add(MissingOhms, DecadeOff)
	}
	if ramp[at].Volts <= noLEDVolts && weights[Short] > 0 && weights[ShortedLED] > 0 {
		add(Short, ShortedLED) // either is solder where none should be
	}
	for k := range weights {
		add(k)
	}
	slices.SortFunc(out, func(a, b Ranked) int {
		return cmp.Or(-cmp.Compare(a.P, b.P),
			cmp.Compare(a.Fault.Kind, b.Fault.Kind))
	})
	return out, nil
}

// resistorsAlike: a resistor that is missing and one ten times too small stop
// the ramp next to each other, nearer than knees scatter.
func resistorsAlike(weights map[Kind]float64, first map[Kind]Fault, points map[Kind]int) bool {
	if weights[MissingOhms] == 0 || weights[DecadeOff] == 0 || first[DecadeOff].Factor > 1 {
		return false
	}
	d := points[MissingOhms] - points[DecadeOff]
	return d >= -1 && d <= 1
}

// noLEDVolts is below the forward voltage of any LED (common practice, no source):
// what flows there, at the limit of the supply, flows through no LED.
const noLEDVolts = 1.5

// tripSpread is by how many points of a ramp the knee of a part may be off.
const tripSpread = 0.6

// stopsAt is the first point of a ramp at which a fault, or nil for none, draws
// more than allowed.
func stopsAt(w *wiring.Wired, gi int, f *Fault, ramp []RampPoint) (int, bool) {
	w.Reset()
	if f != nil && Apply(w, *f) != nil {
		return 0, false
	}
	w.Alone(gi)
	for k, p := range ramp {
		if w.Solve(circuit.Source{EmfV: p.Volts}) != nil {
			return 0, false
		}
		if w.JackAmps(w.Point) > p.MaxA {
			return k, true
		}
	}
	return 0, false
}

package returns

import (
	"maps"
	"math"
	"slices"
	"time"

	"sealworthy/compare/plan"
)

// What a year of service does to the volts of an LED at service voltage: judgement, no source.
// That its series resistance grows is common in the papers on it, how fast isn't: makes have 0.5
// to 30 ohm, 10 to 600 mV, and one of them may take years for what another does in one. Hours
// count, not years; a model that is lit on Sundays has few.
const (
	agedPerYear = 0.003 // V, of all in the mean
	agePerYear  = 0.003 // V, by which all may have more or less
	makePerYear = 0.004 // V, by which one make may
	firstHoursV = 0.002 // V, either way: an LED settles
	usualYears  = 5.0   // where dates don't tell
	mostYears   = 30.0  // more is a clock that isn't set
)

// yearsBetween is how long a model was away by both clocks, usualYears where one of them was
// hardly set.
func yearsBetween(then, now time.Time) float64 {
	y := now.Sub(then).Hours() / (24 * 365.25)
	if then.IsZero() || now.IsZero() || y < 0 || y > mostYears {
		return usualYears
	}
	return y
}

// after is what is not known after so many years.
func (n Nuisances) after(years float64) Nuisances {
	n.AgedV = agedPerYear * years
	n.AgeV = math.Hypot(firstHoursV, agePerYear*years)
	n.AgeMakeV = math.Hypot(firstHoursV, makePerYear*years)
	return n
}

// aged is how a sweep answers to LEDs that have aged: each drops a volt more at service voltage,
// in proportion to its draw, as through a series resistance that has grown. All of them age,
// but not alike: those of one make have it in common, whichever group they are in; a bad joint
// stands in one place.
func (l *Library) aged() (all []float64, makes [][]float64) {
	all = make([]float64, len(l.Volts))
	of := map[string][]float64{}
	for _, g := range l.groups {
		if !(g.topA > 0) {
			continue
		}
		for _, name := range slices.Sorted(maps.Keys(g.leds)) {
			leds := g.leds[name]
			more := make([]float64, len(l.Volts))
			for i := range more {
				more[i] = -leds * g.slopeA[i] * g.amps[i] / g.topA
			}
			all = added(all, more)
			if was, ok := of[name]; ok {
				more = added(was, more)
			}
			of[name] = more
		}
	}
	for _, name := range slices.Sorted(maps.Keys(of)) {
		makes = append(makes, of[name])
	}
	return all, makes
}

// ledsByMake is how many LEDs of each make lie in series, in the mean of its branches; of
// what the plan doesn't know one for each 2 V of its turn-on voltage, of a make of its own.
func (b *builtGroup) ledsByMake(volts []float64) map[string]float64 {
	out, branches := map[string]float64{}, 0
	for _, l := range b.g.Lights {
		branches += l.Branches()
	}
	for _, l := range b.g.Lights {
		for k := range l.Series {
			out[makeOf(l, k)] += float64(l.Branches()) / float64(branches)
		}
	}
	if len(out) == 0 {
		out[b.g.Name] = math.Max(1, kneeOf(volts, b.amps)/2)
	}
	return out
}

// makeOf names the make of an LED in a light: its own part where LEDs are soldered, else
// that which it is sold in.
func makeOf(l plan.Light, k int) string {
	if l.Kind == plan.LEDs {
		return l.Series[k].Part
	}
	return l.Part + " / " + l.Series[k].Part
}

package returns

import (
	"maps"
	"math"
	"slices"

	"sealworthy/compare/plan"
)

// aged is what years of service make of LEDs: each drops some volts more, in proportion to
// its draw, as through a series resistance that has grown. All of them age, but not alike:
// makes have 0.5 to 30 ohm in series, 10 to 600 mV at service voltage, and what grows by a
// tenth over some years (invented, no source) grows by 1 mV in one and by 60 in another,
// 20 mV in the mean square. All LEDs of one make have it in common, whichever group they
// are in: a bad joint stands in one place.
func (l *Library) aged(n Nuisances) []nuisance {
	var out []nuisance
	all := make([]float64, len(l.Volts))
	makes := map[string][]float64{}
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
			if was, ok := makes[name]; ok {
				more = added(was, more)
			}
			makes[name] = more
		}
	}
	if n.AgeV > 0 {
		out = append(out, nuisance{"age", scaled(n.AgeV, all)})
	}
	if n.AgeMakeV > 0 {
		for _, name := range slices.Sorted(maps.Keys(makes)) {
			out = append(out, nuisance{"", scaled(n.AgeMakeV, makes[name])})
		}
	}
	return out
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

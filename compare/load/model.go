package load

import (
	"math"
	"math/rand/v2"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// bend is by how much the diode law of each kind of LED differs from the one
// that the plan's points give.
type bend struct {
	r  *rand.Rand
	of map[string]float64
}

func newBend(r *rand.Rand) *bend { return &bend{r: r, of: map[string]float64{}} }

// apply bends every diode about its voltage at the highest current of its curve.
func (b *bend) apply(w *wiring.Wired) {
	for gi, g := range w.Groups {
		for _, br := range g.Branches {
			series := w.Plan.Groups[gi].Lights[br.Light].Series
			for k := range w.Net.LEDs(br.ID) {
				if k >= len(series) {
					continue
				}
				w.Net.SetLEDDiode(br.ID, k, b.bent(w.Net.LED(br.ID, k).Diode, series[k]))
			}
		}
	}
}

func (b *bend) bent(d circuit.Diode, led plan.LED) circuit.Diode {
	f, ok := b.of[led.Part]
	if !ok {
		f = 1 + 0.08*(2*b.r.Float64()-1)
		b.of[led.Part] = f
	}
	amps := 0.02
	if n := len(led.Points); n > 0 && led.Points[n-1].Amps > 0 {
		amps = led.Points[n-1].Amps
	}
	v := d.VoltsAt(amps) - amps*d.SeriesOhm - d.ShiftV // temperature shifts it once, in out
	out := d
	out.SlopeV = d.SlopeV * f
	// The same junction voltage at amps: I = Is (exp(v/slope) - 1).
	out.SaturationA = amps / math.Expm1(v/out.SlopeV)
	return out
}

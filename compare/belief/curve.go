package belief

import (
	"math"

	"sealworthy/compare/fault"
)

// mostDecades bounds how far below its known current a curve is followed.
const mostDecades = 3 * math.Ln10

// addCurves lists what may be off about the curve of each part's LEDs.
func (d *uncertain) addCurves(s *side, pr *fault.Priors) {
	d.curve, d.kneeV = pr.Curve, pr.KneeV
	for i := range s.list {
		light := &s.p.Groups[s.list[i].group].Lights[s.list[i].light]
		if len(light.Series) == 0 {
			continue
		}
		for _, kind := range []FactorKind{SlopeFactor, KneeFactor} {
			key := FactorKey{kind, light.Series[0].Part}
			if _, ok := d.curves[key]; !ok {
				d.curves[key] = len(d.keys)
				d.keys, d.shared, d.params = append(d.keys, key), append(d.shared, 0), append(d.params, param{})
			}
		}
	}
}

// loadCurve adds what the curve of one branch's LEDs being another does to the draw;
// push is what a volt in the branch does to it, by voltage.
//
// A slope m that is off by a fraction s moves the voltage of each LED by s m ln(i/i0)
// at a current i, where i0 is the highest of its points. In strips and ready-made
// parts the plan gives no spread of the LEDs' own, for all of it is in the draw at
// rated voltage; away from that the resistor inside makes up for less of it:
// u (1 - i/i0) remains of a voltage that is off by u.
func (s *side) loadCurve(to *loading, d *uncertain, at int, l *law, amps, push []float64) {
	b := &s.list[at]
	light := &s.p.Groups[b.group].Lights[b.light]
	if l.kind != lawDiode || len(light.Series) == 0 {
		return
	}
	led := &light.Series[0]
	if len(led.Points) == 0 {
		return
	}
	n := len(amps)
	i0 := led.Points[len(led.Points)-1].Amps
	alive := float64(len(light.Series) - len(l.gone))
	slope := to.common[d.curves[FactorKey{SlopeFactor, led.Part}]*n:]
	knee := to.common[d.curves[FactorKey{KneeFactor, led.Part}]*n:]
	for k, i := range amps {
		if !(i > 0) {
			continue
		}
		log := math.Max(-mostDecades, math.Min(1, math.Log(i/i0)))
		slope[k] -= math.Sqrt(3) * push[k] * l.m * d.curve * log
		if led.Volts.HalfWidth == 0 {
			knee[k] -= math.Sqrt(3) * push[k] * alive * d.kneeV * (1 - math.Min(2, i/i0))
		}
	}
}

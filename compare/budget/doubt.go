package budget

import (
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/wiring"
)

// What the law of an LED may be at the most, for limits: with a high ideality and
// a high series resistance it draws more than the plan's points say wherever it
// works below them. Models published for circuit simulators go up to an ideality
// of 7.5 with next to no resistance, which falls by no more from a full to a
// hundredth of the current: 0.89 V against 0.95 V. A limit may be too wide by that;
// a judgement may not.
const (
	mostIdeality  = 4.0
	mostSeriesOhm = 30.0
	mostSeriesV   = 0.6 // large chips have less ohms
	earliestHold  = 0.5 // of the volts from which a regulator is said to hold
)

// loosen gives every LED of a setting the law that draws most below its service
// current, at which it keeps its voltage, and every regulator the earliest knee.
// The setting must have been solved at service voltage.
func (t *setting) loosen() {
	for gi := range t.w.Groups {
		for _, br := range t.w.Groups[gi].Branches {
			loosenBranch(t.w, gi, br)
		}
	}
}

func loosenBranch(w *wiring.Wired, gi int, br wiring.Branch) {
	light := w.Plan.Groups[gi].Lights[br.Light]
	net, amps := w.Net, w.Point.BranchA[br.ID]
	for k, led := range light.Series {
		i := amps
		if last := len(led.Points) - 1; last >= 0 && !(i > 1e-6) {
			i = led.Points[last].Amps // dark at service: where the part is stated
		}
		d := net.LED(br.ID, k).Diode
		series := math.Min(mostSeriesOhm, mostSeriesV/i)
		slope := mostIdeality * circuit.ThermalVolts(wiring.RoomC)
		x := circuit.FromDrop(d.VoltsAt(i)-d.ShiftV, i, slope, series)
		x.ShiftV = d.ShiftV
		net.SetLEDDiode(br.ID, k, x)
	}
	if light.Held() {
		r := light.Regulator
		net.SetBranchRegulator(br.ID, circuit.Regulator{Amps: r.Amps, HoldV: earliestHold * r.HoldVolts})
	}
}

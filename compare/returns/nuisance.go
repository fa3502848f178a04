package returns

import (
	"math"

	"sealworthy/instruments"
)

// Nuisances are the standard deviations of what nobody knows of a sweep
// against the one that was kept. Gain and offset are those of the second
// meter against the first, so that another bench after years is the usual case.
type Nuisances struct {
	GainRel float64 `json:"gain_rel"` // fraction of the draw
	OffsetA float64 `json:"offset_a"`
	TempK   float64 `json:"temp_k"` // K, of the model against then
	// ShiftK is by how much the model is known to be warmer than it was.
	ShiftK  float64 `json:"shift_k"`
	SetV    float64 `json:"set_v"`    // common to all voltages
	JackOhm float64 `json:"jack_ohm"` // of the plug, against then
	// Noise of each point: of its own.
	RepeatRel float64 `json:"repeat_rel"`
	FloorA    float64 `json:"floor_a"`
	ReadV     float64 `json:"read_v"`
	// NoiseBy is by how much the noise that is assumed of points counts.
	NoiseBy float64 `json:"noise_by"`
	// DriftRel is by how much each group may have aged on its own: a slow change
	// of a fraction of a per cent is no fault.
	DriftRel float64 `json:"drift_rel"`
	// DriftV is by how much the knee of each group may have moved on its own:
	// age, and its own warmth.
	DriftV float64 `json:"drift_v"`
	// AgedV is what the series resistance of each LED is expected to take more at service
	// voltage than then, by its years; AgeV how far that of all together may be off.
	AgedV float64 `json:"aged_v"`
	AgeV  float64 `json:"age_v"`
	// AgeMakeV is the same of all LEDs of one make, on top.
	AgeMakeV float64 `json:"age_make_v"`
	// ShapeRel is how far all these sensitivities may be off by themselves, as a
	// fraction: they are the plan's, and straight lines where the model bends.
	ShapeRel float64 `json:"shape_rel"`
	// DriftTemp is how far the temperature coefficient of a group's LEDs may be
	// off, a fraction; it counts by ShiftK.
	DriftTemp float64 `json:"drift_temp"`

	resistor *twice // nil: none was read both times
}

// Defaults: common practice, no source.
const (
	sameMeterRel  = 0.0005 // the same meter against itself, after years
	unknownMeter  = 0.005  // half-width
	offsetHalfA   = 10e-6
	unknownTempK  = 5.0 // half-width
	knownTempK    = 2.0 // half-width of two thermometers and the model's own warmth
	setHalfV      = 0.010
	plugOhm       = 0.1
	repeatRel     = 0.001
	repeatA       = 5e-6
	readBackV     = 0.002
	driftOfGroups = 0.0007
	driftOfKnees  = 0.005
	shapeRel      = 0.1
	// An accuracy holds for a year after calibration; between two meters lie years.
	pastDue   = math.Sqrt2
	tempcoRel = 0.3 // LEDs run from -1.5 to -4 mV/K
)

// DefaultNuisances are those of two sweeps of which nothing is known: another
// meter of 0.5 %, a room within 5 K, a set voltage within 10 mV.
func DefaultNuisances() Nuisances {
	return Nuisances{GainRel: unknownMeter / math.Sqrt(3), OffsetA: offsetHalfA / math.Sqrt(3),
		TempK: unknownTempK / math.Sqrt(3), SetV: setHalfV / math.Sqrt(3), JackOhm: plugOhm,
		RepeatRel: repeatRel, FloorA: repeatA, ReadV: readBackV, NoiseBy: 1}
}

// nuisancesOf takes them from the two benches: accuracies of both meters,
// where they differ, and both rooms, where they are known.
func nuisancesOf(s *Signature, r *Return) Nuisances {
	n := DefaultNuisances()
	n.DriftRel, n.DriftV, n.DriftTemp, n.ShapeRel = driftOfGroups, driftOfKnees, tempcoRel, shapeRel
	n = n.after(yearsBetween(s.TakenAt, r.At))
	then, okThen := ammeterOf(s.Instruments)
	now, okNow := ammeterOf(r.Instruments)
	switch {
	case okThen && okNow && then.Identity != "" && then.Identity == now.Identity:
		n.GainRel = sameMeterRel
	case okThen && okNow:
		a, oa := accuracyOf(then)
		b, ob := accuracyOf(now)
		if oa && ob {
			n.GainRel = pastDue * math.Hypot(a.OfReading, b.OfReading) / math.Sqrt(3)
			n.OffsetA = math.Hypot(a.Floor, b.Floor) / math.Sqrt(3)
		}
	}
	volts := func(m map[string]instruments.Description) float64 {
		if d, ok := m[supplyName]; ok && d.SetAccuracy != (instruments.Accuracy{}) {
			return d.SetAccuracy.HalfWidth(10)
		}
		return setHalfV
	}
	n.SetV = math.Hypot(volts(s.Instruments), volts(r.Instruments)) / math.Sqrt(3)
	if s.AmbientC != nil && r.AmbientC != nil {
		n.ShiftK = *r.AmbientC - *s.AmbientC
		// The coefficient itself is off by much the same in all LEDs.
		n.TempK = math.Hypot(knownTempK, tempcoRel*n.ShiftK) / math.Sqrt(3)
	}
	return n
}

// ammeterOf gives the instrument that read the draw.
func ammeterOf(m map[string]instruments.Description) (instruments.Description, bool) {
	if d, ok := m[meterName]; ok {
		return d, true
	}
	d, ok := m[supplyName]
	return d, ok
}

// accuracyOf is that of the largest current range but those far above a model's draw.
func accuracyOf(d instruments.Description) (instruments.Accuracy, bool) {
	best, ok := instruments.Range{}, false
	for _, r := range d.Ranges {
		if r.Quantity != instruments.Current {
			continue
		}
		if !ok || (r.Max > best.Max && best.Max < 0.6) {
			best, ok = r, true
		}
	}
	return best.Accuracy, ok
}

// names under which the two instruments are recorded.
const (
	meterName  = "meter"
	supplyName = "supply"
)

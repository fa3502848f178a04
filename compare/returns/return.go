package returns

import (
	"time"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/instruments"
)

// Return is what was measured of a model that came back, at its jack.
type Return struct {
	At time.Time `json:"at"`
	// a simulated bench read it
	Simulated bool     `json:"simulated,omitempty"`
	AmbientC  *float64 `json:"ambient_c,omitempty"`
	WarmS     float64  `json:"warm_s"`
	// by Reading.Instrument
	Instruments map[string]instruments.Description `json:"instruments,omitempty"`

	Pace    string         `json:"pace"`            // as Whole.Pace; empty: that of power-on
	Sweep   Curve          `json:"sweep"`           // the draw of the whole model over voltage
	DwellS  float64        `json:"dwell_s"`         // of each mean
	Trace   []blink.Sample `json:"trace,omitempty"` // A at Volts; times from its first reading
	WindowS float64        `json:"window_s,omitempty"`
	Volts   float64        `json:"volts,omitempty"` // at the model during the trace

	// Tripped says why the measurement was stopped; TripVolts at which voltage.
	Tripped   string  `json:"tripped,omitempty"`
	TripVolts float64 `json:"trip_volts,omitempty"`

	Adapter *Adapter `json:"adapter,omitempty"` // nil: not asked about
	// Resistor is the one of the signature, read again in the model's place; nil: it wasn't.
	Resistor *Resistor `json:"resistor,omitempty"`
	Seen     []Seen    `json:"seen,omitempty"` // of its lights, by the maker and by the client
}

// Options of a diagnosis. The zero Options are those of a model that came back.
type Options struct {
	Priors    *fault.ReturnPriors // nil: the defaults
	Nuisances *Nuisances          // nil: those of the two benches
	Eye       *look.Rates         // how far a look is believed; nil: the defaults
}

// Verdict is what is said of a return as a whole. The zero Verdict is none.
type Verdict string

// The verdicts on a return.
const (
	AsItLeft  Verdict = "as it left"
	OnePlace  Verdict = "one place named"
	OneOf     Verdict = "one of several"
	CantTell  Verdict = "can't tell"
	NotListed Verdict = "unknown fault"
	ShortedUp Verdict = "stopped by the limit"
)

// When a diagnosis speaks.
const (
	alarmBelow = 0.05 // probability of "nothing": below it something is wrong
	nameAbove  = 0.90 // of one place
	setCovers  = 0.95 // of the set listed otherwise
)

// ClassP is one class of fault at a place.
type ClassP struct {
	Class fault.Kind `json:"class"`           // what kind of fault
	Param float64    `json:"param,omitempty"` // the likeliest
	P     float64    `json:"p"`               // 0 to 1
}

// Cause is one place with what may be wrong there, or one of the causes
// without a place.
type Cause struct {
	Place string `json:"place"` // as Hypothesis: group, board or joint; or the class
	// a place with a second fault, where two are meant; empty: one
	Second  string   `json:"second,omitempty"`
	P       float64  `json:"p"`       // of all Classes together, 0 to 1
	Classes []ClassP `json:"classes"` // what may be wrong there, the likeliest first
	Text    string   `json:"text"`    // in plain words, with where to look
	// Closure is what hides it; empty: nothing has to be opened.
	Closure string `json:"closure,omitempty"`
	// DeltaA is what the likeliest class changes, by voltage of the sweep.
	DeltaA []float64 `json:"delta_a,omitempty"`
}

// Best is the likeliest class at a place.
func (c Cause) Best() ClassP {
	if len(c.Classes) == 0 {
		return ClassP{}
	}
	return c.Classes[0]
}

// BlinkerState is what the trace says of one blinking group.
type BlinkerState struct {
	Group   string      `json:"group"`
	State   blink.State `json:"state"` // running, not running, can't tell
	StepA   float64     `json:"step_a"`
	StepU   float64     `json:"step_u"`
	BuiltA  float64     `json:"built_a"`
	PeriodS float64     `json:"period_s,omitempty"`
	Why     string      `json:"why"` // it can't be told, in plain words
}

// Fitted is one thing that nobody knew and that was fitted along.
type Fitted struct {
	What   string  `json:"what"`   // gain, offset, temperature, set voltage, jack
	Value  float64 `json:"value"`  // in Unit
	Unit   string  `json:"unit"`   // V, A, K, ohm; 1: a fraction
	Sigmas float64 `json:"sigmas"` // of what was to be expected
}

// Diagnosis is what a return tells.
type Diagnosis struct {
	Build       string    `json:"build"`
	SignatureAt time.Time `json:"signature_at"` // when that was taken that it is set against
	At          time.Time `json:"at"`
	// the return or the signature is of a simulated bench
	Simulated bool `json:"simulated,omitempty"`

	Verdict  Verdict `json:"verdict"`
	Alarm    bool    `json:"alarm"`     // "nothing wrong" is less likely than 0.05
	PNothing float64 `json:"p_nothing"` // probability of "nothing wrong", 0 to 1
	PUnknown float64 `json:"p_unknown"` // of something that is not in the list of faults
	PTwo     float64 `json:"p_two"`     // of two faults at once
	// PSlight is the probability of what nobody sees: a joint, somewhere, that takes
	// less than 5 % of what hangs on it. It counts as being as it left.
	PSlight float64 `json:"p_slight"`
	// Named is the one place that is likelier than 0.9; nil: Set holds those
	// that together reach 0.95.
	Named *Cause  `json:"named,omitempty"`
	Rests Rests   `json:"rests,omitempty"` // what Named rests on; empty: nothing is named
	Set   []Cause `json:"set"`
	// Ranked are the likeliest places whatever is said of them.
	Ranked   []Cause        `json:"ranked"`
	Blinkers []BlinkerState `json:"blinkers,omitempty"` // what the trace says of each
	Fitted   []Fitted       `json:"fitted,omitempty"`
	Adapter  *AdapterSays   `json:"adapter,omitempty"` // nil: it wasn't asked about
	Next     []NextReading  `json:"next,omitempty"`    // the most telling first
	Twins    []Twin         `json:"twins,omitempty"`   // among the places of Set
	Notes    []string       `json:"notes,omitempty"`   // in plain words, for a person
	Drops    []Drop         `json:"drops,omitempty"`   // seen in the trace: intermittent
	Seen     []Seen         `json:"seen,omitempty"`    // of the lights, as it was weighed

	// The sweep as it was compared: HealthyA is the signature with what was
	// fitted along; Misfit is the chi-square per point of the best explanation.
	Volts     []float64 `json:"volts,omitempty"`
	MeasuredA []float64 `json:"measured_a,omitempty"`
	HealthyA  []float64 `json:"healthy_a,omitempty"`
	NoiseA    []float64 `json:"noise_a,omitempty"`
	Misfit    float64   `json:"misfit,omitempty"`
}

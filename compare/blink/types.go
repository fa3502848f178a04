package blink

// Sample is one reading: the mean current over a window that ends at AtS.
type Sample struct {
	AtS  float64 // s, end of the window, on any one clock
	Amps float64 // A
}

// Known is what is known of the meter and of the search.
type Known struct {
	WindowS float64 // s, averaging time of one reading; 0: instantaneous
	// standard uncertainty of WindowS, fraction; 0: known well. It enters the level of flashes shorter than the window
	WindowRelU float64
	StampStdS  float64 // s, standard deviation of the time stamps; 0: 5 ms (USB serial may need 20 ms)
	NoiseA     float64 // A, standard deviation of one reading, resolution included; 0: taken from the readings
	MinHz      float64 // slowest pace looked for; 0: 0.25 Hz. A 20 s light needs 0.05 Hz
	MaxHz      float64 // fastest; 0: the lesser of 3.5 Hz and 0.85 of the reading rate
}

// Verdict is what a free fit says of a trace. The zero Verdict is no answer.
type Verdict int

// The verdicts of a free fit.
const (
	NotJudged Verdict = iota
	Periodic          // one pace fits and no other does
	Steady            // no more change than noise
	Ambiguous         // several paces fit: all are listed as candidates
	NoFit             // it changes, but no pace fits: flicker, a step, two blinkers
	TooShort          // fewer than three periods, or too few usable readings
)

// String returns the plain word for the verdict.
func (v Verdict) String() string {
	switch v {
	case Periodic:
		return "periodic"
	case Steady:
		return "steady"
	case Ambiguous:
		return "ambiguous"
	case NoFit:
		return "no-fit"
	case TooShort:
		return "too-short"
	}
	return "not judged"
}

// Shape is how the current runs within one period.
type Shape int

// The shapes a free fit knows.
const (
	NoShape Shape = iota
	Flashes       // one or more equal flashes, then a pause
	Sine          // fades in and out as a sine
	Ramp          // fades in and out along straight lines
)

// String returns the plain word for the shape.
func (s Shape) String() string {
	switch s {
	case Flashes:
		return "flashes"
	case Sine:
		return "sine"
	case Ramp:
		return "ramp"
	}
	return "no shape"
}

// Candidate is one pace that fits a trace.
type Candidate struct {
	PeriodS float64 // s
	Shape   Shape
	Count   int     // flashes in one period; 0 for a fade
	Duty    float64 // fraction of the period lit
	Misfit  float64 // -2 ln likelihood above the best candidate's
	Chi     float64 // chi-square per degree of freedom
}

// Fit is the answer of a free fit. All values are finite.
type Fit struct {
	Verdict Verdict
	Why     string // one plain sentence

	Shape    Shape
	Count    int // flashes in one period; 1 for an ordinary blinker, 0 for a fade
	PeriodS  float64
	PeriodU  float64
	Duty     float64 // fraction of the period lit, all flashes together; a ramp's rising share; 0 for a sine
	DutyU    float64
	SpacingS float64 // s, from the start of one flash to the next within a period; 0 for a single flash
	PhaseS   float64 // s, start of the first flash at or before the first reading's end
	PhaseU   float64
	OnA      float64 // A, lit; the peak of a fade
	OnU      float64
	OffA     float64 // A, dark; the trough of a fade
	OffU     float64

	MeanA   float64 // A over whole periods; always meant to be shown
	MeanU   float64
	ChargeC float64 // C per period above the dark level
	ChargeU float64 // C, standard uncertainty

	Chi      float64 // chi-square per degree of freedom
	Cycles   float64 // periods covered by the readings
	Readings int     // readings used
	// duty may be shown: half of its 95 % interval is below 0.06, that of the lit level below 10 %
	DutyShown    bool
	LevelsShown  bool // on and off level may be shown
	Extrapolated bool // a flash is shorter than the window: no reading was fully lit
	ShapeUnsure  bool // another shape of the same period fits as well
	Candidates   []Candidate
}

// Pattern is an expected pace.
type Pattern struct {
	PeriodS float64   // s
	Duty    float64   // fraction of the period lit; not used when Flashes is given
	Flashes []float64 // s, alternating lit and dark times that add up to PeriodS
}

// Tolerance is how far a healthy light may be from its pattern.
type Tolerance struct {
	PeriodRel float64 // half-width, fraction of the period; 0: 0.05
	DutyAbs   float64 // half-width, absolute; 0: 0.05
	// The levels that would be read when lit and when dark, where they are
	// known: they tell steady lit from steady dark. OnA 0: not known.
	OnA, OnU   float64 // A
	OffA, OffU float64 // A
}

// Agreement is what is said of a trace against an expected pace. The zero
// Agreement is no answer.
type Agreement int

// The answers of [Match] and [Levels].
const (
	NotCompared Agreement = iota
	Agrees
	OffPace
	SteadyLit
	SteadyDark
	CantTell
)

// String returns the plain words for the agreement.
func (a Agreement) String() string {
	switch a {
	case Agrees:
		return "agrees"
	case OffPace:
		return "off pace"
	case SteadyLit:
		return "steady lit"
	case SteadyDark:
		return "steady dark"
	case CantTell:
		return "can't tell"
	}
	return "not compared"
}

// Matched is a trace judged against an expected pace.
type Matched struct {
	Agreement Agreement
	Why       string // one plain sentence
	Steady    bool   // it doesn't blink, whether or not lit can be told from dark

	PeriodS, PeriodU float64 // s, measured
	Duty, DutyU      float64 // the part of a period in which it is lit, 0 to 1
	OnA, OnU         float64 // A, lit
	OffA, OffU       float64 // A, dark
	MeanA, MeanU     float64 // A over whole periods
	LevelsShown      bool    // on and off level may be shown
	WindowS          float64 // s, the window that had to be assumed because the one stated doesn't fit; else 0
	DutyFromPlan     bool    // the levels rest on the expected duty
	Extrapolated     bool    // no reading was fully lit
	Chi              float64 // chi-square per degree of freedom
	Cycles           float64 // periods covered by the readings
}

// Run is how two outputs of one board run.
type Run int

// The ways two outputs run.
const (
	NoRun     Run = iota
	Alternate     // in turn: the second is half a period behind the first
	Together      // both lit at once
	Free          // unrelated
)

// Outputs is what is known of a board with several outputs.
type Outputs struct {
	Run       Run
	Pattern   Pattern // of one output
	Tolerance Tolerance
	// BaseA is the draw with every output dark (the board's own). Outputs that
	// alternate without a dark moment can only be told apart when it's known.
	BaseA, BaseU float64
	BaseKnown    bool // BaseA is known
	// ExpectedA are the draws of the outputs, where known; they say which of
	// two alternating outputs is which. Their number is that of the outputs.
	ExpectedA []float64
}

// OutputLevel is the current one output adds while it is lit.
type OutputLevel struct {
	Amps, U   float64 // A
	Agreement Agreement
}

// Separated is a trace taken apart into the outputs of a board.
type Separated struct {
	Agreement    Agreement
	Why          string // one plain sentence
	Apart        bool   // false: the outputs can't be separated
	BaseA, BaseU float64
	BaseShown    bool          // false: the base isn't determined by this trace
	Outputs      []OutputLevel // by their numbers
	// Else are other assignments of the levels to the outputs that fit as well.
	Else [][]OutputLevel
	// OddOne: one output stays lit or dark, which of them can't be told; Odd are the
	// ways that fit. Their caller knows the draws better than drawSpread does.
	OddOne       Agreement
	Odd          [][]OutputLevel // ways that fit
	PeriodS      float64
	PeriodU      float64
	Duty, DutyU  float64 // of each output
	SumA, SumU   float64 // of all outputs lit, above the base; outputs that run together give this alone
	MeanA, MeanU float64
	Chi          float64 // chi-square per degree of freedom
}

// MeasuredWindow is a meter's averaging time, found from a slow blink.
type MeasuredWindow struct {
	Found      bool    // the rest holds
	Why        string  // it wasn't, in plain words
	WindowS, U float64 // s
	Fit        Fit
}
